"""The angles at which the corners of a collar and of the ends in it lie, and its nicks.

Angles are about the collar's centre line. All rings of one body share them, so faces
between two rings are quads; notches, lugs and nicks are heights along such a ring.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.angles import TURN, short_way
from ..truing.unroll import strip_count
from ..values import (
    CHORD_TOLERANCE,
    BoolArray,
    Collar,
    FloatArray,
    IntArray,
    Lug,
    RoundSurface,
    read_only,
)
from .collar_design import GABLE_TOLERANCE, gable_radius, mating_surface, notch_of

NICK_DEPTH = 0.5
"""Depth, mm, and half the width, of a witness nick: a 45 degree V."""

_FINER = 1.5
"""More corners than the chord error asks: faces to rings of other corners lean across both."""

_MOST_BEVEL = 0.5
"""mm, of a ring's or an end's edge that is nicked."""

_BETWEEN_NICKS = 0.6
_BESIDE_NOTCH = 0.8
_APART = 0.15
"""Least distance, mm, from a corner that something needs to any other corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Hexagons:
    """Lugs, or notches, along a ring of corners.

    height : (n,) mm, of their upper half over the seam: a gable in each, the flank's off them
    spans : for each, its corners from flank to flank
    off : the corners between one and the next, its flanks' included
    """

    height: FloatArray
    spans: list[IntArray]
    off: list[IntArray]

    def __post_init__(self) -> None:
        read_only(self.height)


def corner_angles(
    collar: Collar, station: float, hexagons: tuple[Lug, ...], nicks: FloatArray, radius: float
) -> FloatArray:
    """(n,) ascending angles, less than a turn, that every feature has its corners among.

    hexagons : the collar's lugs, or their notches in the same order
    radius : mm, the widest of the rings, for their chord error
    """
    half_nick = nick_half_width(collar, station)
    count = math.ceil(_FINER * strip_count(radius))
    step = min(TURN / count, _gable_step(collar, station))
    groups = [
        _across(lug, hexagon, step) for lug, hexagon in zip(collar.lugs, hexagons, strict=True)
    ]
    groups += [nick + half_nick * np.array([-1.0, 0.0, 1.0]) for nick in nicks.tolist()]
    parts = np.arange(count) * (TURN / count)
    clear = min(_APART / radius, 0.4 * TURN / count)
    for group in groups:  # what a gable or a nick spans is its own: its faces are even
        middle, half = (group[0] + group[-1]) / 2.0, (group[-1] - group[0]) / 2.0
        parts = parts[np.abs(short_way(parts - middle)) > half + clear]
    features = np.mod(np.concatenate(groups), TURN)
    every: FloatArray = np.sort(np.concatenate([parts, features]))
    return every


def _gable_step(collar: Collar, station: float) -> float:
    """The widest step, radians, in which a gable is near enough to its facets.

    A gable's height goes by the angle only. A facet's edge across it, from radius a to b, is
    off that by R step (sqrt(b) - sqrt(a)) / (sqrt(b) + sqrt(a)) where it is most.
    """
    radius = gable_radius(collar, station)
    off = math.dist(collar.outer.offset, collar.inner.offset)
    ends = (station - collar.reach, station + collar.reach)
    least = math.sqrt(min(map(collar.inner.radius_at, ends)) - off)
    most = math.sqrt(radius)
    lean = math.hypot(1.0, radius / least**2)
    return GABLE_TOLERANCE * lean / (radius * (most - least) / (most + least))


def _across(lug: Lug, hexagon: Lug, step: float) -> FloatArray:
    """Angles of the corners of a lug or of its notch: the lug's in both, so gables are parallel."""
    parts = math.ceil(lug.half_width / step)
    corners = np.linspace(-lug.half_width, lug.half_width, 2 * parts + 1)
    if hexagon.half_width > lug.half_width:
        corners = np.concatenate([[-hexagon.half_width], corners, [hexagon.half_width]])
    across: FloatArray = lug.angle + corners
    return across


