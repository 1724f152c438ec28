"""Proofs of joints off the part's axis, in outsides that are not round, and around two bores.

As in test_prove.py the pieces are built with manifold3d, right and damaged.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.values import Check, FloatArray, RoundSurface, Tenon
from manifold3d import CrossSection, Manifold

from tests.bored import disc
from tests.built_joint import (
    BORE_RADIUS,
    LENGTH,
    SEAM,
    BuiltJoint,
    build_joint,
    build_off_axis,
    build_two_bored,
    halves,
    socket_of,
    tenon_of,
)
from tests.core.test_capsule_joint import (
    EQUAL,
    UNEQUAL,
    room_solid,
    slab,
    tenon_solid,
    two_bored,
)
from tests.core.test_prove import failures, ring, the

OCTAGON_RADIUS, OCTAGON_OFFSET = 13.0, (1.5, -0.8)
SHIFT = (0.9, -0.5)
"""Of a round outside from its bore."""

SOCKET_REACH = 1.0 / math.cos(math.pi / 160)


TWO = two_bored(EQUAL)
"""What `build_two_bored` builds from."""


def corners(count: int, radius: float) -> CrossSection:
    """A regular polygon, a flat across the x axis."""
    angles = (np.arange(count) + 0.5) * 2.0 * math.pi / count
    return CrossSection([radius * np.column_stack([np.cos(angles), np.sin(angles)])])


def octagonal() -> BuiltJoint:
    return build_off_axis(corners(8, OCTAGON_RADIUS), 4.1, OCTAGON_OFFSET)


def eccentric() -> BuiltJoint:
    return build_off_axis(disc(13.0, 300, SHIFT), 4.05, (-SHIFT[0], -SHIFT[1]))


BUILT: dict[str, Callable[[], BuiltJoint]] = {
    "octagon": octagonal,
    "round, bore off centre": eccentric,
    "square": lambda: build_off_axis(corners(4, 17.5).translate((0.3, 0.2)), 4.0, (1.0, 1.0)),
    "two equal bores": build_two_bored,
    "two unequal bores": lambda: build_two_bored(UNEQUAL),
}


@pytest.fixture(scope="module")
def octagon() -> BuiltJoint:
    return octagonal()


@pytest.fixture(scope="module")
def double() -> BuiltJoint:
    return build_two_bored()


def half_space(solid: Manifold, angle: float) -> Manifold:
    """What of a solid lies on one side of the axis."""
    return solid.trim_by_plane((math.cos(angle), math.sin(angle), 0.0), 0.0)


def socket_corners(tenon: Tenon) -> FloatArray:
    """(n, 2) the ends of grooves, and of nicks just over the mouth's relief of 0.4."""
    ends = [(key.angle, key.half_width + key.side_gap, key.relief) for key in tenon.keys]
    ends += [(mark.angle, mark.half_width, mark.depth - 0.4) for mark in tenon.marks]
    return np.array(
        [
            SOCKET_REACH * (tenon.socket_radius + out) * np.array([np.cos(at), np.sin(at)])
            for angle, half, out in ends
            for at in (angle - half, angle + half)
        ]
    )


# Right pieces.


@pytest.mark.parametrize("make", BUILT.values(), ids=BUILT.keys())
def test_right_pieces_pass_every_proof(make: Callable[[], BuiltJoint]) -> None:
    built = make()
    assert built.survey().outsides == ()
    assert failures(built.checks()) == set()


def test_the_wall_under_a_flat_is_its_closed_form(octagon: BuiltJoint) -> None:
    """A flat's distance, less a corner's of the socket as it looks along the flat's normal.

    Nicks are looked at by 1 % of a stretch above the relief.
    """
    tenon, checks = octagon.tenon, octagon.checks()
    apothem = OCTAGON_RADIUS * math.cos(math.pi / 8.0)
    flats = np.arange(8) * math.pi / 4.0
    reach = (socket_corners(tenon) @ np.array([np.cos(flats), np.sin(flats)])).max()
    assert -2e-3 < the(checks, "socket_wall").value - (apothem - reach) < 0.01


def test_the_wall_beside_a_bore_off_centre_is_its_closed_form() -> None:
    """R - e - r, or what is left beyond the corners of grooves and nicks."""
    built = eccentric()
    tenon = built.tenon
    beyond = np.hypot(*(socket_corners(tenon) - SHIFT).T)
    due = min(13.0 - math.hypot(*SHIFT) - tenon.socket_radius, 13.0 - beyond.max())
    assert -5e-3 < the(built.checks(), "socket_wall").value - due < 0.01


