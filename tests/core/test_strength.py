"""Strength of joints: closed forms, limits, worked numbers, and shear lag solved by elements.

Loads and areas of the worked examples are F = t pi D L and T = t pi D^2 L / 2, computed
by hand from those closed forms; the shear lag is Volkersen's (1938), and its example of
a glue of 700 MPa is from memory and doubtful as a material, sound as arithmetic.
"""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest
from borewright.core.fitting.strength import (
    Assumptions,
    JointSizes,
    Stated,
    joint_strength,
    overlap_for_share,
    peak_over_mean,
    shear_lag,
    tilt_of,
    unevenness,
)
from borewright.core.fitting.strength_words import CAUTION, assumption_words, gap_words
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def a_tube(diameter: float = 20.0, length: float = 15.0, gap: float = 0.1) -> JointSizes:
    """A tenon with 1.75 mm of wall, and as much around it."""
    radius = diameter / 2.0
    return JointSizes(
        tenon_radius=radius,
        bore_radius=radius - 1.75,
        socket_outer_radius=radius + gap + 1.75,
        parallel_length=length,
        radial_clearance=gap,
        glue_area=math.pi * diameter * length,
    )


def with_design_shear(low: float) -> Assumptions:
    return replace(Assumptions(), design_shear=Stated(low, low, "MPa", "this test"))


@pytest.mark.parametrize(
    ("diameter", "length", "area", "load", "torque"),
    [
        (20.0, 15.0, 942.478, 4712.39, 47.124),
        (23.0, 20.0, 1445.133, 7225.66, 83.095),
        (12.0, 12.0, 452.389, 2261.95, 13.572),
    ],
)
def test_load_and_torque_at_five_megapascals_are_the_worked_ones(
    diameter: float, length: float, area: float, load: float, torque: float
) -> None:
    strength = joint_strength(a_tube(diameter, length), with_design_shear(5.0))
    assert strength.sizes.glue_area == pytest.approx(area, abs=5e-4)
    assert strength.design_load == pytest.approx(load, abs=5e-3)
    assert strength.design_torque / 1000.0 == pytest.approx(torque, abs=5e-4)
    assert load / area == pytest.approx(5.0, rel=4e-6)  # both are rounded


def test_glue_volume_is_area_times_gap() -> None:
    # pi 20 15 0.1; the true ring between two circles holds (1 + g / D) times as much
    strength = joint_strength(a_tube())
    assert strength.glue_volume == pytest.approx(94.248, abs=5e-4)
    ring = math.pi * (10.1**2 - 10.0**2) * 15.0
    assert ring == pytest.approx(strength.glue_volume * (1.0 + 0.1 / 20.0))


@pytest.mark.parametrize(("length", "degrees"), [(15.0, 1.146), (20.0, 0.859)])
def test_tilt_is_that_of_twice_the_gap_over_the_overlap(length: float, degrees: float) -> None:
    # twice 0.15 over 15, and over 20
    assert math.degrees(tilt_of(0.15, length)) == pytest.approx(degrees, abs=5e-4)
    sizes = a_tube(length=length, gap=0.15)
    assert math.degrees(joint_strength(sizes).tilt) == pytest.approx(degrees, abs=5e-4)


@pytest.mark.parametrize(
    ("glue_modulus", "lag", "overlap"), [(700.0, 1.78885, 2.959), (400.0, 1.35225, 3.914)]
)
def test_shear_lag_of_the_worked_strip(glue_modulus: float, lag: float, overlap: float) -> None:
    # 0.1 mm of glue between walls of 1.75 mm of 2500 MPa, per mm of width
    stiffness = 2500.0 * 1.75
    found = shear_lag(glue_modulus, 0.1, 1.0, stiffness, stiffness)
    assert found == pytest.approx(lag, abs=5e-6)
    assert overlap_for_share(0.99, found, 0.0) == pytest.approx(overlap, abs=5e-4)


