"""The measures of measure_sections.py on joints of known sizes, good and spoilt."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from manifold3d import CrossSection, Manifold

from tests import measure, measure_sections
from tests.bored import disc
from tests.built_joint import BuiltJoint, build_off_axis, build_two_bored
from tests.core.test_capsule_joint import slab

HEIGHTS = [1.3, 3.0, 5.5]


def seat_of(built: BuiltJoint) -> measure.Seat:
    tenon = built.tenon
    return measure.Seat(
        lower=built.lower,
        upper=built.upper,
        centre=np.mean(tenon.centres, axis=0),
        seam=tenon.station,
        tip=tenon.highest,
        key_angles=tuple(key.angle for key in tenon.keys),
    )


def key_half(built: BuiltJoint) -> float:
    return built.tenon.keys[0].half_width * built.tenon.tenon_radius


def heights(built: BuiltJoint) -> list[float]:
    return [built.tenon.station + height for height in HEIGHTS]


@pytest.fixture(scope="module")
def octagon() -> BuiltJoint:
    angles = (np.arange(8) + 0.5) * math.pi / 4.0
    section = CrossSection([13.0 * np.column_stack([np.cos(angles), np.sin(angles)])])
    return build_off_axis(section, 4.1, (1.5, -0.8))


@pytest.fixture(scope="module")
def double() -> BuiltJoint:
    return build_two_bored()


def test_clearance_is_read_as_built(octagon: BuiltJoint, double: BuiltJoint) -> None:
    for built in (octagon, double):
        seen = measure_sections.clearance(seat_of(built), heights(built), key_half(built))
        asked = built.tenon.radial_clearance
        assert seen.least == pytest.approx(asked, abs=2.5e-3)
        assert asked - 1e-3 < seen.greatest < asked + 6e-3


def test_clearance_sees_a_tenon_set_aside(double: BuiltJoint) -> None:
    aside = replace(double, lower=double.lower.translate((0.0, 0.1, 0.0)))
    seen = measure_sections.clearance(seat_of(aside), heights(double), key_half(double))
    assert seen.least == pytest.approx(0.05, abs=3e-3)
    assert seen.greatest == pytest.approx(0.25, abs=6e-3)


def test_clearance_sees_a_worn_flank(double: BuiltJoint) -> None:
    tenon = double.tenon
    low = tenon.station + 2.5
    worn = Manifold.cube((6.0, 20.0, 1.0)).translate((5.0, -20.0, low))
    worn -= slab(tenon, tenon.tenon_radius - 0.1, tenon.station, tenon.tip)
    seat = seat_of(replace(double, lower=double.lower - worn))
    seen = measure_sections.clearance(seat, heights(double), key_half(double))
    assert seen.greatest == pytest.approx(0.25, abs=6e-3)


def test_walls_are_read_as_built(octagon: BuiltJoint, double: BuiltJoint) -> None:
    """Octagon: what the proofs measure; two bores: outlines are offsets of each other."""
    inside, socket = measure_sections.walls(seat_of(double), heights(double), heights(double))
    tenon = double.tenon
    assert inside == pytest.approx(tenon.tenon_radius - 5.5, abs=1e-2)
    groove = tenon.reach
    assert socket == pytest.approx(double.outside.radius_at_zero - groove, abs=1e-2)
    told = octagon.checks()
    over_relief = [octagon.tenon.station + 0.406, *heights(octagon)]  # where nicks are deepest
    inside, socket = measure_sections.walls(seat_of(octagon), heights(octagon), over_relief)
    assert inside == pytest.approx(told["tenon_wall"][0].value, abs=3e-3)
    assert socket == pytest.approx(told["socket_wall"][0].value, abs=3e-3)


def test_walls_see_a_pocket_and_a_reamed_bore(octagon: BuiltJoint, double: BuiltJoint) -> None:
    x = 1.5 + octagon.tenon.socket_radius + 0.5
    pocket = Manifold.cube((5.0, 3.0, 3.0)).translate((x, -2.3, octagon.tenon.station + 2.0))
    thin = seat_of(replace(octagon, upper=octagon.upper - pocket))
    assert measure_sections.walls(thin, heights(octagon), heights(octagon))[1] == pytest.approx(
        0.5, abs=5e-3
    )
    rod = Manifold.cylinder(2.0, 6.8, circular_segments=200)
    reamed = double.lower - rod.translate((15.5, 0.0, double.tenon.station + 2.0))
    thin = seat_of(replace(double, lower=reamed))
    assert measure_sections.walls(thin, heights(double), heights(double))[0] == pytest.approx(
        0.6, abs=5e-3
    )


def test_turning_two_bores_finds_the_play_that_the_proofs_tell(double: BuiltJoint) -> None:
    seen = measure.turning(seat_of(double), 5.5)
    told = double.checks()["one_seat_play"][0].value
    assert max(abs(play - told) for play in seen.play_deg) < 0.16
    assert seen.free_deg == ()


def test_two_equal_bores_without_a_rib_are_free_half_a_turn_on(double: BuiltJoint) -> None:
    tenon = double.tenon
    around = Manifold.cube((99.0, 99.0, 20.0)).translate((-40.0, -50.0, tenon.station))
    ribless = double.lower - (around - slab(tenon, tenon.tenon_radius, 0.0, 60.0))
    seen = measure.turning(seat_of(replace(double, lower=ribless)), 5.5)
    assert 180.0 in seen.free_deg


def test_grooves_are_gap_and_land_all_round_both_bores(double: BuiltJoint) -> None:
    """By 0.05 less, as far as the columns stand out of the wall toward the outside."""
    for bore in (double.bore, *double.bores):
        gaps = measure_sections.groove_lengths(seat_of(double), np.array(bore.offset), 5.5)
        assert gaps.min() > 1.0 - 0.06
        assert gaps.max() < 1.0 + 0.06
    tenon = double.tenon
    cut = Manifold.cube((1.0, 4.0, 0.5)).translate((20.8, -2.0, tenon.tip + 0.9))
    deep = seat_of(replace(double, upper=double.upper - cut))
    assert measure_sections.groove_lengths(deep, np.array([15.5, 0.0]), 5.5).max() > 1.3


def test_roofs_lean_45_degrees_and_a_flat_one_is_seen(
    octagon: BuiltJoint, double: BuiltJoint
) -> None:
    for built in (octagon, double):
        assert measure_sections.flattest_underside_deg(seat_of(built)) == pytest.approx(45, abs=0.1)
    tenon = double.tenon
    flat = slab(tenon, 2.0, tenon.tip, tenon.roof_height_at(2.0) + 0.5)
    cut = seat_of(replace(double, upper=double.upper - flat))
    assert measure_sections.flattest_underside_deg(cut) < 1.0


def test_a_round_room_is_found_about_the_middle_only() -> None:
    """A second void beside the joint is not its room."""
    solid = Manifold.extrude(disc(20.0) - disc(5.0) - disc(3.0, 90, (12.0, 0.0)), 10.0)
    room = measure_sections._room(solid.slice(5.0), np.zeros(2))  # noqa: SLF001
    assert room.area() == pytest.approx(math.pi * 25.0, rel=1e-3)
