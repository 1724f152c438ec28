"""Joints around two bores, measured on sampled points of their outlines, roof and ridge."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.errors import NoPlan, WallTooThin
from borewright.core.jointing.hull import hull_outline, hull_parameter, outline_length
from borewright.core.jointing.joint_design import (
    CutPlace,
    shortest_engagement,
    tenon_on,
    usual_engagement,
)
from borewright.core.jointing.joint_line import JointLine
from borewright.core.jointing.wall_run import wall_runs
from borewright.core.planning.cut_plan import joint_key_angle, plan_cuts
from borewright.core.planning.seam_stretches import SeamField
from borewright.core.values import RoundSurface, Settings, SideHole, Survey, Tenon, WallStretch
from numpy.typing import NDArray

from tests.surveys import a_walled_survey

FloatArray = NDArray[np.float64]
BED = (180.0, 180.0, 180.0)
LENGTH = 300.0
LEFT, RIGHT = (-7.75, 0.0), (7.75, 0.0)
LEAST_WALL = 0.8

Ends = tuple[float, float]


def two_bores(first: Ends, second: Ends, wall: Ends = (3.5, 3.5), **rest: object) -> Survey:
    """Bores of these radii at the ends, 15.5 apart, in a wall of these widths at the ends."""
    bores = [
        RoundSurface(low, (high - low) / LENGTH, 0.0, LENGTH, offset)
        for (low, high), offset in ((first, RIGHT), (second, LEFT))
    ]
    low, high = first[0] + wall[0], first[1] + wall[1]
    outer = RoundSurface(low, (high - low) / LENGTH, 0.0, LENGTH, RIGHT)
    walls = [WallStretch((0, 1), bores[0], outer, 0.0, LENGTH)]
    return a_walled_survey(bores, walls, LENGTH, **rest)


PARTS = {
    "equal": two_bores((5.5, 5.5), (5.5, 5.5)),
    "unequal": two_bores((4.0, 4.0), (6.5, 6.5)),
    "second narrower": two_bores((6.5, 6.5), (4.0, 4.0)),
    "equal tapers": two_bores((6.0, 4.0), (6.0, 4.0), (3.0, 6.0)),
    "tapers of two sizes": two_bores((6.0, 5.0), (3.5, 5.5), (4.5, 3.5)),
    "second widens, wall to the limit": two_bores((6.0, 6.0), (4.0, 9.0), (3.0, 2.0)),
    "second narrows, wall to the limit": two_bores((6.0, 6.0), (9.0, 4.0), (2.0, 3.0)),
    "tapers that cross": two_bores((6.0, 4.0), (4.0, 6.0), (3.6, 4.6)),
}
STRAIGHT = ("equal", "unequal", "second narrower")


def joints_of(survey: Survey, engagement: float = 15.0) -> list[Tenon]:
    """Joints at many stations where they can be made, some of them at the very limit."""
    field = SeamField(survey, Settings(BED, engagement=engagement, joint="tenon"))
    found = field.stretches(None)
    line = field.line(0, engagement)
    assert isinstance(line, JointLine)
    return [
        tenon_on(line, float(station), CutPlace(0, 1, 0.0))
        for stretch in found
        for station in np.linspace(stretch.low, stretch.high, 9)
    ]


def surfaces(survey: Survey, station: float) -> tuple[FloatArray, FloatArray, float]:
    """Centres and radii of the bores at a station, and the width of the wall around them."""
    radii = np.array([bore.radius_at(station) for bore in survey.bores])
    outer = survey.walls[0].outer.radius_at(station)
    return np.array([LEFT, RIGHT])[::-1], radii, outer


@pytest.mark.parametrize("name", PARTS)
def test_tenon_and_socket_have_the_least_wall_all_around_and_all_the_way_up(name: str) -> None:
    survey = PARTS[name]
    joints = joints_of(survey)
    assert joints
    for tenon in joints:
        discs = tenon.tenon_radius + np.array(tenon.swells)
        plain, _ = hull_outline(np.array(tenon.centres), discs, 0.0, 0.2)
        out = tenon.radial_clearance + tenon.relief
        rib, _ = hull_outline(np.array(tenon.centres), discs, out, 0.2)
        for station in np.linspace(tenon.station, tenon.tip, 7).tolist():
            centres, radii, outer = surfaces(survey, station)
            inside = np.hypot(*(plain[:, None] - centres).transpose(2, 0, 1)) - radii
            assert inside.min() >= LEAST_WALL
            assert outer - hull_parameter(rib, centres, radii).max() >= LEAST_WALL


def web_points(survey: Survey, tenon: Tenon, heights: FloatArray, points: FloatArray) -> FloatArray:
    """Which of the heights over points are in the wall: outside of the bores' walls there."""
    reach = np.hypot(*(points[:, None] - np.array(tenon.centres)).transpose(2, 0, 1))
    radii = np.array([bore.radii_at(heights) for bore in survey.bores]).T
    kept: FloatArray = heights[(reach >= radii).all(axis=1)]
    return kept