def test_around_two_bores_clearance_and_walls_are_as_built(double: BuiltJoint) -> None:
    """Outlines are offsets of each other: as far apart as their u."""
    tenon, checks = double.tenon, double.checks()
    clearance = tenon.socket_radius - tenon.tenon_radius
    for name in ("least_clearance", "greatest_clearance", "key_clearance"):
        assert the(checks, name).value == pytest.approx(clearance, abs=2e-4)
    assert the(checks, "tenon_wall").value == pytest.approx(
        tenon.tenon_radius - double.bore.radius_at_zero, abs=1e-3
    )
    groove = tenon.reach
    assert the(checks, "socket_wall").value == pytest.approx(
        double.outside.radius_at_zero - groove, abs=5e-3
    )
    assert the(checks, "bore_groove").value == pytest.approx(0.2 + tenon.land, abs=6e-3)


def test_gap_around_two_bores_agrees_with_solids(double: BuiltJoint) -> None:
    balance = the(double.checks(), "volume_balance").value
    assert abs(balance) < 0.01


def test_play_around_two_bores_agrees_with_turned_solids(double: BuiltJoint) -> None:
    play = the(double.checks(), "one_seat_play").value
    middle = np.mean(double.tenon.centres, axis=0)

    def shared(turn_deg: float) -> float:
        lower, upper = (
            solid.translate((-middle[0], -middle[1], 0.0)) for solid in (double.lower, double.upper)
        )
        return max(
            (lower.rotate((0.0, 0.0, way * turn_deg)) ^ upper).volume() for way in (1.0, -1.0)
        )

    assert shared(play - 0.1) < shared(play + 0.1)
    assert shared(play + 0.1) > 1e-4


def test_a_bore_of_two_stretches_is_proven_stretch_by_stretch() -> None:
    """The same bore told as two; a bump in the second is found there and not in the first."""
    built = build_joint(11.6, ())
    stretches = (
        RoundSurface(BORE_RADIUS, 0.0, 0.0, 45.0),
        RoundSurface(BORE_RADIUS, 0.0, 45.0, LENGTH),
    )
    told = replace(built.survey(), bores=stretches)
    checks = built.prove(built.pieces(), survey=told)
    assert failures(checks) == set()
    assert [check.piece for check in checks["bore_free"]] == ["pipe-01", "pipe-02", "pipe-02"]
    bump = Manifold.cube((0.5, 1.0, 0.5), center=True).translate((BORE_RADIUS + 0.24, 0.0, 52.0))
    bumped = replace(built, upper=built.upper + bump)
    checks = bumped.prove(bumped.pieces(), survey=told)
    assert [check.ok for check in checks["bore_free"]] == [True, True, False]


def test_a_cavity_of_the_part_is_no_second_body() -> None:
    built = build_joint(13.0, ())
    bubble = ring(9.0, 10.0, 10.0, 14.0)
    hollow = replace(built, part=built.part - bubble, lower=built.lower - bubble)
    assert failures(hollow.checks()) == set()
    assert "bodies" in failures(replace(hollow, part=built.part).checks())
    filled = replace(hollow, lower=built.lower)
    assert {"bodies", "volume_balance"} <= failures(filled.checks())


# Damaged fits.


@pytest.mark.parametrize("angle", [0.3, 2.4, 5.0])
def test_a_tenon_fat_on_one_side_fails_least_clearance(octagon: BuiltJoint, angle: float) -> None:
    along = (*OCTAGON_OFFSET, 0.0)
    fat = half_space(tenon_of(octagon.tenon, fatter=0.05), angle).translate(along)
    lower = octagon.lower + (octagon.part ^ fat)
    checks = replace(octagon, lower=lower).checks()
    assert "least_clearance" in failures(checks)
    assert the(checks, "greatest_clearance").ok


def outer_tube(built: BuiltJoint, inner: float, low: float, high: float) -> Manifold:
    """All beyond a u between two stations."""
    around = Manifold.cube((200.0, 200.0, high - low)).translate((-100.0, -100.0, low))
    return around - slab(built.tenon, inner, low - 1.0, high + 1.0)


def flank_side(solid: Manifold) -> Manifold:
    """What lies by the flank of two bores on which no rib is."""
    return solid.trim_by_plane((0.0, -1.0, 0.0), 2.0).trim_by_plane((1.0, 0.0, 0.0), 1.0)


def test_a_flank_fat_between_two_bores_fails_least_clearance(double: BuiltJoint) -> None:
    tenon = double.tenon
    top = tenon.tip_height_at(tenon.tenon_radius + 0.05)
    skin = flank_side(slab(tenon, tenon.tenon_radius + 0.05, tenon.station - 1.0, top))
    fat = replace(double, lower=double.lower + (double.part ^ skin))
    checks = fat.checks()
    assert failures(checks) == {"least_clearance"}
    assert the(checks, "least_clearance").value == pytest.approx(0.10, abs=1e-3)


