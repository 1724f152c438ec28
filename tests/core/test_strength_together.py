"""Strength of joints of several tenons, and of collars: what sums, and the twist about the middle.

Levers are held against integrals over polygons, sums against sizes read off the joints.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.fitting.strength import JointSizes, joint_strength
from borewright.core.fitting.strength_together import mean_lever, middle_of, strength_together
from borewright.core.jointing.collar_corners import nick_angles
from borewright.core.recording.report import job_document
from borewright.core.recording.strength_record import strength_notes, strength_of, strength_rows
from borewright.core.values import CHORD_TOLERANCE, Joint, Plan

from tests.collared import PLACES, SEAM, Place, collared
from tests.core.test_report import SETTINGS, job, record
from tests.core.test_strength import a_tube
from tests.grouped import GroupedPart, pinned, ringed, round_section, twin_section

PINS = pinned(round_section(60.0), 25.0, seams=(100.0,))
RINGS = ringed(twin_section((9.0, 8.0), 24.0, 4.5, "oval"), 10.0, seams=(100.0,))


def lever_by_polygon(radius: float, off: float, sides: int = 20000) -> float:
    """Mean of |r x t| over a round outline, side by side."""
    turns = np.linspace(0.0, 2.0 * math.pi, sides + 1)
    corners = np.stack([off + radius * np.cos(turns), radius * np.sin(turns)], axis=1)
    sides_of = np.diff(corners, axis=0)
    middles = (corners[1:] + corners[:-1]) / 2.0
    moments = np.abs(middles[:, 0] * sides_of[:, 1] - middles[:, 1] * sides_of[:, 0])
    return float(moments.sum() / np.linalg.norm(sides_of, axis=1).sum())


@pytest.mark.parametrize(
    ("radius", "off"), [(5.0, 0.0), (5.0, 3.0), (5.0, 5.0), (5.0, 5.1), (6.0, 18.0), (3.0, 90.0)]
)
def test_lever_is_the_integral_around_the_outline(radius: float, off: float) -> None:
    assert mean_lever(radius, off) == pytest.approx(lever_by_polygon(radius, off), rel=1e-6)


def test_a_slim_tenon_far_out_has_two_thirds_of_its_distance_as_lever() -> None:
    # mean of |cos| is 2 / pi
    assert mean_lever(0.001, 50.0) == pytest.approx(100.0 / math.pi, rel=1e-6)


def test_one_tenon_alone_is_itself() -> None:
    alone = joint_strength(a_tube())
    whole = strength_together([alone], [(3.0, -4.0)])
    for name in ("design_load", "design_torque", "tilt", "layers_part", "glue_breaks", "first"):
        assert getattr(whole, name) == getattr(alone, name)
    assert whole.root_wall == alone.sizes.root_wall


def test_three_like_pins_hold_three_times_as_much() -> None:
    pin = joint_strength(replace(a_tube(diameter=10.0), bore_radius=0.0))
    centres = [(20.0 * math.cos(turn), 20.0 * math.sin(turn)) for turn in (0.0, 2.1, 4.2)]
    whole = strength_together([pin] * 3, centres)
    assert whole.design_load == pytest.approx(3.0 * pin.design_load)
    assert whole.layers_part == pytest.approx(tuple(3.0 * load for load in pin.layers_part))
    assert whole.glue_volume == pytest.approx(3.0 * pin.glue_volume)
    assert whole.peak_over_mean == pin.peak_over_mean
    # each about 20 mm out: (2 / pi) (5 asin(1/4) + sqrt(375)) = 13.13 mm of lever each
    assert whole.design_torque == pytest.approx(13.13 * whole.design_load, rel=2e-3)


def strength_in(part: GroupedPart) -> tuple[Joint, list[JointSizes]]:
    (joint,) = part.joints
    found = strength_of(joint, part.survey, SETTINGS)
    assert found is not None
    return joint, [one.sizes for one in found.parts]


@pytest.mark.parametrize("part", [PINS, RINGS], ids=["pins", "rings"])
def test_pull_glue_and_layers_are_of_all_tenons(part: GroupedPart) -> None:
    joint, sizes = strength_in(part)
    found = strength_of(joint, part.survey, SETTINGS)
    assert found is not None
    assert found.glue_area == pytest.approx(joint.glue_area)
    assert found.design_load == pytest.approx(1.0 * joint.glue_area)  # at 1 MPa
    assert found.glue_volume == pytest.approx(SETTINGS.clearance * joint.glue_area)
    weakest = sum(min(size.root_area, size.socket_area) for size in sizes)
    assert found.layers_part == pytest.approx((35.0 * weakest, 45.0 * weakest))
    roots = [
        math.pi * (tenon.tenon_radius**2 - tenon.bore_radius_at_tip**2) for tenon in joint.tenons
    ]
    assert found.root_area == pytest.approx(sum(roots))
    row = strength_rows([found], SETTINGS)[1]
    assert row[5] == f"{joint.glue_area:.0f}"
    assert row[4] == f"{SETTINGS.clearance * joint.glue_area:.0f}"


@pytest.mark.parametrize("part", [PINS, RINGS], ids=["pins", "rings"])
def test_no_wall_around_sockets_counts_twice_nor_what_is_not_there(part: GroupedPart) -> None:
    joint, sizes = strength_in(part)
    for one, tenon in enumerate(joint.tenons):
        for other in range(one):
            between = math.dist(tenon.centres[0], joint.tenons[other].centres[0])
            taken = sizes[one].socket_outer_radius + sizes[other].socket_outer_radius
            assert taken <= between + 1e-9
    bores = sum(math.pi * bore.radius_at_zero**2 for bore in part.section.bores)
    whole = part.section.outline.area() - bores
    assert sum(size.socket_area + size.root_area for size in sizes) < whole


def test_a_twist_of_pins_is_about_the_middle_between_them() -> None:
    joint, sizes = strength_in(PINS)
    centres = [tenon.centres[0] for tenon in joint.tenons]
    x, y = middle_of(sizes, centres)
    area = sum(size.glue_area for size in sizes)
    moments = [size.glue_area * at[0] for size, at in zip(sizes, centres, strict=True)]
    assert area * x == pytest.approx(sum(moments))
    found = strength_of(joint, PINS.survey, SETTINGS)
    assert found is not None
    by_sides = sum(
        size.glue_area * lever_by_polygon(size.tenon_radius, math.dist((x, y), centre))
        for size, centre in zip(sizes, centres, strict=True)
    )
    assert found.design_torque == pytest.approx(by_sides, rel=1e-6)
    assert found.design_torque > sum(part.design_torque for part in found.parts)


def test_notes_say_what_is_meant_of_several_tenons_and_of_collars() -> None:
    (joint,) = PINS.joints
    found = strength_of(joint, PINS.survey, SETTINGS)
    assert found is not None
    told = " ".join(strength_notes([joint], [found], SETTINGS))
    assert "of several tenons: layers, pull and glue are of all together" in told
    dry = " ".join(strength_notes([joint], [found], replace(SETTINGS, fit="push")))
    assert "of several tenons" in dry
    assert "glue" not in dry
    plain = record().outcome
    alone = strength_of(plan_joint(plain.plan), plain.survey, SETTINGS)
    assert alone is not None
    told = " ".join(strength_notes(plain.plan.joints, [alone], SETTINGS))
    assert "several" not in told
    assert "collar" not in told


def plan_joint(plan: Plan) -> Joint:
    (joint,) = plan.joints
    return joint


@pytest.mark.parametrize("place", PLACES)
def test_a_collar_has_one_glue_area_and_tells_its_nicks(place: Place) -> None:
    part, made = record(), collared("wall 2.0 around a taper of 30", place)
    kind = "collar" if place == "outside" else "sleeve"
    joint = Joint(kind, SEAM, (), made.collar)
    plan = replace(part.outcome.plan, joints=(joint,))
    part = replace(part, outcome=replace(part.outcome, plan=plan))
    document: object = job_document(job([part]))
    told = document["parts"][0]["joints"][0]  # type: ignore[index]
    assert told["witness_marks"] == len(nick_angles(made.collar, SEAM, 1)) == 1
    gap = 0.0 if place == "outside" else made.collar.radial_clearance + CHORD_TOLERANCE
    surface = made.collar.outer if place == "outside" else made.collar.inner
    area = 2.0 * math.pi * (surface.radius_at(SEAM) - gap) * made.collar.reach
    assert told["tenon_diameter"] == pytest.approx(area / (math.pi * made.collar.reach))
    assert told["glue_area"] == pytest.approx(area)
    assert told["strength"][0]["glue_area"] == told["glue_area"]
    assert told["strength_together"]["glue_area"] == told["glue_area"]
