"""A dowel wrapped in foam and fine paper, to smooth a bore: stock that adds up to it.

Dowel, foam and paper together, each foam and paper twice, are D = d + 2 f + 2 p across before
they go in. In a bore B the foam is squeezed by e = (D - B) / 2 a side, the share e / f of its
thickness. However long it is turned, it cannot make the bore wider than D, where the foam
presses no more: so the wall left is at least the wall less e.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

Press = Literal["falls short", "light", "hard"]
System = Literal["metric", "inch"]

SOURCE = "common practice, no source"

MM_PER_INCH = 25.4
"""Exact, by the international yard and pound agreement of 1959."""

METRIC_DOWELS = (2, 3, 4, 5, 6, 8, 10, 12, 15, 16, 18, 20, 22, 25, 28, 30, 35, 40, 45, 50)
"""mm. Common stock; common practice, no source."""

INCH_DOWELS = {
    "1/8": 2, "3/16": 3, "1/4": 4, "5/16": 5, "3/8": 6, "7/16": 7, "1/2": 8, "9/16": 9,
    "5/8": 10, "3/4": 12, "7/8": 14, "1": 16, "1 1/8": 18, "1 1/4": 20, "1 3/8": 22,
    "1 1/2": 24, "1 3/4": 28, "2": 32,
}  # fmt: skip
"""In sixteenths of an inch, by name. Common stock; common practice, no source."""

FOAMS = (2.0, 3.0, 5.0)
"""Thicknesses, mm, of craft foam in sheets. Common practice, no source."""

PAPER = (0.2, 0.4)
"""Thickness, mm, of a sheet of fine abrasive paper: a range, doubtful; measure yours."""

PAPER_SOURCE = "common practice, no source, doubtful: measure your sheet"

LIGHT_SQUEEZE = (0.0, 0.3)
"""Share of its thickness by which foam is squeezed where it presses lightly: judgement, no
source."""

MOST_LOOSE = 4.0
"""mm, by which a bare dowel with its paper may be narrower than the bore: judgement, no source."""

_AIMED_SQUEEZE = 0.12
_STRAIGHT = 0.1
"""mm on the diameter, by which a bore may taper and still take one dowel all along."""

FEPA_GRAINS = {
    "P180": 82.0, "P240": 58.5, "P320": 46.2, "P400": 35.0, "P600": 25.8, "P800": 21.8,
    "P1000": 18.3,
}  # fmt: skip
"""Mean grain, micrometres, of fine papers by FEPA's P series (ISO 6344; from memory)."""

BORE_GRITS = ("P240", "P400", "P600")
"""One after the other. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Dowel:
    """A dowel as it is sold.

    name : with its unit
    diameter : mm
    """

    name: str
    diameter: float
    system: System


@dataclass(frozen=True, slots=True)
class Mandrel:
    """A dowel with one turn of foam and one of paper, for one bore. Pairs: thin paper, thick paper.

    bore : mm, its diameter
    foam : mm, thickness
    wall : mm, the thinnest beside the bore
    least_wall : mm, that has to be left of it
    """

    dowel: Dowel
    foam: float
    bore: float
    wall: float
    least_wall: float

    @property
    def across(self) -> tuple[float, float]:
        """mm, before it goes in."""
        thin, thick = (self.dowel.diameter + 2.0 * (self.foam + paper) for paper in PAPER)
        return thin, thick

    @property
    def squeeze(self) -> tuple[float, float]:
        """Share of the foam's thickness; negative where it does not reach the wall."""
        thin, thick = ((across - self.bore) / 2.0 / self.foam for across in self.across)
        return thin, thick

    @property
    def press(self) -> Press:
        """How it presses, whatever the paper in the range is."""
        if self.squeeze[0] < LIGHT_SQUEEZE[0]:
            return "falls short"
        return "light" if self.squeeze[1] <= LIGHT_SQUEEZE[1] else "hard"

    @property
    def wall_left(self) -> float:
        """mm, of the wall, when it has cut all that it can."""
        return self.wall - max(0.0, self.across[1] - self.bore) / 2.0

    @property
    def keeps_wall(self) -> bool:
        """Does it stay short of thinning the wall below the least?"""
        return self.wall_left >= self.least_wall


def all_dowels() -> tuple[Dowel, ...]:
    """Every dowel of the tables."""
    metric = (Dowel(f"{size} mm", float(size), "metric") for size in METRIC_DOWELS)
    inch = (
        Dowel(f"{name} in", sixteenths * MM_PER_INCH / 16.0, "inch")
        for name, sixteenths in INCH_DOWELS.items()
    )
    return (*metric, *inch)


def mandrels_for(bore: float, wall: float, least_wall: float) -> tuple[Mandrel, ...]:
    """For each foam, and metric and inch dowels, the one that comes nearest to a light press.

    Only such as keep the wall and do not press hard; none where foam has no room, or the bore
    is wider than dowels are.

    Parameters
    ----------
    bore : mm, diameter
    wall, least_wall : mm, the thinnest beside it, and what has to be left
    """
    return tuple(_nearest(bore, wall, least_wall))


def _nearest(bore: float, wall: float, least_wall: float) -> Iterator[Mandrel]:
    dowels = all_dowels()
    for foam in FOAMS:
        for system in ("metric", "inch"):
            tried = [
                Mandrel(dowel, foam, bore, wall, least_wall)
                for dowel in dowels
                if dowel.system == system and dowel.diameter < bore - 2.0 * PAPER[1]
            ]
            if fit := [one for one in tried if _serves(one)]:
                yield min(fit, key=_off_aim)


def _off_aim(mandrel: Mandrel) -> float:
    return abs(sum(mandrel.squeeze) / 2.0 - _AIMED_SQUEEZE)


def _serves(mandrel: Mandrel) -> bool:
    """Does it do no harm, and reach the wall but for some tape?"""
    reaches = sum(mandrel.squeeze) / 2.0 >= -0.5
    return reaches and mandrel.press != "hard" and mandrel.keeps_wall


@dataclass(frozen=True, slots=True)
class BareDowel:
    """A dowel with one turn of paper and no foam."""

    dowel: Dowel

    @property
    def across(self) -> tuple[float, float]:
        """With thin paper, with thick paper, mm."""
        thin, thick = (self.dowel.diameter + 2.0 * paper for paper in PAPER)
        return thin, thick


def bare_dowel_for(bore: float) -> BareDowel | None:
    """The thickest that passes a bore, mm, with any paper; None where none does or all rattle."""
    passing = [BareDowel(dowel) for dowel in all_dowels()]
    passing = [one for one in passing if one.across[1] <= bore]
    thickest = max(passing, key=lambda one: one.across[1], default=None)
    if thickest is None or bore - thickest.across[1] > MOST_LOOSE:
        return None
    return thickest


def is_straight(diameters: Sequence[float]) -> bool:
    """Does one dowel suit the bore from end to end?"""
    return max(diameters) - min(diameters) <= _STRAIGHT