def test_a_flank_worn_between_two_bores_fails_greatest_clearance(double: BuiltJoint) -> None:
    tenon = double.tenon
    low = tenon.station + 2.0
    worn = flank_side(outer_tube(double, tenon.tenon_radius - 0.08, low, low + 1.0))
    checks = replace(double, lower=double.lower - worn).checks()
    assert failures(checks) == {"greatest_clearance", "self_supporting"}
    assert the(checks, "greatest_clearance").value == pytest.approx(0.23, abs=1e-3)


def test_a_slot_through_a_straight_flank_is_no_clearance(double: BuiltJoint) -> None:
    """No corner of either outline is far from the other: the outline itself is open."""
    x = double.tenon.centres[1][0] / 2.0 + 1.0
    slot = Manifold.cube((0.3, 20.0, 3.0)).translate((x, -20.0, double.tenon.station + 1.0))
    checks = replace(double, lower=double.lower - slot).checks()
    assert the(checks, "greatest_clearance").value == math.inf
    assert "greatest_clearance" in failures(checks)


def test_a_knob_on_a_flank_overlaps(double: BuiltJoint) -> None:
    tenon = double.tenon
    knob = Manifold.cube((2.0, 1.0, 1.0)).translate((7.0, -tenon.tenon_radius - 0.4, 27.0))
    over = replace(double, lower=double.lower + knob)
    check = the(over.checks(), "overlap")
    assert not check.ok
    assert check.value == pytest.approx((over.lower ^ over.upper).volume(), rel=0.03)


def test_a_long_ridge_fails_cone_clearance_or_overlaps(double: BuiltJoint) -> None:
    """A tenon whose tip and ridge stand 0.15 too high: 0.05 is left under the roof."""
    tenon = double.tenon
    higher = replace(tenon, engagement=tenon.engagement + 0.15)
    lower = halves(double.part, tenon.station)[0] + tenon_solid(replace(TWO, tenon=higher))
    checks = replace(double, lower=lower).checks()
    assert "cone_clearance" in failures(checks)


# Damaged walls.


def test_a_pocket_beside_the_socket_is_a_thin_wall(octagon: BuiltJoint) -> None:
    """A pocket of the part's own, in its outside, that the plan should have kept off."""
    x = OCTAGON_OFFSET[0] + octagon.tenon.socket_radius + 0.5
    pocket = Manifold.cube((5.0, 3.0, 3.0)).translate((x, OCTAGON_OFFSET[1] - 1.5, SEAM + 3.0))
    part, upper = octagon.part - pocket, octagon.upper - pocket
    checks = replace(octagon, part=part, upper=upper).checks()
    assert failures(checks) == {"socket_wall"}
    assert the(checks, "socket_wall").value == pytest.approx(0.5, abs=3e-3)


def test_a_reamed_second_bore_fails_the_tenons_wall(double: BuiltJoint) -> None:
    rod = Manifold.cylinder(2.0, 6.8, circular_segments=200).translate((15.5, 0.0, 27.0))
    checks = replace(double, lower=double.lower - rod).checks()
    assert "tenon_wall" in failures(checks)
    assert the(checks, "tenon_wall").value == pytest.approx(0.6, abs=2e-3)


def test_a_bubble_in_the_web_is_a_thin_wall(double: BuiltJoint) -> None:
    """The web itself is the part's own, what is in it is not."""
    bubble = Manifold.cube((3.5, 1.0, 1.0), center=True).translate((7.75, 0.0, 28.0))
    checks = replace(double, lower=double.lower - bubble).checks()
    assert {"bodies", "tenon_wall"} <= failures(checks)
    assert the(checks, "tenon_wall").value < 0.55


# Damaged bores and holes.


def test_a_bump_in_the_second_bore_is_found(double: BuiltJoint) -> None:
    bump = Manifold.cube((0.5, 1.0, 0.5), center=True).translate((15.5, -5.5 - 0.2, 5.0))
    checks = replace(double, lower=double.lower + bump).checks()
    assert failures(checks) == {"bore_free"}
    assert [check.ok for check in checks["bore_free"]] == [True, False, True, True]


def test_a_plug_in_the_second_bore_is_missed(double: BuiltJoint) -> None:
    plug = Manifold.cylinder(2.0, 5.6, circular_segments=70).translate((15.5, 0.0, 50.0))
    checks = replace(double, upper=double.upper + plug).checks()
    assert {"ways_whole", "bore_free"} <= failures(checks)
    assert [check.ok for check in checks["ways_whole"]] == [True, False]


def test_a_window_between_the_bores_is_missed(double: BuiltJoint) -> None:
    window = Manifold.cube((8.0, 2.0, 2.0), center=True).translate((7.75, 0.0, 50.0))
    checks = replace(double, upper=double.upper - window).checks()
    assert "ways_whole" in failures(checks)


