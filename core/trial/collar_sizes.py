"""Sizes of a stub of a thin tube, and of the halves of its collar that are tried on it.

The upper half of a collar would only repeat the lower one, so each ring ends at the seam.
Its lugs fill the same notches with another gap.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..errors import BadSetting
from ..jointing.collar_design import collar_on, gable_gap, gable_radius, least_reach, notch_of
from ..values import Collar, Lug, RoundSurface, Settings, WallStretch
from .ring_sizes import ESTIMATE_SHARE, FEWEST, MOST, trial_clearances
from .trial_bars import Bars, bars_of
from .trial_set import MOST_PLASTIC
from .tried_joint import TriedCollar

FOOT = 2.0
"""Height, mm, of the stub below a ring that is home."""

THIN = 1.2
"""Wall, mm, that a ring is thinned to where plastic must be saved: three lines of a 0.4 nozzle."""

_GABLE_ROOM = 0.03
"""Further axial room of a lug, mm: its gables have other facets than those of its notch."""

_ROOM_ENOUGH = 0.2
"""A clearance, mm, that has that room for facets."""

_GRID = 0.1
"""The rings' reach is told as it is: whole tenths of a mm."""


@dataclass(frozen=True, slots=True)
class CollarSizes:
    """A stub and halves of its collar, in a tube about the z axis cut at `station`.

    collar : with the clearance asked for; its reach is the rings'
    wall : of the tube
    clearances : mm a side, ring after ring, growing
    outside : radius, mm, of the rings, bars apart
    """

    tried: TriedCollar
    collar: Collar
    wall: WallStretch
    clearances: tuple[float, ...]
    outside: float
    bars: Bars
    remarks: tuple[str, ...]

    @property
    def station(self) -> float:
        """Of the seam, mm."""
        return FOOT + self.collar.reach

    def settings_of(self, clearance: float) -> Settings:
        """The settings with a ring's clearance."""
        return replace(self.tried.settings, clearance=clearance)

    def collar_of(self, clearance: float) -> Collar:
        """The collar of another clearance, for the same notches; its outside stays."""
        gap = self.settings_of(clearance).made_clearance
        other = _collar(self.tried, self.wall, self.collar.reach, gap)
        lugs = tuple(map(self._lug_in, self.collar.lugs, other.lugs, (other,) * len(other.lugs)))
        thickness = self.outside - self.wall.outer.radius_at(self.station) - gap
        return replace(other, lugs=lugs, thickness=thickness)

    def made_collar_of(self, clearance: float) -> Collar:
        """The same as it is made: the lugs of a small gap a little less high."""
        collar = self.collar_of(clearance)
        if collar.radial_clearance > _ROOM_ENOUGH:
            return collar
        lugs = tuple(replace(lug, flank=lug.flank - _GABLE_ROOM) for lug in collar.lugs)
        return replace(collar, lugs=lugs)

    def _lug_in(self, own: Lug, other: Lug, collar: Collar) -> Lug:
        """The lug that leaves another gap in the notch of our own.

        A gable is the steeper the wider its collar: on the mean it is as far off the notch's.
        """
        notch, station = notch_of(self.collar, self.station, own), self.station
        rise = other.side_gap * gable_radius(collar, station)
        mean = sum(lug.half_width for lug in self.collar.lugs) / len(self.collar.lugs)
        steeper = gable_radius(collar, station) - gable_radius(self.collar, station)
        return Lug(
            angle=own.angle,
            half_width=notch.half_width - other.side_gap,
            side_gap=other.side_gap,
            flank=notch.flank - gable_gap(collar, station) + rise - mean * steeper / 2.0,
        )


