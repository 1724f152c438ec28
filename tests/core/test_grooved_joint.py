"""Tenons with a groove for an O-ring or for thread, measured on the pieces with manifold3d.

Housings' depths and widths: metric practice by ISO 3601-2, the tables of
`test_ring_housings`, typed in here again. Walls under a groove, lands beside it, the
bevel at the mouth and the height of ribs: common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from borewright.core.errors import BadSetting, WallTooThin
from borewright.core.fitting.ring_housings import usable_cords
from borewright.core.jointing.grooved_design import grooved_on
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.seal_remarks import seal_remarks
from borewright.core.recording.groove_record import groove_entry, groove_words
from borewright.core.values import Compensation, Tenon, TenonGroove
from manifold3d import Manifold

from tests.grooved import band, block, grooved, grooved_line, hole_radii, outer_radii
from tests.grouped import (
    SEAMS,
    SETTINGS,
    GroupedPart,
    a_part,
    a_place,
    round_section,
    slab,
    steepest_down_deg,
    twin_section,
)
from tests.jobs import plan_surveyed
from tests.round_parts import a_part as surveyed

HOUSINGS = {1.78: (1.30, 2.40), 2.00: (1.50, 2.70), 2.62: (2.00, 3.60)}
"""Cord: depth from the groove's bottom to the socket, width of the bottom, mm."""

WALLS = {
    "bore 14, wall 5": (round_section(24.0, 14.0), 2.62, 13.5, 7.0),
    "bore 19, wall 6": (round_section(31.0, 19.0), 2.00, 13.5, 9.5),
    "solid 30": (round_section(30.0), 2.62, 18.0, 0.0),
}
CLEARANCE, OFF = 0.15, 0.01
"""mm; facets of the tenon lie inside its circle by up to 0.005, the socket's outside."""


@cache
def part_of(name: str, kind: str) -> GroupedPart:
    section, cord, engagement, _ = WALLS[name]
    return grooved(section, cord if kind == "oring" else None, engagement)


every_wall = pytest.mark.parametrize("name", WALLS)
every_kind = pytest.mark.parametrize("kind", ["oring", "lapped"])


def first(part: GroupedPart) -> tuple[Tenon, TenonGroove]:
    tenon = part.joints[0].tenon
    assert tenon.groove is not None
    return tenon, tenon.groove


# --- the pieces --------------------------------------------------------------------------


@every_kind
@every_wall
def test_every_proof_holds(name: str, kind: str) -> None:
    part = part_of(name, kind)
    assert [check for checks in part.checks.values() for check in checks if not check.ok] == []
    for proof in ("groove_diameter", "groove_width", "groove_wall", "ring_face"):
        assert len(part.checks[proof]) == len(SEAMS)
    assert len(part.checks["own_pattern"]) == 1
    assert ("housing_depth" in part.checks) == (kind == "oring")


@every_wall
def test_the_housing_is_the_tables_one(name: str) -> None:
    part, cord, bore = part_of(name, "oring"), WALLS[name][1], WALLS[name][3]
    depth, width = HOUSINGS[cord]
    for number, joint in enumerate(part.joints):
        groove = joint.tenon.groove
        assert groove is not None and groove.cord == cord
        low = joint.station + groove.start
        for height in (low + 0.02, low + width / 2.0, low + width - 0.02):
            bottom = outer_radii(part.placed[number].slice(height))
            socket = hole_radii(part.placed[number + 1].slice(height))
            assert socket[0] - bottom[1] == pytest.approx(depth, abs=2.0 * OFF)
            assert socket[1] - bottom[0] == pytest.approx(depth, abs=2.0 * OFF)
            # the bore's chords stand into it: that only adds wall
            assert bottom[0] - bore >= 0.8
        for height in (low - 0.02, low + width + bottom_depth(joint.tenon) + 0.02):
            assert outer_radii(part.placed[number].slice(height))[1] == pytest.approx(
                joint.tenon.tenon_radius, abs=OFF
            )


def bottom_depth(tenon: Tenon) -> float:
    assert tenon.groove is not None
    return tenon.groove.depth


