"""The least thickness of material in sections, measured square to its surfaces."""

from __future__ import annotations

import math

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .arcs import Outlines, meeting
from .nearness import to_segments

_OPPOSITE = -0.5
"""Cosine between the normals of two surfaces under which a wall lies between them."""

_STEEP = math.sqrt(0.5)
"""Cosine, to the ray from the middle, from which a surface looks outward or inward."""

_SAMPLED = 16
"""Of so many segments one gives a first bound of the wall."""

_SHORTEST = 1e-3
"""Segments shorter than this, mm, have no direction left after rounding to float32."""

_FOLD = 0.5
"""Two places on an outline closer than this along it, mm, are sides of a fold, of a rough
surface or of a corner, and not of a wall."""

_ROUNDING = 1e-3
"""mm, by which a first bound is widened, so that nothing is lost at its very edge."""


def least_wall(outlines: Outlines, ours: BoolArray) -> float:
    """Least distance, mm, through material between two segments, of which one is ours.

    The two face away from each other. Infinite where there are none.

    Parameters
    ----------
    outlines : of one piece
    ours : (k,) which of its segments are of our making
    """
    looks = _looks(outlines)
    groups = _opposed(outlines, ours, looks)
    bound = min((_bound_between(*group, _SAMPLED) for group in groups), default=math.inf)
    if not math.isfinite(bound):
        bound = min((_bound_between(*group, 1) for group in groups), default=math.inf)
    if not math.isfinite(bound):
        return bound
    near = outlines.radial_reach()[0] < 2.0 * bound
    if near.any():
        groups += _about_the_middle(outlines[near], ours[near], looks[near])
    return min(_least_between(*group, bound + _ROUNDING) for group in groups)


def _opposed(
    outlines: Outlines, ours: BoolArray, looks: IntArray
) -> list[tuple[Outlines, Outlines]]:
    """Ours that look outward, inward and along, each with what may be its other side."""
    outward, inward, across = (looks == way for way in (1, -1, 0))
    sides = (
        (outward, inward),
        (inward, outward),
        (outward | inward, across),
        (across, outward | inward | across),
    )
    return [(outlines[ours & one], outlines[other]) for one, other in sides if (ours & one).any()]


def _about_the_middle(
    outlines: Outlines, ours: BoolArray, looks: IntArray
) -> list[tuple[Outlines, Outlines]]:
    """Ours that look the same way as their other side: seen from a middle in the wall.

    Both within 45 degrees of the ray from the middle, they face 120 degrees apart only
    across an angle of 30 there: no farther from it than twice the wall.
    """
    return [(outlines[ours & (looks == one)], outlines[looks == one]) for one in (1, -1)]


def _looks(outlines: Outlines) -> IntArray:
    """(k,) 1 for segments that look outward from the middle, -1 inward, 0 along, 2 for none."""
    (x, y), (u, v) = (outlines.starts + outlines.stops).T, (outlines.stops - outlines.starts).T
    length, square = np.hypot(u, v), y * u - x * v
    limit = _STEEP * length * np.hypot(x, y)
    looks: IntArray = (square < -limit).astype(np.int64) - (square > limit)
    looks[length < _SHORTEST] = 2
    return looks


def _bound_between(made: Outlines, every: Outlines, step: int) -> float:
    """The wall between one of `step` segments and what shares an angle with it."""
    if not len(made) or not len(every):
        return math.inf
    made = made[np.arange(0, len(made), step)]
    return _thinnest(made, every, *meeting(made.arcs, every.arcs))


def _least_between(made: Outlines, every: Outlines, bound: float) -> float:
    """Least wall between segments of two groups, if it is less than the bound."""
    if not len(made) or not len(every):
        return math.inf
    widest, met = _angles_within(made, every, bound)
    made = made[met]
    first, second = meeting(made.arcs.widened(widest[met]), every.arcs)
    near = _are_near(made, every, first, second, bound)
    first, second = first[near], second[near]
    return min(_thinnest(made, every, first, second), _thinnest(every, made, second, first))


