"""The sizes of a collar over both ends at a seam, or of a sleeve within both.

Where a wall is too thin to share between a tenon and a socket the pieces meet in a plain
butt seam, and a ring of its own lies over both ends. Its lugs fill notches through the
part's whole wall, half in either piece, so that it holds them in place and in one rotation.
"""

from __future__ import annotations

import math
from typing import Literal, TypeVar

import numpy as np

from ..errors import BadSetting, CrowdedZone, WallTooThin
from ..values import (
    CHORD_TOLERANCE,
    FACET_ALLOWANCE,
    LEAD_IN,
    Collar,
    FloatArray,
    Lug,
    RoundSurface,
    Survey,
    WallStretch,
)

Place = Literal["outside", "inside"]
Stations = TypeVar("Stations", float, FloatArray)

LEAST_THICKNESS = 1.6
"""Four lines of a 0.4 nozzle, mm. Common practice, no source."""

MOST_THICKNESS = 3.0
"""mm, however thick the part's wall: what is glued holds no more."""

LUG_WIDTH, FIRST_LUG_WIDTH = 3.0, 3.6
"""Widths, mm, at the outside. The first lug is wider: a collar upside down does not seat."""

LUG_FLANK = 1.5
"""Height, mm, of a lug's upright flank above the seam, and below it."""

SET_BACK = 0.2
"""How far, mm, a lug's end stays back from the surface that the wall ends in."""

MOST_LUG_PLAY = math.radians(0.6)
"""A lug's play to each side; two pieces turn by twice this, and the contract allows 1.5 degrees."""

PASSING_SHARE = 0.5
"""Of the clearance, what a taper must leave while a collar passes the piece's end."""

LEAST_BORE_LEFT = 2.0
"""Diameter, mm, that a sleeve must leave open."""

GABLE_TOLERANCE = 0.002
"""Greatest distance, mm, of a gable from its facets."""

_ROUND_OFF = 1e-9
"""mm, by which what is told as just enough may miss it."""

_BEYOND_NOTCH = 0.5
_PARALLEL_BEYOND = 1.0
"""How far, mm, a flat cut, and a collar's bevel, keep from the notches."""


def collar_on(
    wall: WallStretch,
    wall_number: int,
    station: float,
    engagement: float,
    radial_clearance: float,
    least_wall: float,
    place: Place,
    lug_angles: tuple[float, ...],
) -> Collar:
    """A collar or a sleeve over the seam at a station.

    Parameters
    ----------
    wall : that holds the whole zone; outside of it there is nothing, see `is_bare`
    engagement : mm, by which it covers either side of the seam
    lug_angles : radians about its centre line, the first lug's first

    Raises
    ------
    WallTooThin : the wall is thinner than the least wall, or a sleeve closes the bore
    CrowdedZone : the round surfaces end within the zone
    BadSetting : several bores or none, an engagement too short for the lugs, or a taper
        that a collar of this clearance cannot pass
    """
    if len(wall.bores) != 1:
        raise BadSetting(
            f"--joint {_word(place)} at station {station:.2f} mm, where the part has "
            f"{len(wall.bores)} bores",
            "1 bore",
            "--joint tenon or --joint pins",
        )
    _check_zone(wall, station, engagement)
    _check_wall(wall, station, engagement, least_wall)
    mating = wall.outer if place == "outside" else _bore(wall)
    _check_taper(mating, station, engagement, radial_clearance)
    _check_reach(wall, station, engagement, radial_clearance)
    lugs = tuple(
        _lug(wall, station, engagement, radial_clearance, angle, first=not number)
        for number, angle in enumerate(lug_angles)
    )
    collar = Collar(
        place=place,
        wall=wall_number,
        inner=_bore(wall),
        outer=wall.outer,
        reach=engagement,
        thickness=_thickness(wall, station, engagement, least_wall),
        radial_clearance=radial_clearance,
        lugs=lugs,
    )
    if place == "inside":
        _check_bore_left(collar, station)
    return collar


# --- what a planner asks ----------------------------------------------------------------


def collar_zone(station: Stations, reach: float) -> tuple[Stations, Stations]:
    """Stations between which nothing but bore and outside may lie."""
    return station - reach, station + reach


def collar_wall(wall: WallStretch, stations: FloatArray, reach: float) -> FloatArray:
    """The least wall, mm, within reach of stations; linear on each side of a kink."""
    outer, inner = wall.outer, _bore(wall)
    apart = math.dist(outer.offset, inner.offset) + outer.sagitta + inner.sagitta
    walls = [outer.radii_at(end) - inner.radii_at(end) for end in collar_zone(stations, reach)]
    least: FloatArray = np.minimum(*walls) - apart
    return least