def test_a_wide_thin_tube_is_that_strip_rolled_up() -> None:
    sizes = a_tube(diameter=20000.0)
    strength = joint_strength(sizes)
    strip = 2500.0 * 1.75
    lag = shear_lag(700.0, 0.1, 1.0, strip, strip)
    assert strength.useful_overlap == pytest.approx(overlap_for_share(0.99, lag, 0.0), rel=1e-3)
    assert strength.peak_over_mean == pytest.approx(peak_over_mean(lag, 15.0, 0.0), rel=1e-3)


@pytest.mark.parametrize("uneven", [0.0, 0.4, 0.95])
def test_a_short_overlap_shears_evenly(uneven: float) -> None:
    # a (coth a + d tanh a) = 1 + (1/3 + d) a^2 + ...
    assert peak_over_mean(1.7, 0.0, uneven) == 1.0
    for overlap in (1e-9, 1e-3, 0.05):
        half = 0.5 * 1.7 * overlap
        near = 1.0 + (1.0 / 3.0 + uneven) * half**2
        assert peak_over_mean(1.7, overlap, uneven) == pytest.approx(near, abs=2.0 * half**4)


@pytest.mark.parametrize("uneven", [0.0, 0.4, 0.95])
def test_a_long_overlap_holds_no_more_than_a_limit(uneven: float) -> None:
    # load at a peak of 1 is L / ratio: 2 / (w (1 + d)) at the most
    lag, limit = 1.7, 2.0 / (1.7 * (1.0 + uneven))
    loads = [overlap / peak_over_mean(lag, overlap, uneven) for overlap in (1.0, 5.0, 20.0, 1e4)]
    assert loads[2:] == pytest.approx([limit, limit], rel=1e-9)
    nearly = overlap_for_share(0.99, lag, uneven)
    assert nearly / peak_over_mean(lag, nearly, uneven) == pytest.approx(0.99 * limit, rel=1e-12)


def test_load_at_a_peak_between_like_walls_goes_as_tanh() -> None:
    lag = 1.78885
    for overlap in (0.5, 2.0, 6.0, 15.0):
        load = overlap / peak_over_mean(lag, overlap, 0.0)
        assert load == pytest.approx(2.0 / lag * math.tanh(lag * overlap / 2.0), rel=1e-12)


def shear_by_elements(
    first: float, second: float, spring: float, overlap: float, count: int
) -> FloatArray:
    """Shear at nodes over its mean: two chains of bars tied by springs, pulled apart.

    Knows nothing of w. The first bar is pulled at the far end and the second held at the
    near end, so each end's load is carried by one bar only.

    first, second : E A, N
    spring : G p / g, N/mm2: of the glue, a mm of overlap
    """
    step = overlap / count
    chain = np.diag(np.full(count + 1, 2.0)) - np.eye(count + 1, k=1) - np.eye(count + 1, k=-1)
    chain[0, 0] = chain[-1, -1] = 1.0
    share = np.full(count + 1, step)
    share[[0, -1]] /= 2.0
    tie = np.diag(spring * share)
    whole = np.block([[first / step * chain + tie, -tie], [-tie, second / step * chain + tie]])
    load = np.zeros(2 * (count + 1))
    load[count] = 1.0
    free = np.delete(np.arange(len(load)), count + 1)
    moved = np.zeros(len(load))
    moved[free] = np.linalg.solve(whole[np.ix_(free, free)], load[free])
    shear: FloatArray = spring * (moved[: count + 1] - moved[count + 1 :])
    assert (shear * share).sum() == pytest.approx(1.0, rel=1e-9)  # the glue carries all of it
    return shear * overlap


@pytest.mark.parametrize(
    ("bore", "outer", "length"),
    [(8.25, 11.85, 15.0), (8.25, 11.85, 3.0), (0.0, 11.0, 8.0), (9.0, 16.0, 6.0)],
)
def test_peak_agrees_with_elements_of_bars_and_springs(
    bore: float, outer: float, length: float
) -> None:
    sizes = replace(a_tube(length=length), bore_radius=bore, socket_outer_radius=outer)
    strength = joint_strength(sizes)
    tenon, socket = 2500.0 * sizes.root_area, 2500.0 * sizes.socket_area
    spring = 700.0 * math.pi * 20.0 / 0.1
    shear = shear_by_elements(tenon, socket, spring, length, 800)
    step = length / 800
    lag = shear_lag(700.0, 0.1, math.pi * 20.0, tenon, socket)
    # linear elements with lumped springs are off by (w h)^2 of the second order
    assert strength.peak_over_mean == pytest.approx(shear.max(), rel=(lag * step) ** 2)
    assert shear.max() == max(shear[0], shear[-1])


