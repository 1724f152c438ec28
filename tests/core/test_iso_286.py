"""ISO 286 against the standard's values, with the steps' edges and the known misprints.

Unless named otherwise, values are those of ISO 286-1:2010 (tolerances and deviations) and
ISO 286-2:2010 (limits), in micrometres as printed there. From memory: deviations c, d, e, f,
g and k, and the multipliers of the tolerance factor. Tolerances were seen in two published
tables, p in one. The worked fits are sums of those values, some seen as printed limits.
"""

from __future__ import annotations

import math

import pytest
from borewright.core.errors import BadSetting
from borewright.core.fitting.iso_286 import (
    GRADES,
    USUAL_FITS,
    IsoFit,
    held_grade,
    hole_limits,
    iso_fit,
    like_fit,
    printable,
    shaft_limits,
    tolerance,
)
from borewright.core.fitting.iso_words import like_words, printable_words

STEPS = [(3, 6), (6, 10), (10, 18), (18, 30), (30, 50), (50, 80), (80, 120)]

TOLERANCES = """
5 6 8 9 11 13 15
8 9 11 13 16 19 22
12 15 18 21 25 30 35
18 22 27 33 39 46 54
30 36 43 52 62 74 87
48 58 70 84 100 120 140
75 90 110 130 160 190 220
120 150 180 210 250 300 350
180 220 270 330 390 460 540
300 360 430 520 620 740 870
"""
"""ISO 286-1:2010, table 1: a line a grade from IT5 to IT14, a column a step."""

WORKED = {
    # limits seen as printed in a published table
    "10 H7/g6": (0, 15, -14, -5, 5, 29),
    "20 H7/g6": (0, 21, -20, -7, 7, 41),
    "20 H8/f7": (0, 33, -41, -20, 20, 74),
    "50 H8/f7": (0, 39, -50, -25, 25, 89),
    # sums of the standard's tolerances and deviations
    "12 H8/f7": (0, 27, -34, -16, 16, 61),
    "16 H9/d9": (0, 43, -93, -50, 50, 136),
    "20 H7/k6": (0, 21, 2, 15, -15, 19),
    "20 H7/p6": (0, 21, 22, 35, -35, -1),
    "20 H11/c11": (0, 130, -240, -110, 110, 370),
    "25 H11/c11": (0, 130, -240, -110, 110, 370),
    "25 H9/d9": (0, 52, -117, -65, 65, 169),
    "30 H7/h6": (0, 21, -13, 0, 0, 34),
    "40 H11/c11": (0, 160, -280, -120, 120, 440),
    "45 H11/c11": (0, 160, -290, -130, 130, 450),
    "60 H7/g6": (0, 30, -29, -10, 10, 59),
    "100 H11/c11": (0, 220, -390, -170, 170, 610),
}
"""Hole lower and upper, shaft lower and upper, least and greatest clearance."""


def um(*lengths: float) -> tuple[float, ...]:
    """Whole and half micrometres, free of binary dust."""
    return tuple(round(1000.0 * length, 6) for length in lengths)


@pytest.mark.parametrize("grade", GRADES)
def test_tolerances_are_the_tables(grade: int) -> None:
    row = [float(value) for value in TOLERANCES.split("\n")[grade - 4].split()]
    assert [um(tolerance(high, grade))[0] for _, high in STEPS] == row
    assert [um(tolerance(low + 0.001, grade))[0] for low, _ in STEPS] == row


def asked_fit(text: str) -> IsoFit:
    """A fit with its nominal size, as 20 H7/g6."""
    size, name = text.split(" ")
    return iso_fit(float(size), name)


@pytest.mark.parametrize("fit", WORKED)
def test_worked_fits(fit: str) -> None:
    made = asked_fit(fit)
    assert um(
        made.hole.lower, made.hole.upper, made.shaft.lower, made.shaft.upper,
        made.least_clearance, made.greatest_clearance,
    ) == WORKED[fit]  # fmt: skip