def hexagons_on(
    angles: FloatArray, collar: Collar, station: float, hexagons: tuple[Lug, ...]
) -> Hexagons:
    """Where hexagons lie along a ring of corners that holds theirs."""
    height = np.full(len(angles), hexagons[0].flank)
    rise = gable_radius(collar, station)
    spans = []
    for lug in sorted(hexagons, key=lambda lug: math.fmod(lug.angle + 2.0 * TURN, TURN)):
        assert lug.flank == hexagons[0].flank
        off = np.abs(short_way(angles - lug.angle))
        height = np.where(off < lug.half_width, lug.flank + (lug.half_width - off) * rise, height)
        spans.append(_corners_between(angles, lug.angle - lug.half_width, 2.0 * lug.half_width))
    off_them = []
    for span, ahead in zip(spans, [*spans[1:], spans[0]], strict=True):
        steps = int(ahead[0] - span[-1]) % len(angles)
        off_them.append((span[-1] + np.arange(steps + 1)) % len(angles))
    return Hexagons(height, spans, off_them)


def _corners_between(angles: FloatArray, start: float, width: float) -> IntArray:
    first = int(np.abs(short_way(angles - start)).argmin())
    last = int(np.abs(short_way(angles - start - width)).argmin())
    steps = (last - first) % len(angles)
    return (first + np.arange(steps + 1)) % len(angles)


def nick_half_width(collar: Collar, station: float) -> float:
    """Radians, half the width of a nick: 45 degrees where it is widest, a bevel counted."""
    radius = mating_surface(collar).radius_at(station)
    return NICK_DEPTH / (radius + (_MOST_BEVEL if collar.place == "inside" else 0.0))


def nick_angles(collar: Collar, station: float, marks: int) -> FloatArray:
    """(n,) radians, of the nicks beside the first notch, on the side with more room.

    As many as there is room for, up to `marks`; none where a bore is so narrow that a nick's
    slope, which has no corner within, would stand into it.
    """
    half = nick_half_width(collar, station)
    bore = collar.inner.radius_at(station)
    if bore * (1.0 - math.cos(half / 2.0)) > CHORD_TOLERANCE:
        return np.empty(0)
    step = 2.0 * half + _BETWEEN_NICKS * half / NICK_DEPTH
    beside = half + _BESIDE_NOTCH * half / NICK_DEPTH
    first, *others = (notch_of(collar, station, lug) for lug in collar.lugs)
    rooms = []
    for side in (1.0, -1.0):
        ways = [float(np.mod(side * (lug.angle - first.angle), TURN)) for lug in others]
        free = [way - lug.half_width for way, lug in zip(ways, others, strict=True)]
        rooms.append(min(free, default=TURN - first.half_width))
    side = (
        1.0 if rooms[0] >= min(rooms[1], first.half_width + 2.0 * beside + marks * step) else -1.0
    )
    room = max(rooms[0] if side > 0.0 else rooms[1], 0.0)
    count = math.floor((room - first.half_width - 2.0 * beside) / step + 1.0)
    reach = first.half_width + beside + step * np.arange(min(marks, max(count, 0)))
    nicks: FloatArray = first.angle + side * reach
    return nicks


def nick_depths(
    angles: FloatArray, collar: Collar, station: float, nicks: FloatArray
) -> FloatArray:
    """(n,) mm, depth of the nicks at each corner."""
    half = nick_half_width(collar, station)
    if not len(nicks):
        return np.zeros(len(angles))
    off = np.abs(short_way(angles[:, None] - nicks[None])).min(axis=1)
    depths: FloatArray = NICK_DEPTH * np.maximum(0.0, 1.0 - off / half)
    return np.where(depths < 1e-9, 0.0, depths)


def reach_to(
    surface: RoundSurface, centre: tuple[float, float], angles: FloatArray, stations: FloatArray
) -> FloatArray:
    """(n,) mm, from a centre to a round surface around it, along rays."""
    x, y = surface.offset[0] - centre[0], surface.offset[1] - centre[1]
    along = x * np.cos(angles) + y * np.sin(angles)
    across = y * np.cos(angles) - x * np.sin(angles)
    reach: FloatArray = along + np.sqrt(surface.radii_at(stations) ** 2 - across**2)
    return reach


def outside_share(angles: FloatArray) -> FloatArray:
    """(n,) by how much to widen corners, that edges between them touch the circle from outside."""
    steps = np.diff(angles, append=angles[0] + TURN)
    widest = np.maximum(steps, np.roll(steps, 1))
    share: FloatArray = 1.0 / np.cos(widest / 2.0)
    return share


def is_deeper_ahead(depths: FloatArray) -> BoolArray:
    """(n,) whether a ring's nicks grow deeper from each corner to the next."""
    deeper: BoolArray = np.roll(depths, -1) > depths
    return deeper