def thickest_wall(wall: WallStretch, station: float, reach: float) -> float:
    """The greatest wall, mm, within reach of a station, about either centre line."""
    outer, inner = wall.outer, _bore(wall)
    most = max(outer.radius_at(z) - inner.radius_at(z) for z in collar_zone(station, reach))
    return most + math.dist(outer.offset, inner.offset)


def _thickness(wall: WallStretch, station: float, reach: float, least_wall: float) -> float:
    """The ring's own wall, mm: as thick as the part's, within limits."""
    thickest = max(thickest_wall(wall, station, reach), LEAST_THICKNESS)
    return min(thickest, max(MOST_THICKNESS, least_wall + FACET_ALLOWANCE))


def _bore(wall: WallStretch) -> RoundSurface:
    """The bore of a wall that has one."""
    assert wall.inner is not None, "collars are for tubes"
    return wall.inner


def least_reach(wall: WallStretch, station: float, reach: float, radial_clearance: float) -> float:
    """The shortest engagement, mm, that covers the lugs and leaves the collar's bevels.

    On a taper it grows a little with the reach that is asked for.
    """
    half_width = _lug(wall, station, reach, radial_clearance, 0.0, first=True).half_width
    bare = Collar("outside", 0, _bore(wall), wall.outer, reach, 0.0, radial_clearance, ())
    rise = half_width * gable_radius(bare, station) + gable_gap(bare, station)
    return LUG_FLANK + rise + LEAD_IN + _PARALLEL_BEYOND


def taper_needs(surface: RoundSurface, reach: float) -> float:
    """The least clearance, mm a side, with which a collar passes a tapered end."""
    return abs(surface.slope) * reach / (1.0 - PASSING_SHARE) - _ROUND_OFF


def is_bare(survey: Survey, wall: WallStretch) -> bool:
    """Whether the part ends in the wall's outer surface: a round outside, not a disc in it."""
    return wall.outer in survey.outsides


def bore_left(collar: Collar, station: float) -> float:
    """Diameter, mm, that is left of the bore where a sleeve is; the bore's own with a collar."""
    narrowest = min(collar.inner.radius_at(end) for end in collar_zone(station, collar.reach))
    if collar.place == "outside":
        return 2.0 * narrowest
    return 2.0 * (narrowest - collar.radial_clearance - CHORD_TOLERANCE - collar.thickness)


def collar_width(collar: Collar, station: float) -> float:
    """Greatest diameter, mm, of the collar itself."""
    widest = max(mating_radius(collar, end) for end in collar_zone(station, collar.reach))
    return 2.0 * (widest + (collar.thickness if collar.place == "outside" else 0.0))


# --- sizes that the faces share -----------------------------------------------------------


def mating_surface(collar: Collar) -> RoundSurface:
    """The part's surface that the collar lies on; its centre line is the collar's."""
    return collar.outer if collar.place == "outside" else collar.inner


def mating_radius(collar: Collar, station: float) -> float:
    """Radius, mm, of the collar's surface that faces the part."""
    if collar.place == "inside":
        return collar.entering_radius(station)
    return collar.outer.radius_at(station) + collar.radial_clearance


def gable_radius(collar: Collar, station: float) -> float:
    """Radius, mm, at which a gable rises at 45 degrees: nothing of a lug lies farther out."""
    outer, inner = collar.outer, collar.inner
    widest = max(outer.radius_at(end) for end in collar_zone(station, collar.reach))
    off = math.dist(outer.offset, inner.offset)
    return widest + off + collar.radial_clearance + CHORD_TOLERANCE


def lug_height(collar: Collar, station: float, lug: Lug) -> float:
    """Height, mm, of a lug's ridge over the seam."""
    return lug.flank + lug.half_width * gable_radius(collar, station)


def gable_gap(collar: Collar, station: float) -> float:
    """Height, mm, between a lug's gable and its notch's: the clearance across it, or more."""
    off = math.dist(collar.outer.offset, collar.inner.offset)
    least = min(collar.inner.radius_at(end) for end in collar_zone(station, collar.reach)) - off
    lean = math.hypot(1.0, gable_radius(collar, station) / least)
    return (collar.radial_clearance + 2.0 * GABLE_TOLERANCE) * lean