@pytest.mark.parametrize("name", PARTS)
def test_roof_ends_at_the_top_of_its_zone_and_tenon_at_the_engagement(name: str) -> None:
    survey = PARTS[name]
    fine = np.column_stack([np.linspace(-8.0, 8.0, 4001), np.zeros(4001)])
    spread = np.random.default_rng(0).uniform(-9.0, 9.0, (20_000, 2))
    points = np.vstack([fine, spread])
    for tenon in joints_of(survey)[::3]:
        centres, swells = np.array(tenon.centres), np.array(tenon.swells)
        u = hull_parameter(points, centres, swells)
        inside = points[u < tenon.tenon_radius], u[u < tenon.tenon_radius]
        roof = np.array([tenon.roof_height_at(one) for one in inside[1]])
        tops = np.array([tenon.tip_height_at(one) for one in inside[1]])
        ridge = web_points(survey, tenon, roof, inside[0]).max()
        crest = web_points(survey, tenon, tops, inside[0]).max()
        assert ridge <= tenon.roof_top + 1e-9
        assert crest <= tenon.highest + 1e-9
        # sampled every 0.004 mm along the line between the centres; on tapers of two
        # sizes the ridge is told as over the least of the radii of the whole part
        off = 0.01 if name in STRAIGHT or name == "equal tapers" else 1.0
        assert ridge >= tenon.roof_top - off
        assert crest >= tenon.highest - off


def test_ridge_of_equal_bores_lies_a_bore_radius_over_the_tip() -> None:
    for tenon in joints_of(PARTS["equal"]):
        assert tenon.crest == pytest.approx(5.5)
        assert tenon.tip == pytest.approx(tenon.station + 15.0 - 5.5)
        # land 0.8 and 0.2 of gap over the ridge
        assert tenon.roof_top == pytest.approx(tenon.station + 16.0)
        assert tenon.centres == (RIGHT, LEFT)
        assert (tenon.bores, tenon.swells) == ((0, 1), (0.0, 0.0))


def test_glue_area_is_the_outline_times_the_parallel_length() -> None:
    for name in ("equal", "unequal"):
        for tenon in joints_of(PARTS[name])[:3]:
            discs = tenon.tenon_radius + np.array(tenon.swells)
            length = outline_length(np.array(tenon.centres), discs, 0.0)
            assert tenon.glue_area == pytest.approx(length * tenon.parallel_length)


# --- how thick a wall ------------------------------------------------------------------


def line_of(survey: Survey, engagement: float = 15.0) -> JointLine:
    return JointLine(wall_runs(survey)[0], engagement, 0.15, LEAST_WALL)


def test_a_thick_wall_has_the_joint_in_its_middle_and_a_thin_one_farther_in() -> None:
    # rib 0.5, socket and tenon 0.82 each, clearance 0.15: 2.29 at the least, in mid wall 2.79
    for width, out in ((3.5, 1.675), (2.79, 1.32), (2.5, 1.03), (2.29, 0.82)):
        survey = two_bores((5.5, 5.5), (5.5, 5.5), (width + 1e-9, width + 1e-9))
        (tenon, *_) = joints_of(survey)
        assert tenon.tenon_radius == pytest.approx(5.5 + out)
        assert [key.relief for key in tenon.keys] == [0.5, 0.5]
    assert joints_of(two_bores((5.5, 5.5), (5.5, 5.5), (2.289, 2.289))) == []


