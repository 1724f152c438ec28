"""Sound, pipes, holes and disturbed bores: printed values, and plane waves as a second way."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.acoustics.air import cents_per_kelvin, speed_of_sound
from borewright.core.acoustics.bore_disturbance import (
    greatest_shift,
    shift_of_room,
    shift_of_step,
    shift_of_stretch,
)
from borewright.core.acoustics.pipe import FLANGED, UNFLANGED, Pipe
from borewright.core.acoustics.pitch import cents_of, cents_of_lengths
from borewright.core.acoustics.tone_holes import (
    ToneHole,
    closed_hole_length,
    open_hole_length,
    open_row_length,
)
from hypothesis import given
from hypothesis import strategies as st

from tests.plane_waves import Element, cents_between, closed_hole, section, wave_number


def pipe(length: float, radius: float, **rest: float | bool) -> Pipe:
    ends = {"low_radius": radius, "high_radius": radius}
    return Pipe(length, radius, **{**ends, **rest})  # type: ignore[arg-type]


BARE = {"correction": 0.0}
"""A pipe as long as its effective length."""


def test_sound_at_15_degrees_is_as_the_standard_atmosphere_has_it() -> None:
    """US Standard Atmosphere 1976, table 1, sea level: 340.294 m/s."""
    assert speed_of_sound(15.0) == pytest.approx(340.294, rel=1e-4)


@pytest.mark.parametrize("temperature_c", [-20.0, 0.0, 20.0, 50.0])
def test_sound_is_as_fast_as_in_an_ideal_gas(temperature_c: float) -> None:
    """sqrt(gamma R T / M), R of CODATA 2018, M of dry air from the US Standard Atmosphere 1976."""
    ideal = math.sqrt(1.4 * 8.314462618 * (temperature_c + 273.15) / 0.0289644)
    assert speed_of_sound(temperature_c) == pytest.approx(ideal, rel=2e-4)


@pytest.mark.parametrize(
    ("temperature_c", "metres_per_second"),
    [(0, 331.300), (10, 337.310), (15, 340.275), (20, 343.215), (25, 346.129), (30, 349.019)],
)
def test_sound_at_usual_temperatures(temperature_c: float, metres_per_second: float) -> None:
    """Worked by hand from the formula of Kinsler and others, Fundamentals of Acoustics, 5.6."""
    assert speed_of_sound(temperature_c) == pytest.approx(metres_per_second, abs=5e-4)


def test_warmer_air_sounds_higher() -> None:
    """Worked by hand: half of 1200 log2 of the ratio of temperatures above absolute zero."""
    assert cents_per_kelvin(20.0) == pytest.approx(2.95, abs=0.005)
    assert cents_of(speed_of_sound(30) / speed_of_sound(10)) == pytest.approx(59.08, abs=0.005)
    assert cents_of(speed_of_sound(25) / speed_of_sound(20)) == pytest.approx(14.64, abs=0.005)


def test_cents_are_those_of_the_octave_the_just_fifth_and_an_equal_semitone() -> None:
    """Helmholtz, On the Sensations of Tone, Ellis's table of intervals: the fifth, 702 cents."""
    assert cents_of(2.0) == pytest.approx(1200.0)
    assert cents_of(1.5) == pytest.approx(702.0, abs=0.05)
    assert cents_of(2.0 ** (1.0 / 12.0)) == pytest.approx(100.0)


@pytest.mark.parametrize(
    ("before", "after", "lower_by"),
    [
        (300.0, 301.0, 5.761), (300.0, 300.5, 2.883), (300.0, 300.2, 1.154), (600.0, 601.0, 2.883),
        (600.0, 600.2, 0.577), (400.0, 402.0, 8.635), (300.0, 299.7, -1.732),
    ],
)  # fmt: skip
def test_a_longer_pipe_is_lower(before: float, after: float, lower_by: float) -> None:
    """Worked by hand: 1200 log2 of the ratio of lengths."""
    assert cents_of_lengths(before, after) == pytest.approx(-lower_by, abs=5e-4)