@every_kind
@every_wall
def test_the_ceiling_rises_at_45_degrees_and_prints_unsupported(name: str, kind: str) -> None:
    part = part_of(name, kind)
    tenon, groove = first(part)
    floor = tenon.station + groove.start + groove.width
    for share in (0.1, 0.5, 0.9):
        radius = outer_radii(part.placed[0].slice(floor + share * groove.depth))
        due = tenon.tenon_radius - groove.depth * (1.0 - share)
        assert radius == pytest.approx((due, due), abs=OFF)
    low, high = tenon.station + 0.01, tenon.station + tenon.parallel_length
    assert steepest_down_deg(part.placed[0], low, high) <= 45.1
    assert steepest_down_deg(part.placed[1], low, high) <= 45.1


@every_kind
@every_wall
def test_the_socket_before_the_groove_is_an_unbroken_circle(name: str, kind: str) -> None:
    part = part_of(name, kind)
    tenon, groove = first(part)
    for height in np.linspace(groove.start - 0.9, groove.stop + 0.9, 9).tolist():
        radii = hole_radii(part.placed[1].slice(tenon.station + height))
        assert radii == pytest.approx((tenon.socket_radius,) * 2, abs=OFF)


@every_kind
@every_wall
def test_clearance_under_and_over_the_groove_is_the_one_asked_for(name: str, kind: str) -> None:
    part = part_of(name, kind)
    tenon, groove = first(part)
    for low, high in (
        (1.2, 2.8),
        (groove.start - 0.8, groove.start - 0.1),
        (groove.stop + 0.1, groove.stop + 0.8),
    ):
        within = slab(part.placed[0], tenon.station + low, tenon.station + high)
        around = slab(part.placed[1], tenon.station + low, tenon.station + high)
        assert within.min_gap(around, 1.0) == pytest.approx(CLEARANCE, abs=OFF)


@every_kind
@every_wall
def test_ribs_seat_one_way_and_end_below_the_groove(name: str, kind: str) -> None:
    part = part_of(name, kind)
    tenon, groove = first(part)
    assert tenon.rib_height == 3.0
    play = max(key.side_gap for key in tenon.keys)
    low, high = (piece.slice(tenon.station + 2.0) for piece in part.placed[:2])
    turns = [turn for turn in range(1, 360) if _goes_in(low.rotate(turn), high)]
    assert math.degrees(play) < 1.25 and turns in ([], [1], [359], [1, 359])
    over = outer_radii(part.placed[0].slice(tenon.station + 3.01))
    assert over[1] == pytest.approx(tenon.tenon_radius, abs=OFF)
    assert tenon.rib_roof < tenon.station + groove.start


def _goes_in(tenon: object, socket: object) -> bool:
    return float((tenon ^ socket).area()) < 1e-3  # type: ignore[operator]


@every_kind
@every_wall
def test_pieces_share_nothing_and_are_whole(name: str, kind: str) -> None:
    part = part_of(name, kind)
    for lower, upper in zip(part.placed, part.placed[1:], strict=False):
        assert (lower ^ upper).volume() < 0.01
    for piece in part.placed:
        assert len(piece.decompose()) == 1
        assert piece.genus() == (0 if name.startswith("solid") else 1)


@every_wall
def test_the_mouth_is_bevelled_wider_for_what_goes_in(name: str) -> None:
    part = part_of(name, "oring")
    tenon, groove = first(part)
    assert groove.lead_in >= 0.7
    mouth = hole_radii(part.placed[1].slice(tenon.station + 0.01))
    wide = tenon.socket_radius + min(groove.lead_in, tenon.relief)
    assert mouth[0] >= wide - 0.03


# --- what printers take ------------------------------------------------------------------


def test_a_hole_that_prints_narrow_is_made_good_in_the_housing_too() -> None:
    settings = replace(SETTINGS, compensation=Compensation(hole_undersize=0.2))
    part = grooved(WALLS["bore 19, wall 6"][0], 2.0, 13.5, settings)
    tenon, groove = first(part)
    height = tenon.station + groove.start + 1.0
    bottom = outer_radii(part.placed[0].slice(height))
    socket = hole_radii(part.placed[1].slice(height))
    # 0.1 a side more than the table's 1.50, which the print takes away
    assert socket[0] - bottom[1] == pytest.approx(1.60, abs=2.0 * OFF)
    assert all(check.ok for checks in part.checks.values() for check in checks)


