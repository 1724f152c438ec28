"""The sizes of a joint at a station: radii, heights and key, from the wall there."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..errors import WallTooThin
from ..values import FACET_ALLOWANCE, MOUTH_RELIEF, FloatArray, Key, Mark, Tenon
from .hull import hull_middle, outline_excess, outline_length, outline_place, outline_points
from .joint_line import JointLine
from .key_pattern import LEAST_STEP, LEAST_WEB, MARK_GAP, mark_places, second_turn
from .tenon_line import check_parallel

LEAST_ENGAGEMENT, MOST_ENGAGEMENT, ENGAGEMENT_STEP = 6.0, 25.0, 0.5
SHORT_ENGAGEMENT_SHARE = 0.35
ENGAGEMENT_TIE = 1e-4
"""Half a step goes up, also where a survey's last digits lie just under it."""

KEY_WIDTH_SHARE = 0.35
LEAST_KEY_WIDTH = 2.4
"""Six lines of a 0.4 nozzle, mm: a key must be plastic, not a wisp."""

MOST_KEY_TURN = 0.9
"""A key of a very thin tenon is narrower: so many radians of it, that two find room."""

MOST_MARK_DEPTH, LEAST_MARK_DEPTH = 1.2, 0.7
"""Of a witness mark, mm: what can be seen of a print, and what the wall can spare."""

MOST_PLAY = math.radians(1.25)
"""A key's play to each side; the contract allows 1.5 degrees."""

_BEYOND_PLAY = 0.2
"""How much farther apart, mm, second ribs of two cuts stand than the gaps on flanks take up."""

_SAME_LEVER = 1e-6

FLANK_LEAN = 0.05
"""How far a rib's flank leans, mm along the arc, over its relief."""


def usual_engagement(joint_diameter: float) -> float:
    """Half the joint's diameter, between 6 and 25, to 0.5 mm. Common practice, no source."""
    steps = math.floor(joint_diameter / 2.0 / ENGAGEMENT_STEP + 0.5 + ENGAGEMENT_TIE)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


def shortest_engagement(joint_diameter: float) -> float:
    """0.35 of the joint's diameter, up to the next 0.5 mm, not under 6."""
    steps = math.ceil(joint_diameter * SHORT_ENGAGEMENT_SHARE / ENGAGEMENT_STEP - 1e-9)
    return min(max(steps * ENGAGEMENT_STEP, LEAST_ENGAGEMENT), MOST_ENGAGEMENT)


@dataclass(frozen=True, slots=True)
class CutPlace:
    """Which cut of a part a joint is for, from 0, of how many, and where its first key goes.

    room_below : mm, under the seam down to the joint below, or to the part's end
    """

    number: int
    count: int
    key_angle: float
    room_below: float = math.inf


def tenon_on(line: JointLine, station: float, place: CutPlace) -> Tenon:
    """A tenon in mid wall at a station, around the bore or both bores of a run of wall.

    On a taper the wall is the one left over the whole zone: the widest bore and
    the narrowest outer surface of it.

    Raises
    ------
    WallTooThin : the wall cannot hold tenon, clearance, ribs and socket, or the
        engagement is too short for the 45 degree tip that the wall asks for
    """
    here = np.array([station])
    _check_wall(line, here)
    check_parallel(line, station, "a")
    run = line.run
    tenon_radius = float(line.tenon_radius(here)[0])
    rise = float(line.rise(here)[0])
    at_tip = [bore.radius_at(station + rise) for bore in run.surfaces] or [0.0]
    bare = Tenon(
        station=station,
        engagement=line.engagement,
        tenon_radius=tenon_radius,
        socket_radius=tenon_radius + line.radial_clearance,
        radial_clearance=line.radial_clearance,
        land=float(line.land(here)[0]),
        bore_radius_at_tip=at_tip[0],
        roof_top=station + float(line.zone(here)[0]),
        wall=run.wall_number(station),
        bores=run.bores,
        centres=run.centres,
        swells=tuple(radius - at_tip[0] for radius in at_tip),
        crest=line.engagement - rise,
        outline_excess=outline_excess(np.array(run.centres), np.array(at_tip)),
    )
    if not line.ribs:
        return bare
    spare = float(line.outer_radius(here)[0]) - bare.socket_radius - line.least_wall
    depth = mark_depth(spare, place.room_below - line.least_wall)
    return with_pattern(bare, line.relief, depth, place)


