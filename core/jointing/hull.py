"""Outlines around the discs of one bore or two: a circle, or two arcs and two straight flanks.

Discs grow together: of radii `radii + offset`, all by the same amount. The hull of two
such discs is swept by discs whose centre runs from the one to the other while their
radius runs along with it, so a point p lies on or in the hull of first radius u just when

    u >= min over a in [0, L] of  |p - c0 - a e| - k a,    k = (r1 - r0) / L,

L long the line between the centres and e along it. That least value is the point's u, in
closed form (`hull_parameter`). The straight flanks have the normals -k e +- sqrt(1 - k^2) f,
f square to e, whatever u is: so hulls of growing u are offsets of each other, as far
apart as their u.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..values import FloatArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class _Lie:
    """How two discs lie: e from the first centre to the second, f on its left, L, k."""

    first: FloatArray
    along: FloatArray
    left: FloatArray
    distance: float
    lean: float

    @property
    def flank_turn(self) -> float:
        """Angle, radians, from `along` to the normal of the flank on the left."""
        return math.acos(-self.lean)

    @property
    def flank(self) -> float:
        """Length, mm, of a straight flank."""
        return self.distance * math.sqrt(1.0 - self.lean**2)


def _lie(centres: FloatArray, radii: FloatArray) -> _Lie:
    arm = centres[1] - centres[0]
    distance = float(np.hypot(arm[0], arm[1]))
    lean = float(radii[1] - radii[0]) / distance
    assert abs(lean) < 1.0, "neither disc holds the other"
    along = arm / distance
    return _Lie(centres[0], along, np.array([-along[1], along[0]]), distance, lean)


def hull_parameter(points: FloatArray, centres: FloatArray, radii: FloatArray) -> FloatArray:
    """The u of points: radius of the first disc whose hull has the point on its outline.

    Parameters
    ----------
    points : (n, 2) mm
    centres : (k, 2) mm, k = 1 or 2
    radii : (k,) mm; of two only the difference counts

    Returns
    -------
    (n,) mm: of one disc, the distance from its centre. Between two bores it is less
    than the radius of the first bore, and may be negative.
    """
    if len(centres) == 1:
        distance: FloatArray = np.hypot(points[:, 0] - centres[0, 0], points[:, 1] - centres[0, 1])
        return distance
    lie = _lie(centres, radii)
    arms = points - lie.first
    x, y = arms @ lie.along, np.abs(arms @ lie.left)
    run = np.clip(x + y * lie.lean / math.sqrt(1.0 - lie.lean**2), 0.0, lie.distance)
    least: FloatArray = np.hypot(x - run, y) - lie.lean * run
    return least


def least_parameter(centres: FloatArray, radii: FloatArray) -> float:
    """The least u of the web between two bores, mm: where roof and tenon have their ridge.

    Along the line between the centres u = -k x, so it is least where that line leaves
    the wider bore: -k (L - r1) for k > 0, -k r0 for k < 0, and 0 all along for equal
    bores. Farther from the line u only grows. With one bore there is no web: the bore's radius.
    """
    if len(centres) == 1:
        return float(radii[0])
    lie = _lie(centres, radii)
    return min(-lie.lean * float(radii[0]), -lie.lean * (lie.distance - float(radii[1])))


def outline_excess(centres: FloatArray, radii: FloatArray) -> float:
    """By how much an outline is longer than the circle of its first disc, mm, at any u."""
    if len(centres) == 1:
        return 0.0
    lie = _lie(centres, radii)
    return 2.0 * lie.flank_turn * float(radii[1] - radii[0]) + 2.0 * lie.flank


def outline_length(centres: FloatArray, radii: FloatArray, offset: float) -> float:
    """Length, mm, of the outline of the discs grown by an offset."""
    return 2.0 * math.pi * (float(radii[0]) + offset) + outline_excess(centres, radii)


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """The parts of an outline, counter-clockwise: arcs have a turn, flanks do not.

    One circle is one arc from angle 0. Two discs: the arc of the second, the flank on
    the left of the line between the centres, the arc of the first, the flank on the right.

    starts : (n + 1,) mm along the outline
    centres, radii : (n, 2), (n,) of the circle of an arc, or of a flank's first end
    normals : (n,) radians, direction of the normal at the start of each part
    is_arc : (n,)
    """

    starts: FloatArray
    centres: FloatArray
    radii: FloatArray
    normals: FloatArray
    is_arc: tuple[bool, ...]

    def __post_init__(self) -> None:
        for array in (self.starts, self.centres, self.radii, self.normals):
            read_only(array)


def _parts(centres: FloatArray, radii: FloatArray, offset: float) -> _Parts:
    grown = radii + offset
    if len(centres) == 1:
        length = outline_length(centres, radii, offset)
        return _Parts(np.array([0.0, length]), centres.copy(), grown, np.zeros(1), (True,))
    lie = _lie(centres, radii)
    heading = math.atan2(lie.along[1], lie.along[0])
    turn, flank = lie.flank_turn, lie.flank
    lengths = [2.0 * turn * grown[1], flank, 2.0 * (math.pi - turn) * grown[0], flank]
    order = np.array([1, 1, 0, 0])
    return _Parts(
        np.concatenate([[0.0], np.cumsum(lengths)]),
        centres[order],
        grown[order],
        heading + np.array([-turn, turn, turn, -turn]),
        (True, False, True, False),
    )


def outline_points(
    centres: FloatArray, radii: FloatArray, offset: float, lengths: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Points of an outline at lengths along it, counter-clockwise, and outward normals there.

    Length 0 is at angle 0 of one circle; of two discs it is where the second disc's arc
    starts. Lengths are taken round and round.

    Returns
    -------
    points, normals : (n, 2), (n, 2)
    """
    parts = _parts(centres, radii, offset)
    along = np.mod(lengths, parts.starts[-1])
    home = np.clip(np.searchsorted(parts.starts, along, "right") - 1, 0, len(parts.radii) - 1)
    past = along - parts.starts[home]
    is_arc = np.array(parts.is_arc)[home]
    radius, first = parts.radii[home], parts.normals[home]
    angle = first + np.where(is_arc, past / radius, 0.0)
    normals = np.column_stack([np.cos(angle), np.sin(angle)])
    ahead = np.column_stack([-normals[:, 1], normals[:, 0]])
    straight = np.where(is_arc, 0.0, past)
    points: FloatArray = parts.centres[home] + radius[:, None] * normals + straight[:, None] * ahead
    return points, normals