# Damaged seats.


def test_around_two_equal_bores_without_a_key_there_are_two_seats(double: BuiltJoint) -> None:
    tenon = double.tenon
    no_rib = outer_tube(double, tenon.tenon_radius, tenon.station, tenon.tip + 1.0)
    keyless = replace(double, lower=double.lower - no_rib)
    checks = keyless.checks()
    assert "one_seat_free_turns" in failures(checks)


def test_a_loose_socket_around_two_bores_has_too_much_play(double: BuiltJoint) -> None:
    loose = replace(TWO.tenon, socket_radius=TWO.tenon.socket_radius + 0.4)
    upper = halves(double.part, TWO.tenon.station)[1] - room_solid(replace(TWO, tenon=loose))
    checks = replace(double, upper=upper).checks()
    assert {"one_seat_play", "greatest_clearance"} <= failures(checks)


# Damaged roofs and outsides.


def test_a_flat_roof_over_the_web_does_not_print(double: BuiltJoint) -> None:
    tenon = double.tenon
    flat = slab(tenon, 2.0, tenon.tip, tenon.roof_height_at(2.0) + 0.5)
    checks = replace(double, upper=double.upper - flat).checks()
    assert "self_supporting" in failures(checks)


def test_a_high_roof_leaves_too_long_a_groove_in_both_bores(double: BuiltJoint) -> None:
    higher = replace(TWO.tenon, engagement=TWO.tenon.engagement + 0.3)
    upper = halves(double.part, TWO.tenon.station)[1] - room_solid(replace(TWO, tenon=higher))
    checks = replace(double, upper=upper).checks()
    assert "bore_groove" in failures(checks)
    assert the(checks, "bore_groove").value == pytest.approx(1.3, abs=6e-3)


def test_a_groove_too_long_on_one_side_of_one_bore_is_found(double: BuiltJoint) -> None:
    """The roof cut away over the far side of the second bore only."""
    tenon = double.tenon
    far = Manifold.cube((1.0, 2.0, 0.4)).translate((20.5, -1.0, tenon.tip + 0.9))
    checks = replace(double, upper=double.upper - far).checks()
    assert "bore_groove" in failures(checks)


@pytest.mark.parametrize("sign", [1, -1])
def test_an_outside_that_is_not_the_parts_is_found(octagon: BuiltJoint, sign: int) -> None:
    """A skin put on, or taken off, 0.02 thick beside the socket."""
    bigger = corners(8, OCTAGON_RADIUS + 0.02 * sign).translate(OCTAGON_OFFSET)
    skin = Manifold.extrude(bigger, 2.0).translate((0.0, 0.0, SEAM + 2.0))
    core = Manifold.extrude(disc(11.5, 90).translate(OCTAGON_OFFSET), 2.0)
    core = core.translate((0.0, 0.0, SEAM + 2.0))
    ring_ = Manifold.cube((80.0, 80.0, 2.0)).translate((-40.0, -40.0, SEAM + 2.0))
    upper = octagon.upper + (skin - core) if sign > 0 else octagon.upper - (ring_ - skin)
    checks = replace(octagon, upper=upper).checks()
    assert "outside_kept" in failures(checks)
    assert the(checks, "outside_kept").value == pytest.approx(0.02 * 0.6, rel=0.2)


def test_a_hole_that_the_seam_cuts_is_missed_beside_two_bores(double: BuiltJoint) -> None:
    drill = Manifold.cylinder(30.0, 2.0, circular_segments=48).rotate((90.0, 0.0, 0.0))
    drill = drill.translate((0.0, 0.0, double.tenon.station))
    cut = replace(
        double,
        part=double.part - drill,
        lower=double.lower - drill,
        upper=double.upper - drill,
    )
    checks: dict[str, list[Check]] = cut.checks()
    assert [check.ok for check in checks["ways_whole"]] == [False, False]


def test_a_tenon_set_aside_fails_both_clearances(octagon: BuiltJoint) -> None:
    """By 0.1: so much less on one side, and more on the other."""
    along = (*OCTAGON_OFFSET, 0.0)
    lower, upper = halves(octagon.part)
    tenon = replace(octagon.tenon, centres=((0.0, 0.0),))
    aside = tenon_of(tenon).translate(along).translate((0.1, 0.0, 0.0))
    moved = replace(
        octagon,
        lower=lower + (octagon.part ^ aside),
        upper=upper - socket_of(tenon).translate(along),
    )
    checks = moved.checks()
    assert {"least_clearance", "greatest_clearance"} <= failures(checks)
    assert the(checks, "least_clearance").value == pytest.approx(0.052, abs=2e-3)
    assert the(checks, "greatest_clearance").value == pytest.approx(0.25, abs=5e-3)