def notch_of(collar: Collar, station: float, lug: Lug) -> Lug:
    """The notch that a lug fills, as a hexagon without a gap."""
    rise = lug.side_gap * gable_radius(collar, station)
    flank = lug.flank + gable_gap(collar, station) - rise
    return Lug(lug.angle, lug.half_width + lug.side_gap, 0.0, flank)


def notch_height(collar: Collar, station: float) -> float:
    """Height, mm, of the highest notch's ridge over the seam."""
    return max(lug_height(collar, station, lug) for lug in collar.lugs) + gable_gap(collar, station)


def flat_cuts(collar: Collar, station: float) -> tuple[float, float]:
    """Stations at which the part is cut flat: below and above all notches.

    The lower piece keeps what is below the first, the upper what is above the second;
    `collar_faces.add_collar_end` makes the wall between anew.
    """
    far = notch_height(collar, station) + _BEYOND_NOTCH
    return station - far, station + far


# --- checks -----------------------------------------------------------------------------------


def _word(place: Place) -> str:
    return "collar" if place == "outside" else "sleeve"


def _lug(
    wall: WallStretch,
    station: float,
    reach: float,
    radial_clearance: float,
    angle: float,
    *,
    first: bool,
) -> Lug:
    ends = collar_zone(station, reach)
    outer = max(wall.outer.radius_at(end) for end in ends)
    inner = min(_bore(wall).radius_at(end) for end in ends)
    width = FIRST_LUG_WIDTH if first else LUG_WIDTH
    return Lug(
        angle=angle,
        half_width=0.5 * width / outer,
        side_gap=min(radial_clearance / inner, MOST_LUG_PLAY),
        flank=LUG_FLANK,
    )


def _check_zone(wall: WallStretch, station: float, reach: float) -> None:
    low, high = collar_zone(station, reach)
    if low < wall.start - 1e-9 or high > wall.stop + 1e-9:
        raise CrowdedZone(
            f"one straight or evenly tapered wall from {wall.start:.2f} to {wall.stop:.2f} mm",
            f"one from {low:.2f} to {high:.2f} mm, {reach:.2f} mm on both sides of the seam",
            "a --cut elsewhere, or --engagement smaller",
        )


def _check_wall(wall: WallStretch, station: float, reach: float, least_wall: float) -> None:
    least = float(collar_wall(wall, np.array([station]), reach)[0])
    if least < least_wall:
        raise WallTooThin(
            f"wall {least:.2f} mm within {reach:.2f} mm of station {station:.2f} mm",
            f"{least_wall:.2f} mm of wall, the least wall, for a plain seam under a collar",
            "a thicker part, or --least-wall smaller",
        )


def _check_taper(
    surface: RoundSurface, station: float, reach: float, radial_clearance: float
) -> None:
    needed = taper_needs(surface, reach)
    if radial_clearance < needed:
        slope = abs(surface.slope)
        shorter = math.floor(10.0 * radial_clearance * (1.0 - PASSING_SHARE) / slope) / 10.0
        raise BadSetting(
            f"a surface that tapers by {slope * reach:.3f} mm a side over {reach:.2f} mm of "
            f"engagement at station {station:.2f} mm, at a clearance of {radial_clearance:.2f} mm",
            f"a taper of {radial_clearance * (1.0 - PASSING_SHARE):.3f} mm at the most, for the "
            "ring to pass the piece's end",
            f"--engagement {shorter:.1f} or less, or --clearance "
            f"{math.ceil(needed * 100.0 - 1e-9) / 100.0:.2f} or more",
        )


def _check_reach(
    wall: WallStretch, station: float, engagement: float, radial_clearance: float
) -> None:
    needed = least_reach(wall, station, engagement, radial_clearance)
    if engagement < needed:
        raise BadSetting(
            f"an engagement of {engagement:.2f} mm at station {station:.2f} mm",
            f"{needed:.2f} mm on either side of the seam, for lugs {LUG_FLANK:.2f} mm upright "
            "with 45 degree gables, and the ring's bevels",
            f"--engagement {math.ceil(needed * 10.0 - 1e-9) / 10.0:.1f} or more",
        )


def _check_bore_left(collar: Collar, station: float) -> None:
    left = bore_left(collar, station)
    if left < LEAST_BORE_LEFT:
        raise WallTooThin(
            f"a bore of {max(left, 0.0):.2f} mm left by a sleeve of {collar.thickness:.2f} mm "
            f"at station {station:.2f} mm",
            f"{LEAST_BORE_LEFT:.2f} mm",
            "--joint collar",
        )