@pytest.mark.parametrize(("letter", "values"), [
    ("c", [-70, -80, -95, -110, -120, -130, -140, -150, -170, -180]),
    ("d", [-30, -40, -50, -65, -80, -80, -100, -100, -120, -120]),
    ("e", [-20, -25, -32, -40, -50, -50, -60, -60, -72, -72]),
    ("f", [-10, -13, -16, -20, -25, -25, -30, -30, -36, -36]),
    ("g", [-4, -5, -6, -7, -9, -9, -10, -10, -12, -12]),
    ("h", [0] * 10),
])  # fmt: skip
def test_upper_deviations_of_shafts(letter: str, values: list[int]) -> None:
    """ISO 286-1:2010, table 4; from memory."""
    tops = (6, 10, 18, 30, 40, 50, 65, 80, 100, 120)
    assert [um(shaft_limits(top, letter, 9).upper)[0] for top in tops] == values


@pytest.mark.parametrize(("letter", "values"), [
    ("k", [1, 1, 1, 2, 2, 2, 3]),  # ISO 286-1:2010, table 5; from memory
    ("p", [12, 15, 18, 22, 26, 32, 37]),  # the same table, seen in a published one
])  # fmt: skip
def test_lower_deviations_of_shafts(letter: str, values: list[int]) -> None:
    assert [um(shaft_limits(top, letter, 6).lower)[0] for _, top in STEPS] == values


@pytest.mark.parametrize(("letter", "formula"), [
    ("d", lambda size: -16.0 * size**0.44),
    ("e", lambda size: -11.0 * size**0.41),
    ("f", lambda size: -5.5 * size**0.41),
    ("g", lambda size: -2.5 * size**0.34),
])  # fmt: skip
def test_deviations_from_memory_agree_with_the_textbook_formulas(
    letter: str, formula: object
) -> None:
    """Formulas of ISO 286-1's annex, of the geometric mean of a step, to rounding: 1 or 3 %.

    Not for c: its formula gives -87 and -98 where the table has -95 and -110.
    """
    for low, high in STEPS:
        expected = formula(math.sqrt(low * high))  # type: ignore[operator]
        assert um(shaft_limits(high, letter, 9).upper)[0] == pytest.approx(
            expected, abs=max(1.0, 0.03 * abs(expected))
        )


def test_the_tolerance_factor_explains_the_table_and_is_not_it() -> None:
    """i = 0.45 D^(1/3) + 0.001 D; IT7 = 16 i and IT11 = 100 i (ISO 286-1's annex)."""
    worst = 0.0
    for low, high in STEPS:
        size = math.sqrt(low * high)
        factor = 0.45 * size ** (1.0 / 3.0) + 0.001 * size
        for grade, times in ((7, 16.0), (11, 100.0)):
            table = um(tolerance(high, grade))[0]
            worst = max(worst, abs(times * factor - table) / table)
    assert 0.04 < worst < 0.043


# Misprints and traps seen in published tables


def test_30_belongs_to_18_to_30_and_40_to_30_to_40() -> None:
    """One published table has 30 in the step above: +25, -9/-25, +4/+20."""
    assert um(hole_limits(30.0, "H", 7).upper) == (21,)
    assert um(hole_limits(30.001, "H", 7).upper) == (25,)
    assert um(shaft_limits(30.0, "g", 6).upper, shaft_limits(30.0, "g", 6).lower) == (-7, -20)
    assert um(shaft_limits(30.0, "k", 6).lower, shaft_limits(30.0, "k", 6).upper) == (2, 15)
    assert um(shaft_limits(40.0, "c", 11).upper) == (-120,)
    assert um(shaft_limits(40.001, "c", 11).upper) == (-130,)


def test_values_are_rounded_as_the_standard_rounds_them() -> None:
    """One published table rounds the formula: 10 H7 = +14, 25 d9 = -64/-116."""
    assert um(hole_limits(10.0, "H", 7).upper) == (15,)
    assert um(shaft_limits(25.0, "d", 9).upper, shaft_limits(25.0, "d", 9).lower) == (-65, -117)