def test_uneven_walls_have_their_peak_where_the_thin_one_is_loaded() -> None:
    shear = shear_by_elements(1e5, 4e5, 4e5, 8.0, 400)
    assert shear[-1] > 1.5 * shear[0]  # the first, thin bar is pulled at the far end
    assert unevenness(1e5, 4e5) == unevenness(4e5, 1e5) == pytest.approx(0.6)


def test_sections_are_rings_and_discs() -> None:
    sizes = a_tube()
    assert sizes.root_area == pytest.approx(math.pi * (10.0**2 - 8.25**2))
    assert sizes.socket_area == pytest.approx(math.pi * (11.85**2 - 10.1**2))
    assert sizes.root_wall == pytest.approx(1.75)
    solid = replace(sizes, bore_radius=0.0)
    assert solid.root_area == pytest.approx(100.0 * math.pi)
    assert solid.root_wall == 10.0


def test_straight_flanks_around_two_bores_count_in_the_sections() -> None:
    # a capsule: two half rings and two bars of 15 mm
    plain = a_tube()
    capsule = replace(plain, glue_area=plain.glue_area + 2.0 * 15.0 * plain.parallel_length)
    assert capsule.root_area == pytest.approx(plain.root_area + 2.0 * 15.0 * 1.75)
    assert capsule.socket_area == pytest.approx(plain.socket_area + 2.0 * 15.0 * 1.75)


def test_layers_part_in_the_weaker_section_over_the_range_assumed() -> None:
    sizes = a_tube()  # the tenon's ring is the lesser
    area = math.pi * (10.0**2 - 8.25**2)
    assert joint_strength(sizes).layers_part == pytest.approx((35.0 * area, 45.0 * area))
    thin_socket = replace(sizes, socket_outer_radius=10.9)
    area = math.pi * (10.9**2 - 10.1**2)
    assert joint_strength(thin_socket).layers_part == pytest.approx((35.0 * area, 45.0 * area))


def test_what_is_reached_first_follows_the_ranges() -> None:
    # ring of 100.3 mm2: layers at 3512 to 4515 N; glue at 3 to 10 MPa of the area
    at = {length: joint_strength(a_tube(length=length)) for length in (4.0, 6.0, 15.0, 20.0, 25.0)}
    assert at[4.0].glue_breaks == pytest.approx((753.98, 2513.27), abs=5e-3)
    assert at[4.0].first == "glue"
    assert at[6.0].glue_breaks == pytest.approx((1130.97, 3769.91), abs=5e-3)
    assert at[6.0].first == "either"
    assert at[15.0].glue_breaks == pytest.approx((2827.43, 9424.78), abs=5e-3)
    assert at[15.0].first == "either"
    assert at[20.0].glue_breaks == pytest.approx((3769.91, 12566.37), abs=5e-3)
    assert at[20.0].first == "either"
    assert at[25.0].glue_breaks == pytest.approx((4712.39, 15707.96), abs=5e-3)
    assert at[25.0].first == "layers"


def test_every_assumption_with_its_source_and_the_caution_are_told() -> None:
    strength = joint_strength(a_tube())
    told = assumption_words(strength.assumptions)
    assert "layers" in CAUTION
    stated = [getattr(strength.assumptions, field.name) for field in fields(Assumptions)]
    for number in stated:
        if isinstance(number, Stated):
            assert number.source
            ends = f"{number.low:g}", f"{number.high:g} {number.unit} ({number.source})"
            assert any(all(end in line for end in ends) for line in told)


def test_a_gap_that_the_glue_cannot_fill_is_told() -> None:
    assert joint_strength(a_tube(gap=0.2)).gap_filled
    assert gap_words(joint_strength(a_tube())) == ()
    wide = joint_strength(a_tube(gap=0.35))
    assert not wide.gap_filled
    assert "0.35 mm is more than cyanoacrylate fills" in gap_words(wide)[0]