def mark_depth(spare: float, room: float) -> float:
    """Depth of a cut's witness marks, mm; 0 where it would be too little to be seen.

    Parameters
    ----------
    spare : mm, of the socket's wall beyond the least
    room : mm, of what is under the shoulder, down to the joint below, beyond the least wall
    """
    depth = min(MOST_MARK_DEPTH, MOUTH_RELIEF + spare - FACET_ALLOWANCE, room)
    return depth if depth >= LEAST_MARK_DEPTH else 0.0


def with_pattern(bare: Tenon, relief: float, depth: float, place: CutPlace) -> Tenon:
    """A tenon with the keys and witness marks of its cut.

    Parameters
    ----------
    relief : mm, of its ribs
    depth : mm, of its marks; 0: none
    """
    width = key_width(bare.tenon_radius)
    second = place_turn(bare, place, width)
    half = 0.5 * width / bare.tenon_radius
    angles = (place.key_angle, turned_along(bare, place.key_angle, second))
    gaps = _side_gaps(bare, relief, width, angles)
    keys = tuple(Key(angle, half, gap, relief) for angle, gap in zip(angles, gaps, strict=True))
    marks = _marks(bare, width, second, depth, place) if depth else ()
    return replace(bare, keys=keys, marks=marks)


def key_width(tenon_radius: float) -> float:
    """Width of a rib along the tenon's outline, mm."""
    return max(KEY_WIDTH_SHARE * tenon_radius, min(LEAST_KEY_WIDTH, MOST_KEY_TURN * tenon_radius))


def place_turn(bare: Tenon, place: CutPlace, width: float) -> float:
    """Angle, radians, from the first key to the second: along the outline where it is no circle."""
    radius = bare.tenon_radius
    gap = min(bare.radial_clearance, MOST_PLAY * radius)
    step = max(LEAST_STEP, (2.0 * gap + _BEYOND_PLAY) / radius)
    return second_turn(place.number, place.count, (width + LEAST_WEB) / radius, step)


def turned_along(bare: Tenon, angle: float, turn: float) -> float:
    """The angle from the middle of the place on an outline that lies a turn on from another.

    Around two bores a turn is that share of the whole outline.
    """
    if len(bare.bores) < 2:
        return math.remainder(angle + turn, 2.0 * math.pi)
    discs = np.array(bare.centres), bare.tenon_radius + np.array(bare.swells)
    whole = outline_length(*discs, 0.0)
    place = outline_place(*discs, 0.0, angle) + turn * whole / (2.0 * math.pi)
    points, _ = outline_points(*discs, 0.0, np.array([place]))
    x, y = points[0] - hull_middle(discs[0])
    return math.atan2(y, x)


def _marks(
    bare: Tenon, width: float, second: float, depth: float, place: CutPlace
) -> tuple[Mark, ...]:
    """The nicks that count a cut, beside its first key on the side away from the second."""
    radius = bare.tenon_radius
    whole = 2.0 * math.pi * radius + bare.outline_excess
    room = whole * (1.0 - second / (2.0 * math.pi)) - width / 2.0 - MARK_GAP
    return tuple(
        Mark(
            turned_along(bare, place.key_angle, -middle / whole * 2.0 * math.pi),
            half / radius,
            depth,
        )
        for middle, half in mark_places(place.number, width / 2.0, room)
    )


def _check_wall(line: JointLine, here: FloatArray) -> None:
    if line.wall_spare(here)[0] < 0.0:
        raise WallTooThin(
            f"wall {line.wall(here)[0]:.2f} mm at station {here[0]:.2f} mm",
            line.need(),
            "a thicker part, --least-wall or --clearance smaller",
        )


def _side_gaps(bare: Tenon, relief: float, width: float, angles: tuple[float, ...]) -> list[float]:
    """The gap on each rib's flanks, radians at the tenon.

    A turn moves a flank by as much as its lever, how far it is along its own normal from
    the middle, is long; of a rib's two flanks the shorter counts. The ribs with the longest
    lever keep the play: of a round tenon all, around two bores one.
    """
    discs = np.array(bare.centres), bare.tenon_radius + np.array(bare.swells)
    places = np.array([outline_place(*discs, 0.0, angle) for angle in angles])
    flanks = [outline_points(*discs, 0.0, places + side * width / 2.0) for side in (-1.0, 1.0)]
    middle = hull_middle(discs[0])
    levers = np.minimum(*(((points - middle) * square).sum(axis=1) for points, square in flanks))
    # the radial clearance lets a leaning flank turn on before it touches
    most = MOST_PLAY * levers - bare.radial_clearance * FLANK_LEAN / relief
    keeps = levers > levers.max() - _SAME_LEVER
    gaps = np.where(keeps, np.minimum(bare.radial_clearance, most), bare.radial_clearance)
    side_gaps: list[float] = (gaps / bare.tenon_radius).tolist()
    return side_gaps