def test_thick_cords_bear_a_wide_spread_and_thin_ones_do_not() -> None:
    assert [cord.cord for cord in usable_cords(0.15, 0.2)] == [2.62, 2.00]
    assert {cord.cord for cord in usable_cords(0.15, 0.1)} == {1.50, 1.78, 2.00, 2.62}
    with pytest.raises(BadSetting, match=r"0\.60 mm squeeze.*a printer that holds"):
        usable_cords(0.15, 0.6)


# --- the plan ----------------------------------------------------------------------------


@pytest.mark.parametrize(("joint", "wall"), [("oring", "3.64"), ("lapped", "3.69")])
def test_a_wall_of_3_6_is_refused_with_numbers(joint: str, wall: str) -> None:
    # 2.00 cord: 1.50 - 0.15 of groove, 2 lines of 0.4; thread: 0.6 of groove, 4 lines; both
    # with 0.15 of clearance, 0.5 of rib, 0.8 of socket and 0.02 of facets on either side
    thin = surveyed(300.0)
    with pytest.raises(WallTooThin, match=rf"wall 3\.60 mm.*needed: {wall} mm"):
        plan_cuts(thin, replace(SETTINGS, envelope=(180.0, 180.0, 180.0), joint=joint))


def test_two_bores_are_refused() -> None:
    part = a_part(twin_section((5.0, 5.0), 20.0, 8.0, "oval"))
    asked = replace(SETTINGS, envelope=(180.0, 180.0, 120.0), joint="oring")
    with pytest.raises(BadSetting, match=r"--joint oring.*around two bores.*one bore"):
        plan_surveyed(part.survey.mesh, "twin", asked)


def test_an_engagement_asked_for_that_is_too_short_is_refused() -> None:
    part = a_part(WALLS["bore 14, wall 5"][0])
    line = grooved_line(part, 2.62, 10.0)
    with pytest.raises(WallTooThin, match=r"engagement of 10\.00 mm.*11\.15 mm parallel"):
        grooved_on(line, 50.0, a_place(0, 1, same=False))


def test_a_tenon_too_thin_to_put_a_ring_over_is_refused() -> None:
    part = a_part(round_section(14.0))
    line = grooved_line(part, 2.62, 16.0)
    with pytest.raises(WallTooThin, match=r"pulled to .* times its size"):
        grooved_on(line, 50.0, a_place(0, 1, same=False))


def test_a_thin_tenon_takes_a_thinner_cord_that_can_be_put_over_it() -> None:
    # the wall of 4.2 holds a cord of 2.62, but around a bore of 2.5 mm radius its tenon has
    # 2.5 + 1.85 + 0.82 = 5.17, and 1.85 / (1 - 1 / 1.5) = 5.55 is needed; one of 2.00 needs 4.05
    thin = surveyed(300.0, bore=(5.0, 5.0), outside=(13.4, 13.4), section=(13.4, 13.4))
    asked = replace(SETTINGS, envelope=(180.0, 180.0, 180.0), joint="oring")
    (made,) = plan_cuts(thin, asked).joints
    assert made.tenon.groove is not None and made.tenon.groove.cord == 2.00


@pytest.mark.parametrize("joint", ["oring", "lapped"])
def test_a_plan_has_the_kind_asked_for(joint: str) -> None:
    thick = surveyed(300.0, bore=(14.2, 14.2), outside=(25.0, 25.0), section=(25.0, 25.0))
    plan = plan_cuts(thick, replace(SETTINGS, envelope=(180.0, 180.0, 180.0), joint=joint))
    (made,) = plan.joints
    assert made.kind == joint
    assert made.tenon.groove is not None and (made.tenon.groove.cord is None) == (joint == "lapped")
    assert "as asked" in plan.cuts[0].why