def test_end_corrections_are_the_published_ones() -> None:
    """Levine and Schwinger (1948), 0.6133; Nomura, Yamamura, Inawashiro (1960), 0.8217."""
    assert (UNFLANGED, FLANGED) == (0.6133, 0.8217)
    assert 8.0 / (3.0 * math.pi) > FLANGED  # Rayleigh's upper bound, Theory of Sound, section 307
    assert pipe(300.0, 9.5).low_correction == pytest.approx(5.826, abs=5e-4)
    assert pipe(300.0, 9.5, low_open=False).low_correction == 0.0


@pytest.mark.parametrize(
    ("length", "radius", "rest", "hertz"),
    [
        (300.0, 9.5, BARE, 572.02),
        (300.0, 9.5, {}, 550.64),
        (300.0, 9.5, {"high_radius": 9.5 * 0.8217 / 0.6133}, 547.16),  # flanged at one end
        (280.0, 6.0, {}, 597.19),
        (300.0, 9.5, {"low_open": False}, 280.56),
        (300.0, 9.5, {"high_open": False}, 280.56),
    ],
)
def test_pipes_sound_as_worked_by_hand(
    length: float, radius: float, rest: dict[str, float], hertz: float
) -> None:
    """At 20 C, with the end corrections of Levine and Schwinger, and of Nomura and others."""
    sounding = pipe(length, radius, **rest).frequency(1, speed_of_sound(20.0))
    assert sounding == pytest.approx(hertz, abs=0.006)


@pytest.mark.parametrize("mode", [1, 2, 3])
@pytest.mark.parametrize("low", ["open", "closed"])
def test_pipes_sound_as_plane_waves_do(mode: int, low: str) -> None:
    sounding = pipe(300.0, 9.5, low_open=low == "open")
    number = sounding.wave_number(mode)
    whole = [section(sounding.effective_length / 3.0, 5.0)] * 3
    assert wave_number(whole, 1.02 * number, low_open=low == "open") == pytest.approx(number)


def test_a_closed_pipe_has_the_odd_harmonics() -> None:
    closed, opened = pipe(300.0, 9.5, low_open=False), pipe(300.0, 9.5)
    assert [closed.frequency(n, 343.0) / closed.frequency(1, 343.0) for n in (2, 3)] == [3.0, 5.0]
    assert [opened.frequency(n, 343.0) / opened.frequency(1, 343.0) for n in (2, 3)] == [2.0, 3.0]


def benade(a: float, b: float, t: float) -> ToneHole:
    """By the letters of the formulas."""
    return ToneHole(hole_radius=b, bore_radius=a, chimney=t)


@pytest.mark.parametrize(
    ("hole", "beyond", "length"),
    [
        (benade(9.5, 4.0, 4.0), 60.0, 29.0738),
        (benade(9.5, 4.0, 4.0), math.inf, 56.40625),
        (benade(6.0, 3.0, 2.0), 40.0, 15.7576),
        (benade(9.5, 3.0, 4.0), 60.0, 35.2128),
    ],
)
def test_an_open_hole_ends_the_pipe_where_benade_has_it(
    hole: ToneHole, beyond: float, length: float
) -> None:
    """Worked by hand from Benade, Fundamentals of Musical Acoustics, on finger holes."""
    assert open_hole_length(hole, beyond) == pytest.approx(length, abs=5e-5)


def test_rows_and_closed_holes_are_where_benade_has_them() -> None:
    """Worked by hand from Benade, Fundamentals of Musical Acoustics, on finger holes.

    A row of closed holes slows sound by (b / a)^2 t / 4s, s being half of the spacing: 0.177 mm
    in s, twice that a hole.
    """
    hole = benade(9.5, 4.0, 4.0)
    assert open_row_length([hole] * 60, [25.0] * 60) == pytest.approx(27.0779, abs=5e-5)
    assert closed_hole_length(hole) / 2.0 == pytest.approx(0.177, abs=5e-4)


def test_an_open_hole_is_a_branch_beside_what_lies_beyond() -> None:
    """Two short pipes side by side: their inertances, length by area, add as conductances do."""
    hole = benade(6.0, 3.0, 2.0)
    bore, side = 40.0 / 6.0**2, (2.0 + 1.5 * 3.0) / 3.0**2
    assert open_hole_length(hole, 40.0) / 6.0**2 == pytest.approx(1.0 / (1.0 / bore + 1.0 / side))