def test_e8_over_80_has_the_corrected_upper_deviation() -> None:
    """ISO 286-2:1988/Cor 1:2006: +126, not +125."""
    assert um(hole_limits(100.0, "E", 8).lower, hole_limits(100.0, "E", 8).upper) == (72, 126)


@pytest.mark.parametrize(
    "asked",
    ["3 H7/g6", "120.001 H7/g6", "2 H7/g6", "20 H4/g6", "20 H7/g15", "20 H7/k8", "20 H7/n6",
     "20 P7/h6", "20 K7/h6", "20 h7/g6", "20 H7", "20 H7g6", "-20 H7/g6"],
)  # fmt: skip
def test_what_the_tables_do_not_hold_is_refused(asked: str) -> None:
    with pytest.raises(BadSetting):
        asked_fit(asked)


def test_size_3_is_of_the_step_below_and_120_of_the_last_one() -> None:
    assert um(tolerance(3.001, 7), tolerance(120.0, 7)) == (12, 35)


# What a printer can hold


def test_a_printer_of_0_2_holds_it14_at_20_mm_and_none_of_the_usual_fits() -> None:
    """Its band of 0.4 mm lies between IT13, 0.33, and IT14, 0.52."""
    assert held_grade(20.0, 0.2) == 14
    verdicts = printable(20.0, 0.2)
    assert [(one.fit.name, um(one.needed, one.band), one.holds) for one in verdicts] == [
        ("H7/g6", (13, 400), False), ("H8/f7", (21, 400), False), ("H9/d9", (52, 400), False),
        ("H11/c11", (130, 400), False),
    ]  # fmt: skip


def test_a_printer_holds_a_fit_whose_tolerance_is_its_whole_band() -> None:
    assert [one.holds for one in printable(20.0, 0.065)] == [False, False, False, True]
    assert [one.holds for one in printable(20.0, 0.0651)] == [False] * 4
    assert [one.holds for one in printable(20.0, 0.0065)] == [True] * 4
    assert held_grade(20.0, 0.3) is None
    assert held_grade(20.0, 0.26) == 14


@pytest.mark.parametrize(("gap", "name"), [(0.024, "H7/g6"), (0.047, "H8/f7"), (0.117, "H9/d9"),
                                           (0.24, "H11/c11"), (0.4, "H11/c11")])  # fmt: skip
def test_the_like_fit_has_the_nearest_mean_clearance(gap: float, name: str) -> None:
    assert like_fit(20.0, gap).name == name


def test_words_tell_the_numbers() -> None:
    assert like_words(22.5, 0.15) == (
        "On 22.50 mm that is 0.30 mm of the diameter, as in ISO 286 H11/c11 (0.110 to 0.370 mm)."
    )
    assert "looser than ISO 286 H11/c11" in like_words(20.0, 0.2)
    assert "tighter than ISO 286 H7/g6 (0.007 to 0.041 mm)" in like_words(20.0, 0.0)
    assert "over 3 and up to 120 mm" in like_words(150.0, 0.15)
    assert printable_words(20.0, 0.2) == (
        "A printer true to plus and minus 0.2 mm varies diameters by 0.400 mm. ISO 286 allows "
        "H7/g6 0.013, H8/f7 0.021, H9/d9 0.052, H11/c11 0.130 mm: none of these is printable. "
        "The finest printable grade is IT14, 0.520 mm."
    )
    assert "of these it can print H11/c11." in printable_words(20.0, 0.05)
    assert "print H7/g6 and H8/f7 and H9/d9 and H11/c11." in printable_words(20.0, 0.005)
    assert "No grade to IT14 is printable." in printable_words(20.0, 0.4)
    assert printable_words(150.0, 0.2).endswith("varies diameters by 0.400 mm.")


def test_usual_fits_are_ever_looser() -> None:
    fits = [iso_fit(20.0, name) for name in USUAL_FITS]
    assert sorted(fits, key=lambda fit: fit.least_clearance) == fits