def test_loose_tenons_are_told_what_would_seal_them_where_the_wall_allows() -> None:
    loose = replace(SETTINGS, envelope=(180.0, 180.0, 180.0), fit="take-apart")
    thick = surveyed(300.0, outside=(25.0, 25.0), section=(25.0, 25.0))
    (told,) = seal_remarks(thick, loose, plan_cuts(thick, loose).joints)
    assert "--joint oring or --joint lapped" in told
    thin = surveyed(300.0)
    assert seal_remarks(thin, loose, plan_cuts(thin, loose).joints) == []
    glued = replace(loose, fit="glue")
    assert seal_remarks(thick, glued, plan_cuts(thick, glued).joints) == []


# --- the record --------------------------------------------------------------------------


def test_the_record_tells_the_ring_and_how_it_seals() -> None:
    tenon, _ = first(part_of("bore 14, wall 5", "oring"))
    entry = groove_entry(tenon, SETTINGS)
    assert entry is not None
    # bottom of 15.64 mm diameter: AS568 -112, inside 0.487 in, would be stretched by 26 %;
    # -114, 0.612 in = 15.54 mm, by 0.6 %; -113, 0.549 in = 13.94 mm, by 12 %: none suits
    assert entry["groove_diameter"] == pytest.approx(15.64, abs=0.005)
    assert entry["ring"] is None
    assert entry["inside_diameter"] == pytest.approx(15.64 / 1.02, abs=0.01)
    assert entry["squeeze"]["nominal"] == pytest.approx((2.62 - 2.0) / 2.62)  # type: ignore[index]
    assert any("ask the supplier" in line for line in groove_words(tenon, SETTINGS))
    lapped, _ = first(part_of("bore 14, wall 5", "lapped"))
    told = groove_entry(lapped, SETTINGS)
    assert told is not None and told["for"] == "thread" and "squeeze" not in told
    assert groove_entry(replace(lapped, groove=None), SETTINGS) is None
    assert groove_words(replace(lapped, groove=None), SETTINGS) == ()


# --- proofs that fail --------------------------------------------------------------------

Damage = Callable[[Tenon, TenonGroove], Manifold]


def floor(tenon: Tenon, groove: TenonGroove) -> tuple[float, float, float]:
    """Station of the bottom's ends, and its radius."""
    low = tenon.station + groove.start
    return low, low + groove.width, tenon.tenon_radius - groove.depth


def deeper(tenon: Tenon, groove: TenonGroove) -> Manifold:
    low, high, radius = floor(tenon, groove)
    return band(low, high, radius - 0.05, radius + 1.0)


def wider(tenon: Tenon, groove: TenonGroove) -> Manifold:
    low, _, radius = floor(tenon, groove)
    return band(low - 0.06, low + 0.5, radius, tenon.tenon_radius + 1.0)


def flat_ceiling(tenon: Tenon, groove: TenonGroove) -> Manifold:
    _, high, radius = floor(tenon, groove)
    return band(high - 0.5, high + 0.5 * groove.depth, radius, tenon.tenon_radius + 1.0)


def no_ribs(tenon: Tenon, groove: TenonGroove) -> Manifold:
    low = tenon.station + 0.001
    return band(
        low, tenon.station + groove.start - 0.5, tenon.tenon_radius, tenon.tenon_radius + 2.0
    )


CUT_FROM_TENON = {
    "groove_diameter": deeper,
    "housing_depth": deeper,
    "groove_wall": deeper,
    "groove_width": wider,
    "self_supporting": flat_ceiling,
    "one_seat_play": no_ribs,
}


@pytest.mark.parametrize("proof", CUT_FROM_TENON)
def test_each_proof_fails_on_a_tenon_cut_further(proof: str) -> None:
    part = part_of("bore 14, wall 5", "oring")
    damaged = part.placed[0] - CUT_FROM_TENON[proof](*first(part))
    assert proof in part.prove_damaged(0, damaged)


