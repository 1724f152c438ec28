"""ISO 286 limits and fits, as far as joints of printed parts need them.

Tables, not formulas: the standard's values are rounded, and its steps of nominal size run
from over one diameter up to and including the next. Tolerances and deviations are in
micrometres, as the standard prints them; what leaves this module is in mm. A hole C to H
has the shaft's deviation of the same letter with the sign turned.

ISO 286-1:2010 and ISO 286-2:2010, of shafts c to k and p, holes C to H, grades 5 to 14.
The deviations c, d, e, f, g and k, and the numbers of the standard's tables, stand here from
memory; tolerances and p were compared with published tables.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from dataclasses import dataclass

from ..errors import BadSetting

OVER, UP_TO = 3.0, 120.0
"""Nominal sizes, mm, that are kept here: over the first, up to and including the second."""

GRADES = range(5, 15)

_MAIN_STEPS = (6.0, 10.0, 18.0, 30.0, 50.0, 80.0, 120.0)
"""Greatest nominal size, mm, of each step."""

_FINE_STEPS = (6.0, 10.0, 18.0, 30.0, 40.0, 50.0, 65.0, 80.0, 100.0, 120.0)
"""The same where large steps are divided, as for deviation c."""

_TOLERANCES_UM = {
    5: (5, 6, 8, 9, 11, 13, 15),
    6: (8, 9, 11, 13, 16, 19, 22),
    7: (12, 15, 18, 21, 25, 30, 35),
    8: (18, 22, 27, 33, 39, 46, 54),
    9: (30, 36, 43, 52, 62, 74, 87),
    10: (48, 58, 70, 84, 100, 120, 140),
    11: (75, 90, 110, 130, 160, 190, 220),
    12: (120, 150, 180, 210, 250, 300, 350),
    13: (180, 220, 270, 330, 390, 460, 540),
    14: (300, 360, 430, 520, 620, 740, 870),
}
"""Of each grade, by main step."""

_UPPER_UM = {
    "d": (-30, -40, -50, -65, -80, -100, -120),
    "e": (-20, -25, -32, -40, -50, -60, -72),
    "f": (-10, -13, -16, -20, -25, -30, -36),
    "g": (-4, -5, -6, -7, -9, -10, -12),
    "h": (0, 0, 0, 0, 0, 0, 0),
}
"""Upper deviation of a shaft, by main step."""

_UPPER_C_UM = (-70, -80, -95, -110, -120, -130, -140, -150, -170, -180)
"""Upper deviation of a shaft c, by fine step."""

_LOWER_UM = {"k": (1, 1, 1, 2, 2, 2, 3), "p": (12, 15, 18, 22, 26, 32, 37)}
"""Lower deviation of a shaft, by main step; k in grades 5 to 7 only."""

_K_GRADES = range(5, 8)

USUAL_FITS = ("H7/g6", "H8/f7", "H9/d9", "H11/c11")
"""Running and sliding fits, the closest first."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Deviations from the nominal size, mm."""

    lower: float
    upper: float

    @property
    def tolerance(self) -> float:
        """Between them, mm."""
        return self.upper - self.lower


@dataclass(frozen=True, slots=True)
class IsoFit:
    """A hole and a shaft of one nominal size. Clearances are on the diameter, mm."""

    name: str
    nominal: float
    hole: Limits
    shaft: Limits

    @property
    def least_clearance(self) -> float:
        """Less than 0: so much interference."""
        return self.hole.lower - self.shaft.upper

    @property
    def greatest_clearance(self) -> float:
        """Less than 0: interference whatever the sizes."""
        return self.hole.upper - self.shaft.lower

    @property
    def narrowest_tolerance(self) -> float:
        """What its closer part may vary by, mm."""
        return min(self.hole.tolerance, self.shaft.tolerance)


@dataclass(frozen=True, slots=True)
class Printable:
    """Can a printer hold a fit?

    needed : mm, the tolerance of the fit's closer part
    band : mm, from the least to the greatest diameter that the printer makes
    """

    fit: IsoFit
    needed: float
    band: float

    @property
    def holds(self) -> bool:
        """Does every diameter that the printer makes lie within the tolerance, if centred?"""
        return self.band <= self.needed + 1e-9