def _are_near(
    made: Outlines, every: Outlines, first: IntArray, second: IntArray, bound: float
) -> BoolArray:
    """(p,) whether a part of the second segment lies inward of the first, within the bound.

    Told along the first one's normal, than which no way between the two is shorter.
    """
    along = made.stops - made.starts
    length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-12)
    x, y = -along[:, 1] / length, along[:, 0] / length
    depths = made.starts[:, 0] * x + made.starts[:, 1] * y
    x, y, depths = x[first], y[first], depths[first]
    ends = [
        x * points[:, 0][second] + y * points[:, 1][second] - depths
        for points in (every.starts, every.stops)
    ]
    near: BoolArray = (np.minimum(*ends) <= bound) & (np.maximum(*ends) >= 0.0)
    return near


def _thinnest(one: Outlines, other: Outlines, first: IntArray, second: IntArray) -> float:
    """Least way through material from an end of one's segments to the other's, of pairs.

    The way leaves the one inward and meets the other from within, both within 60 degrees
    of square. A fold shorter than `_FOLD` all round, or no higher than thick, is no wall.
    """
    n, m = _inward(one)[first], _inward(other)[second]
    opposite = (n * m).sum(axis=1) < _OPPOSITE
    first, second, n, m = first[opposite], second[opposite], n[opposite], m[opposite]
    starts, stops = other.starts[second], other.stops[second]
    to_stop = np.hypot(*(one.stops - one.starts).T)
    thinnest = math.inf
    for ends, on in ((one.starts, one.along), (one.stops, one.along + to_stop)):
        points = ends[first]
        x, y = to_segments(points, starts, stops)
        distance = np.hypot(x, y)
        leaves = x * n[:, 0] + y * n[:, 1] >= 0.5 * distance
        arrives = x * m[:, 0] + y * m[:, 1] <= -0.5 * distance
        met = np.hypot(points[:, 0] + x - starts[:, 0], points[:, 1] + y - starts[:, 1])
        round_about = np.abs(on[first] - other.along[second] - met)
        round_about = np.minimum(round_about, one.length[first] - round_about)
        is_wall = round_about > np.maximum(_FOLD, 3.0 * distance)
        apart = (one.loop[first] != other.loop[second]) | is_wall
        thinnest = min(thinnest, float(distance[leaves & arrives & apart].min(initial=math.inf)))
    return thinnest


def _angles_within(made: Outlines, every: Outlines, bound: float) -> tuple[FloatArray, BoolArray]:
    """(k,) by which angle to widen a segment to meet all on its level within the bound.

    A point at radius r lies within the bound of one at radius q, an angle a away, where
    r^2 + q^2 - 2 r q cos(a) <= bound^2. The angle is greatest for q^2 = r^2 - bound^2, or
    for the radius nearest to that on the level.

    Returns
    -------
    angles, and whether there can be any
    """
    low, high = made.radial_reach()
    nearest, farthest = every.radial_reach()
    levels = int(max(made.level.max(), every.level.max())) + 1
    inner, outer = np.full(levels, np.inf), np.zeros(levels)
    np.minimum.at(inner, every.level, nearest)
    np.maximum.at(outer, every.level, farthest)
    inner, outer = inner[made.level], outer[made.level]
    met = (inner <= high + bound) & (outer >= low - bound)
    angles = np.zeros(len(made))
    for radius in (low, high):
        r = np.maximum(radius, 1e-9)
        q = np.clip(np.sqrt(np.maximum(r**2 - bound**2, 0.0)), inner, outer)
        q = np.maximum(q, 1e-9)
        angles = np.maximum(
            angles, np.arccos(np.clip((r**2 + q**2 - bound**2) / (2 * r * q), -1, 1))
        )
    return angles, met


def _inward(outlines: Outlines) -> FloatArray:
    """(k, 2) unit normals of segments, into the material."""
    along = outlines.stops - outlines.starts
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    return np.column_stack([-along[:, 1], along[:, 0]])