def test_a_wall_too_thin_for_a_rib_is_refused_with_the_wall_around_both_bores() -> None:
    survey = two_bores((5.5, 5.5), (5.5, 5.5), (2.2, 2.2))
    with pytest.raises(WallTooThin) as caught:
        plan_cuts(survey, Settings(BED))
    assert "wall around both bores 2.20 mm" in caught.value.found
    assert "2.29 mm of wall around both bores" in caught.value.needed
    assert "0.50 mm for a rib" in caught.value.needed


def test_an_engagement_too_short_for_the_ridge_is_refused_with_one_that_would_do() -> None:
    # ridge 5.5, cone 1.675 - 0.8, parallel 2
    survey = PARTS["equal"]
    with pytest.raises(WallTooThin, match="ridge between both bores") as caught:
        plan_cuts(survey, Settings(BED, engagement=8.0))
    assert "--engagement 8.5" in caught.value.remedy
    assert plan_cuts(survey, Settings(BED, engagement=8.5)).cuts


# --- engagement, key, words ------------------------------------------------------------


def test_engagement_goes_by_the_long_way_across_the_joint() -> None:
    # mid-wall radius 5.5 + 1.75 at both ends, and 15.5 between the centres
    survey = PARTS["equal"]
    across = 2.0 * 7.25 + 15.5
    (tenon,) = plan_cuts(survey, Settings((180.0, 180.0, 200.0))).joints
    assert tenon.engagement == usual_engagement(across) == 15.0
    # 300 in 155.5 leaves 11 for the tenon
    (short,) = plan_cuts(survey, Settings((180.0, 180.0, 155.5))).joints
    assert short.engagement == 11.0
    assert shortest_engagement(across) == 10.5


def test_pieces_are_as_high_as_the_ridge() -> None:
    plan = plan_cuts(PARTS["equal"], Settings((180.0, 180.0, 155.5), engagement=11.0))
    (tenon,) = plan.joints
    assert tenon.highest == pytest.approx(155.5)
    assert "155.50 and the piece above 155.50" in plan.cuts[0].why
    assert "a tenon in the wall around both bores, 3.50 mm of it" in plan.cuts[0].why


def hole(angle_deg: float, station: float = 150.0) -> SideHole:
    return SideHole(station, math.radians(angle_deg), 6.0, 6.0, station - 3.0, station + 3.0)


@pytest.mark.parametrize(
    ("angles_deg", "key_deg"),
    [([90.0, 90.0], -90.0), ([-70.0, -110.0], 90.0), ([10.0], -90.0), ([-10.0], 90.0)],
)
def test_key_is_on_the_flank_that_the_holes_are_off(
    angles_deg: list[float], key_deg: float
) -> None:
    run = wall_runs(PARTS["equal"])[0]
    holes = tuple(hole(angle) for angle in angles_deg)
    assert math.degrees(joint_key_angle(holes, run, 150.0)) == pytest.approx(key_deg)


def test_key_is_square_to_the_line_between_bores_that_lie_askew() -> None:
    bores = [RoundSurface(5.0, 0.0, 0.0, LENGTH, at) for at in ((3.0, 4.0), (-6.0, -8.0))]
    outer = RoundSurface(8.5, 0.0, 0.0, LENGTH, (3.0, 4.0))
    walls = [WallStretch((0, 1), bores[0], outer, 0.0, LENGTH)]
    (run,) = wall_runs(a_walled_survey(bores, walls, LENGTH))
    angle = joint_key_angle((), run, 0.0)
    assert 3.0 * math.cos(angle) + 4.0 * math.sin(angle) == pytest.approx(0.0, abs=1e-9)
    assert -math.pi < angle <= math.pi


def test_a_hole_into_either_bore_keeps_joints_off() -> None:
    holes = (hole(90.0, 140.0), SideHole(170.0, 1.5, 6.0, 6.0, 167.0, 173.0, bore=1))
    survey = two_bores((5.5, 5.5), (5.5, 5.5), side_holes=holes)
    plan = plan_cuts(survey, Settings((180.0, 180.0, 200.0), engagement=15.0))
    for joint in plan.joints:
        for one in holes:
            assert max(one.low - joint.zone[1], joint.station - one.high) >= 2.0 - 1e-9
    with pytest.raises(NoPlan, match=r"side holes at 167\.00"):
        plan_cuts(survey, Settings(BED, engagement=15.0, cuts=(169.0,)))