def test_a_row_of_one_hole_is_that_hole() -> None:
    hole, other = benade(9.5, 4.0, 4.0), benade(9.5, 3.0, 4.0)
    assert open_row_length([hole], [60.0]) == open_hole_length(hole, 60.0)
    assert open_row_length([hole, other], [25.0, 60.0]) == pytest.approx(
        open_hole_length(hole, 25.0 + 35.2128), abs=5e-5
    )


@given(st.floats(0.05, 0.95), st.floats(0.1, 10.0), st.floats(5.0, 500.0))
def test_an_open_hole_lies_between_itself_and_the_end(
    share: float, chimney: float, beyond: float
) -> None:
    hole = benade(9.5, 9.5 * share, chimney)
    assert 0.0 < open_hole_length(hole, beyond) < beyond
    assert open_hole_length(hole, beyond) < open_hole_length(hole, 2.0 * beyond)


@pytest.mark.parametrize("mode", [1, 2, 3])
def test_a_closed_hole_lengthens_as_plane_waves_past_its_volume_do(mode: int) -> None:
    """On the mean of all places."""
    hole, length, area = benade(9.5, 4.0, 4.0), 600.0, math.pi * 9.5**2
    beside = closed_hole(math.pi * 4.0**2 * 4.0)
    number = mode * math.pi / length
    lengths = [
        mode
        * math.pi
        / wave_number([section(place, area), beside, section(length - place, area)], number)
        for place in np.arange(3.0, length, 6.0)
    ]
    assert np.mean(lengths) - length == pytest.approx(closed_hole_length(hole), rel=0.01)


def shift_of_volume(pipe: Pipe, station: float, volume: float, mode: int) -> float:
    """All of it over a hundredth of a mm."""
    return shift_of_stretch(pipe, station - 0.005, station + 0.005, 100.0 * volume, mode)


LONG = pipe(600.0, 9.5, **BARE)
"""Of 170117.24 mm3."""


def test_disturbances_are_as_worked_by_hand() -> None:
    """By Rayleigh, The Theory of Sound, section 265, in the middle of a pipe open at both ends."""
    assert LONG.volume == pytest.approx(170117.24, abs=0.005)
    groove, step = math.pi * (10.5**2 - 9.5**2) * 0.5, math.pi * (9.2**2 - 9.5**2) * 20.0
    assert (groove, step) == pytest.approx((31.416, -352.49), abs=5e-3)
    assert shift_of_volume(LONG, 300.0, groove, 1) == pytest.approx(-0.320, abs=5e-4)
    assert shift_of_volume(LONG, 300.0, step, 1) == pytest.approx(3.59, abs=5e-3)
    assert shift_of_room(LONG, 352.49) == pytest.approx(3.59, abs=5e-3)
    narrower = math.pi * (9.2**2 - 9.5**2)
    assert shift_of_step(LONG, 290.0, 310.0, narrower, 1) == pytest.approx(3.59, abs=0.02)


def disturbed(length: float, start: float, stop: float, area: float, more: float) -> list[Element]:
    return [
        section(start, area),
        section(stop - start, area + more),
        section(length - stop, area),
    ]


def changed(
    mode: int, low: str, place: float, more: float, length: float
) -> tuple[Pipe, float, float, float]:
    """A bare pipe of 600 mm, where a stretch of it starts, what its section has more, in mm2, and
    the cents by which plane waves have that shift a mode."""
    bare = pipe(600.0, 9.5, low_open=low == "open", **BARE)
    area, start = math.pi * 9.5**2, 600.0 * place - length / 2.0
    sections = disturbed(600.0, start, start + length, area, more * area)
    number = bare.wave_number(mode)
    waves = cents_between(number, wave_number(sections, number, low_open=low == "open"))
    return bare, start, more * area, waves