def hull_outline(
    centres: FloatArray, radii: FloatArray, offset: float, step: float
) -> tuple[FloatArray, FloatArray]:
    """Points around an outline, counter-clockwise, no farther apart than a step, and normals.

    Every end of an arc is a point of it; each part is divided evenly.

    Parameters
    ----------
    offset : mm, by which each disc is wider than `radii`
    step : mm, along the outline

    Returns
    -------
    points, normals : (n, 2), (n, 2)
    """
    starts = _parts(centres, radii, offset).starts
    lengths = []
    for low, high in pairwise(starts.tolist()):
        count = max(1, math.ceil((high - low) / step - 1e-9))
        lengths.append(low + (high - low) * np.arange(count) / count)
    return outline_points(centres, radii, offset, np.concatenate(lengths))


def hull_middle(centres: FloatArray) -> FloatArray:
    """(2,) the middle between the centres, from which a key's angle is seen."""
    middle: FloatArray = centres.mean(axis=0)
    return middle


def outline_place(centres: FloatArray, radii: FloatArray, offset: float, angle: float) -> float:
    """Length along an outline, mm, to where the ray from the middle at an angle meets it."""
    parts = _parts(centres, radii, offset)
    middle = hull_middle(centres)
    direction = np.array([math.cos(angle), math.sin(angle)])
    best, place = math.inf, 0.0
    for number in range(len(parts.radii)):
        past, beside = _met(parts, number, middle, direction)
        if beside < best:
            best, place = beside, float(parts.starts[number]) + past
    return place


def _met(
    parts: _Parts, number: int, middle: FloatArray, direction: FloatArray
) -> tuple[float, float]:
    """Where a ray meets a part's whole line or circle: how far past its start, and beyond it."""
    arm, radius = middle - parts.centres[number], float(parts.radii[number])
    first = float(parts.normals[number])
    whole = float(parts.starts[number + 1] - parts.starts[number])
    if parts.is_arc[number]:
        half = float(arm @ direction)
        reach = -half + math.sqrt(max(half**2 - float(arm @ arm) + radius**2, 0.0))
        x, y = arm + reach * direction
        past = ((math.atan2(y, x) - first) % (2.0 * math.pi)) * radius
        around = 2.0 * math.pi * radius
        return past, 0.0 if past <= whole else min(past - whole, around - past)
    normal = np.array([math.cos(first), math.sin(first)])
    rise = float(normal @ direction)
    if rise <= 0.0:
        return 0.0, math.inf
    point = arm + (radius - float(normal @ arm)) / rise * direction
    past = float(point @ np.array([-normal[1], normal[0]]))
    return past, max(0.0, -past, past - whole)