def collar_sizes(tried: TriedCollar) -> CollarSizes:
    """The first of the sizes, from the truest on, that stay within the plastic allowed.

    Raises
    ------
    BadSetting : even the fewest and thinnest rings take more
    """
    for sizes in _from_the_truest(tried):
        if plastic_of(sizes) <= ESTIMATE_SHARE * MOST_PLASTIC:
            return sizes
    share = ESTIMATE_SHARE * MOST_PLASTIC / plastic_of(sizes)
    raise BadSetting(
        f"{plastic_of(sizes) / 1000.0:.1f} cm3 of plastic for {1 + FEWEST} rings about a tube of "
        f"{2.0 * tried.outer_radius:.1f} mm, walls at their thinnest",
        f"at most {MOST_PLASTIC / 1000.0:.0f} cm3",
        "a trial of a narrower tube, --bore and --wall for an outside of at most "
        f"{math.floor(2.0 * tried.outer_radius * share):.0f} mm: the gap that a printer needs "
        "depends little on the diameter",
    )


def _from_the_truest(tried: TriedCollar) -> Iterator[CollarSizes]:
    for count in (MOST, FEWEST):
        for thickness in (tried.collar.thickness, max(THIN, tried.settings.least_wall)):
            yield _sizes(tried, count, min(thickness, tried.collar.thickness))


def _sizes(tried: TriedCollar, count: int, thickness: float) -> CollarSizes:
    settings = tried.settings
    clearances = trial_clearances(settings.clearance, count)
    widest = replace(settings, clearance=clearances[-1]).made_clearance
    reach = _reach(tried, widest)
    wall = _wall(tried, FOOT + reach)
    outside = tried.outer_radius + widest + thickness
    return CollarSizes(
        tried=tried,
        collar=_collar(tried, wall, reach, settings.made_clearance),
        wall=wall,
        clearances=clearances,
        outside=outside,
        bars=bars_of(outside, settings.nozzle, tried.collar.lugs[0].angle),
        remarks=_remarks(tried, count, reach, thickness),
    )


def _wall(tried: TriedCollar, station: float) -> WallStretch:
    """The tube, cut in its middle."""
    inner, outer = (
        RoundSurface(radius, 0.0, 0.0, 2.0 * station)
        for radius in (tried.bore_radius, tried.outer_radius)
    )
    return WallStretch((0,), inner, outer, 0.0, 2.0 * station)


def _reach(tried: TriedCollar, gap: float) -> float:
    """The shortest reach, mm, that holds the lugs with the widest gap."""
    wall = _wall(tried, tried.collar.reach + FOOT)
    least = least_reach(wall, wall.stop / 2.0, tried.collar.reach, gap)
    return math.ceil(least / _GRID - 1e-6) * _GRID


def _collar(tried: TriedCollar, wall: WallStretch, reach: float, gap: float) -> Collar:
    angles = tuple(lug.angle for lug in tried.collar.lugs)
    least_wall = tried.settings.least_wall
    return collar_on(wall, 0, wall.stop / 2.0, reach, gap, least_wall, "outside", angles)


def plastic_of(sizes: CollarSizes) -> float:
    """Volume, mm3, of stub and rings in the file, facets, notches and bevels left out."""
    inner, outer, reach = sizes.tried.bore_radius, sizes.tried.outer_radius, sizes.collar.reach
    stub = math.pi * (outer**2 - inner**2) * (FOOT + reach)
    rings = 0.0
    for number, clearance in enumerate(sizes.clearances, 1):
        collar = sizes.collar_of(clearance)
        mating = sizes.outside - collar.thickness
        lugs = sum(2.0 * lug.half_width for lug in collar.lugs) * (mating**2 - inner**2) / 2.0
        rings += math.pi * (sizes.outside**2 - mating**2) * reach
        rings += lugs * collar.lugs[0].flank + sizes.bars.volume(number, reach)
    larger: float = sizes.tried.settings.print_scale**3
    return larger * (stub + rings)


def _remarks(tried: TriedCollar, count: int, reach: float, thickness: float) -> tuple[str, ...]:
    own = tried.collar
    told = [
        (
            f"Each ring is the lower half of a collar, {reach:.1f} mm high, the joint's "
            f"{own.reach:.1f} mm: the gap is what is tried."
        )
    ]
    if thickness < own.thickness:
        told.append(
            f"To save plastic the rings are {thickness:.2f} mm thick, the joint's collar "
            f"{own.thickness:.2f} mm."
        )
    if count < MOST:
        told.append(f"To save plastic there are {count} rings in place of {MOST}.")
    return tuple(told)