@pytest.mark.parametrize("mode", [1, 2, 3])
@pytest.mark.parametrize("low", ["open", "closed"])
@pytest.mark.parametrize("place", [0.03, 0.2, 0.37, 0.5, 0.81, 0.97])
@pytest.mark.parametrize("more", [0.02, -0.02])
def test_a_short_change_shifts_as_plane_waves_do(
    mode: int, low: str, place: float, more: float
) -> None:
    """Over 10 of 600 mm, by 2 % of the section: first order is off by some 2 % of the greatest."""
    bare, start, area, waves = changed(mode, low, place, more, 10.0)
    volume = area * 10.0
    within = 0.03 * shift_of_room(bare, abs(volume))
    stretch = shift_of_stretch(bare, start, start + 10.0, area, mode)
    assert stretch == pytest.approx(waves, abs=within)
    assert shift_of_volume(bare, start + 5.0, volume, mode) == pytest.approx(waves, abs=within)


@pytest.mark.parametrize("mode", [1, 2, 3])
def test_a_long_change_shifts_as_plane_waves_do(mode: int) -> None:
    area = math.pi * 9.5**2
    sections = disturbed(600.0, 100.0, 290.0, area, 0.01 * area)
    number = LONG.wave_number(mode)
    waves = cents_between(number, wave_number(sections, number))
    assert shift_of_stretch(LONG, 100.0, 290.0, 0.01 * area, mode) == pytest.approx(
        waves, abs=0.02 * shift_of_room(LONG, 1.9 * area)
    )


def test_end_corrections_count_in_where_a_change_lies() -> None:
    """The same as of a pipe without any that is longer by them."""
    real = pipe(588.0, 9.5)
    bare = pipe(real.effective_length, 9.5, **BARE)
    for mode in (1, 2, 3):
        found = shift_of_volume(real, 70.0, 30.0, mode)
        assert found == pytest.approx(shift_of_volume(bare, 70.0 + 0.6133 * 9.5, 30.0, mode))


@pytest.mark.parametrize("mode", [1, 2, 3])
@pytest.mark.parametrize("low", ["open", "closed"])
@pytest.mark.parametrize("place", [0.03, 0.2, 0.37, 0.5, 0.81, 0.97])
@pytest.mark.parametrize("more", [0.5, 0.15, -0.15, -0.5])
def test_a_short_step_shifts_as_plane_waves_do_however_wide(
    mode: int, low: str, place: float, more: float
) -> None:
    """Over 2 of 600 mm, by first order in that: a 300th of a half wave, times the mode."""
    bare, start, area, waves = changed(mode, low, place, more, 2.0)
    told = shift_of_step(bare, start, start + 2.0, area, mode)
    greatest = greatest_shift(bare, 2.0, area)
    assert told == pytest.approx(waves, abs=2.0 * mode / 300.0 * greatest)
    assert abs(told) <= greatest


@given(
    st.floats(0.0, 590.0),
    st.floats(-0.9, 2.0),
    st.integers(1, 4),
    st.sampled_from(["open", "closed"]),
)
def test_no_shift_is_over_the_greatest_and_none_is_without_a_change(
    start: float, more: float, mode: int, low: str
) -> None:
    bare = pipe(600.0, 9.5, low_open=low == "open")
    area = more * bare.area
    shift = shift_of_step(bare, start, start + 5.0, area, mode)
    assert abs(shift) <= greatest_shift(bare, 5.0, area) + 1e-12
    stretch = shift_of_stretch(bare, start, start + 5.0, area, mode)
    assert abs(stretch) <= shift_of_room(bare, abs(5.0 * area)) + 1e-12
    for zero in (shift_of_step, shift_of_stretch):
        assert zero(bare, start, start + 5.0, 0.0, mode) == 0.0


def test_wider_where_air_is_pressed_is_lower_and_where_it_moves_higher() -> None:
    stopped = pipe(600.0, 9.5, low_open=False, **BARE)
    assert shift_of_volume(stopped, 0.0, 10.0, 1) < 0.0 < shift_of_volume(stopped, 600.0, 10.0, 1)
    assert shift_of_volume(LONG, 300.0, 10.0, 1) < 0.0 < shift_of_volume(LONG, 0.0, 10.0, 1)
    mirrored = pipe(600.0, 9.5, high_open=False, **BARE)
    for mode in (1, 2, 3):
        assert shift_of_volume(mirrored, 430.0, 10.0, mode) == pytest.approx(
            shift_of_volume(stopped, 170.0, 10.0, mode)
        )