def tolerance(nominal: float, grade: int) -> float:
    """Standard tolerance IT of a grade, mm.

    Raises
    ------
    BadSetting : no such size or grade is kept here

    References
    ----------
    ISO 286-1:2010, table 1.
    """
    if grade not in GRADES:
        raise BadSetting(
            f"ISO 286 grade IT{grade}",
            f"IT{GRADES[0]} to IT{GRADES[-1]}",
            "a grade in that range",
        )
    return _TOLERANCES_UM[grade][_step(_MAIN_STEPS, nominal)] / 1000.0


def shaft_limits(nominal: float, letter: str, grade: int) -> Limits:
    """Limits of a shaft, as of g6.

    Raises
    ------
    BadSetting : no such size, letter or grade is kept here

    References
    ----------
    ISO 286-1:2010, tables 4 and 5.
    """
    width = tolerance(nominal, grade)
    if letter in _LOWER_UM and (letter != "k" or grade in _K_GRADES):
        lower = _LOWER_UM[letter][_step(_MAIN_STEPS, nominal)] / 1000.0
        return Limits(lower, lower + width)
    upper = _upper_deviation(nominal, letter, f"shaft {letter}{grade}")
    return Limits(upper - width, upper)


def hole_limits(nominal: float, letter: str, grade: int) -> Limits:
    """Limits of a hole, as of H7.

    Raises
    ------
    BadSetting : no such size, letter or grade is kept here

    References
    ----------
    ISO 286-1:2010, table 2; E8 over 80 mm by ISO 286-2:1988/Cor 1:2006.
    """
    width = tolerance(nominal, grade)
    lower = -_upper_deviation(nominal, letter.lower(), f"hole {letter}{grade}") + 0.0
    return Limits(lower, lower + width)


def _upper_deviation(nominal: float, letter: str, asked: str) -> float:
    if letter == "c":
        return _UPPER_C_UM[_step(_FINE_STEPS, nominal)] / 1000.0
    if letter not in _UPPER_UM:
        raise BadSetting(
            f"ISO 286 {asked}",
            "a hole C to H, or a shaft c to h, p, or k5 to k7",
            "one of these",
        )
    return _UPPER_UM[letter][_step(_MAIN_STEPS, nominal)] / 1000.0


def _step(steps: tuple[float, ...], nominal: float) -> int:
    """Which step a size lies in; its greatest size belongs to it."""
    if not OVER < nominal <= UP_TO:
        raise BadSetting(
            f"a nominal size of {nominal:g} mm",
            f"over {OVER:g} and up to {UP_TO:g} mm, as the table here has it",
            "a size in that range",
        )
    return bisect_left(steps, nominal)


def iso_fit(nominal: float, name: str) -> IsoFit:
    """A fit by its name, as H7/g6.

    Raises
    ------
    BadSetting : it is no such name, or no such size, letter or grade is kept here
    """
    parts = re.fullmatch(r"([A-Z])([0-9]{1,2})/([a-z])([0-9]{1,2})", name)
    if parts is None:
        raise BadSetting(f"an ISO 286 fit {name!r}", "hole / shaft, as in H7/g6", "such a name")
    hole, hole_grade, shaft, shaft_grade = parts.groups()
    return IsoFit(
        name,
        nominal,
        hole_limits(nominal, hole, int(hole_grade)),
        shaft_limits(nominal, shaft, int(shaft_grade)),
    )


def printable(
    nominal: float, spread: float, names: tuple[str, ...] = USUAL_FITS
) -> tuple[Printable, ...]:
    """For each fit: can a printer hold it that makes diameters to plus and minus `spread`?

    Raises
    ------
    BadSetting : as `iso_fit`
    """
    fits = [iso_fit(nominal, name) for name in names]
    return tuple(Printable(fit, fit.narrowest_tolerance, 2.0 * spread) for fit in fits)


def held_grade(nominal: float, spread: float) -> int | None:
    """The finest grade that a printer holds; None: not even the coarsest one here.

    Raises
    ------
    BadSetting : no such size is kept here
    """
    held = (grade for grade in GRADES if tolerance(nominal, grade) >= 2.0 * spread - 1e-9)
    return next(held, None)


def like_fit(nominal: float, clearance: float) -> IsoFit:
    """The usual fit whose mean clearance is nearest to one on the diameter, mm.

    Raises
    ------
    BadSetting : no such size is kept here
    """
    fits = [iso_fit(nominal, name) for name in USUAL_FITS]
    return min(
        fits, key=lambda fit: abs(fit.least_clearance + fit.greatest_clearance - 2.0 * clearance)
    )
