"""What each loop between two regions is to become.

A loop between a round surface and a flat, or between two stretches of one bore,
becomes a true circle; one between a round surface and the wall of a round side
hole becomes that hole's true rim. Any other loop keeps its vertices.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.angles import TURN, short_way
from ..values import FloatArray, RoundSurface, read_only
from .moves import wall_move
from .rims import across_and_along, rim_points
from .source import Source
from .targets import DrilledWall, Flat, Target
from .unroll import strip_count

_SAME_CENTRE = 1e-9
_LEAST_BEND = 1e-6
_RIM_REACH = 0.25
"""How far along a hole, in its radii, an old rim may lie from the true one."""


@dataclass(frozen=True, slots=True)
class Circle:
    """Two loops, one run backward, that become one circle.

    loop, back : the loop that is on a round surface, and the other
    sides : the round surfaces that meet here, one or two
    station, radius : of the circle about the centre of the first side
    """

    loop: int
    back: int
    sides: tuple[Target, ...]
    station: float
    radius: float


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """Two loops, one run backward, that become the rim of a round side hole.

    loop, back : the loop on the round surface, and the one on the hole's wall
    points : (k, 3) mm, evenly about the hole
    """

    loop: int
    back: int
    side: Target
    wall: DrilledWall
    points: FloatArray

    def __post_init__(self) -> None:
        read_only(self.points)


def angles_about(points: FloatArray, surface: RoundSurface) -> FloatArray:
    """(n,) angles in [-pi, pi] about a surface's own centre line."""
    x, y = surface.offset
    angles: FloatArray = np.arctan2(points[:, 1] - y, points[:, 0] - x)
    return angles


def turns_of(angles: FloatArray) -> int:
    """How often a closed loop runs about the centre line."""
    return round(float(short_way(np.roll(angles, -1) - angles).sum()) / TURN)


def find_circles(source: Source) -> tuple[list[Circle], tuple[Flat, ...]]:
    """The loops that become circles, and the flats that can be made anew.

    A flat that is no end is made anew only where all its loops become circles.
    """
    regions, loops = source.regions, source.borders.loops
    flats = {flat.region: flat for flat in regions.flats}
    found = [_circle(loop, source, flats) for loop in range(len(loops))]
    circles = [circle for circle in found if circle is not None]
    rounded = {loop for circle in circles for loop in (circle.loop, circle.back)}
    unfit = {
        loop.region
        for number, loop in enumerate(loops)
        if loop.region in flats and not flats[loop.region].is_end and number not in rounded
    }
    return (
        [circle for circle in circles if loops[circle.back].region not in unfit],
        tuple(flat for flat in regions.flats if flat.region not in unfit),
    )


def _circle(loop: int, source: Source, flats: dict[int, Flat]) -> Circle | None:
    """The circle that a loop of a round surface becomes, if it does; told once a pair."""
    borders = source.borders
    back = int(borders.partner[loop])
    here = source.targets.get(borders.loops[loop].region)
    if here is None or back < 0:
        return None
    points = source.mesh.vertices[borders.loops[loop].vertices]
    if abs(turns_of(angles_about(points, here.surface))) != 1:
        return None
    beyond = borders.loops[back].region
    if beyond in flats:
        station = flats[beyond].station
        return Circle(loop, back, (here,), station, here.surface.radius_at(station))
    there = source.targets.get(beyond)
    if there is None or back < loop or _apart(here, there) > _SAME_CENTRE:
        return None
    station = _meeting(source, loop, here.surface, there.surface)
    radii = here.surface.radius_at(station), there.surface.radius_at(station)
    if abs(radii[0] - radii[1]) > source.max_move:
        return None
    return Circle(loop, back, (here, there), station, sum(radii) / 2.0)


def _apart(here: Target, there: Target) -> float:
    return math.dist(here.surface.offset, there.surface.offset)


def _meeting(source: Source, loop: int, here: RoundSurface, there: RoundSurface) -> float:
    """Where two cones about one line meet, as near to the loop between them as others allow."""
    middle = float(np.median(source.mesh.vertices[source.borders.loops[loop].vertices, 2]))
    bend = there.slope - here.slope
    gap = here.radius_at(middle) - there.radius_at(middle)
    if abs(bend) < _LEAST_BEND:
        return middle
    room = _room_about(source, loop, middle)
    return middle + min(max(gap / bend, -room), room)


def _room_about(source: Source, loop: int, station: float) -> float:
    """Half the way, mm, from a station to the nearest other loop of the same two surfaces."""
    borders = source.borders
    pair = (loop, int(borders.partner[loop]))
    regions = [borders.loops[number].region for number in pair]
    ways = [math.inf]
    for number, other in enumerate(borders.loops):
        if other.region in regions and number not in pair:
            heights = source.mesh.vertices[other.vertices, 2]
            ways.append(max(float(heights.min()) - station, station - float(heights.max()), 0.0))
    return min(ways) / 2.0


def find_rims(source: Source) -> list[Rim]:
    """The rims of side holes that can be made anew, two a hole.

    The hole's wall must lie between one loop on an outside and one on a bore, both to
    be made exact, and its vertices within `max_move` of its own cylinder.
    """
    loops: dict[int, list[int]] = {}
    for number, loop in enumerate(source.borders.loops):
        loops.setdefault(loop.region, []).append(number)
    rims = []
    for wall in source.regions.walls:
        pair = [_rim(source, wall, loop) for loop in loops.get(wall.region, [])]
        whole = [rim for rim in pair if rim is not None]
        if len(pair) == 2 == len({rim.side.label for rim in whole}) and _fits(source, wall):
            rims += whole
    return rims


def _rim(source: Source, wall: DrilledWall, back: int) -> Rim | None:
    """The true rim for one loop of a hole's wall, if the loop lies on a surface made exact."""
    borders = source.borders
    loop = int(borders.partner[back])
    side = source.targets.get(borders.loops[loop].region) if loop >= 0 else None
    if side is None:
        return None
    old = source.mesh.vertices[borders.loops[loop].vertices]
    if turns_of(angles_about(old, side.surface)) != 0:
        return None
    across, along = across_and_along(old, wall.wall)
    count = strip_count(wall.wall.radius)
    angles = np.arctan2(across[:, 1], across[:, 0]), TURN * np.arange(count) / count
    found = rim_points(side.surface, wall.wall, np.concatenate(angles))
    there, points = found[: len(old)], found[len(old) :]
    off = np.abs(across_and_along(there, wall.wall)[1] - along)
    if not np.isfinite(points).all() or not (off < _RIM_REACH * wall.wall.radius).all():
        return None
    return Rim(loop, back, side, wall, points)


def _fits(source: Source, wall: DrilledWall) -> bool:
    """Do the wall's vertices lie on its cylinder, but for chord error?"""
    triangles = source.triangles_of(wall.region)
    return wall_move(source.mesh, triangles, wall.wall) <= source.max_move