def test_a_groove_filled_in_one_place_fails() -> None:
    part = part_of("bore 14, wall 5", "oring")
    low, high, radius = floor(*first(part))
    lump = block(2.0, 0.5, low - 0.01, high, radius - 0.1, radius + 0.3)
    failed = part.prove_damaged(0, part.placed[0] + lump)
    assert {"groove_diameter", "housing_depth"} <= failed


def test_a_key_groove_that_runs_on_past_the_ring_fails() -> None:
    part = part_of("bore 14, wall 5", "oring")
    tenon, groove = first(part)
    low, radius = tenon.station, tenon.socket_radius
    top = low + groove.stop + 0.5
    slot = block(tenon.keys[0].angle, 1.0, low + 2.0, top, radius - 1.0, radius + 0.3)
    assert "ring_face" in part.prove_damaged(1, part.placed[1] - slot)


def test_grooves_for_ribs_on_the_other_side_too_fail() -> None:
    part = part_of("bore 14, wall 5", "oring")
    tenon, _ = first(part)
    upper, radius = part.placed[1], tenon.socket_radius
    for key in tenon.keys:
        half = 1.2 * key.half_width * tenon.tenon_radius
        low, high = tenon.station - 1.0, tenon.station + 3.3
        slot = block(key.angle + math.pi, half, low, high, radius - 1.0, tenon.reach + 0.3)
        upper -= slot
    assert "one_seat_free_turns" in part.prove_damaged(1, upper)


def test_a_tenon_too_wide_over_the_groove_fails() -> None:
    part = part_of("bore 14, wall 5", "oring")
    tenon, groove = first(part)
    top = tenon.station + groove.stop
    collar = band(top + 0.1, top + 0.9, tenon.tenon_radius - 0.5, tenon.tenon_radius + 0.1)
    assert "least_clearance" in part.prove_damaged(0, part.placed[0] + collar)


def test_a_key_too_wide_fails() -> None:
    part = part_of("bore 14, wall 5", "oring")
    tenon, _ = first(part)
    rib, low = tenon.keys[0], tenon.station
    half = (rib.half_width + rib.side_gap) * tenon.tenon_radius - 0.05
    wide = block(rib.angle, half, low + 1.0, low + 2.5, tenon.tenon_radius - 0.5, tenon.reach - 0.2)
    assert "key_clearance" in part.prove_damaged(0, part.placed[0] + wide)


LISTED = {"-110": 9.19, "-111": 10.77, "-112": 12.37, "-113": 13.94, "-114": 15.54, "-115": 17.12,
          "-116": 18.72, "-117": 20.29, "-118": 21.89}  # fmt: skip
"""Inside diameters, mm, of AS568's 2.62 mm rings, as a published list has them."""


@pytest.mark.parametrize("width", [28.0, 30.0, 34.0, 38.0])
def test_a_solid_tenon_is_as_wide_as_a_listed_ring_asks(width: float) -> None:
    part = grooved(round_section(width), 2.62, 21.0)
    tenon = part.joints[0].tenon
    assert tenon.groove is not None
    entry = groove_entry(tenon, SETTINGS)
    assert entry is not None
    name = str(entry["ring"])
    inside = LISTED[name.removeprefix("AS568 ")]
    middle = SEAMS[0] + tenon.groove.start + tenon.groove.width / 2.0
    bottom = 2.0 * outer_radii(part.placed[0].slice(middle))[1]
    assert bottom == pytest.approx(1.02 * inside, abs=0.03)
    plain = width / 4.0
    assert plain - 1.2 < tenon.tenon_radius < plain
    assert "AS568" in groove_words(tenon, SETTINGS)[0]


def test_a_solid_that_tapers_much_keeps_its_tenon_in_mid_section() -> None:
    part = a_part(round_section(44.0))
    line = grooved_line(part, 2.62, 18.0)
    slopes = np.full(1, -0.02)  # 4 mm over the 200 of the part
    tapered = replace(line, run=replace(line.run, outer_slopes=slopes))
    radii = tapered.tenon_radius(np.array([20.0, 100.0]))
    assert radii[0] - radii[1] == pytest.approx(0.8, abs=1e-9)  # half of what the section loses
