"""The least thickness of material in sections, measured square to its surfaces."""

from __future__ import annotations

import math

import numpy as np

from ..meshes.angles import plane_lengths
from ..values import BoolArray, FloatArray, IntArray
from .arcs import Outlines, meeting
from .nearness import Columns, to_segments

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
    least = min((_bound_between(*group, _SAMPLED) for group in groups), default=math.inf)
    if not math.isfinite(least):
        least = min((_bound_between(*group, 1) for group in groups), default=math.inf)
    if not math.isfinite(least):
        return least
    near = outlines.radial_reach()[0] < 2.0 * least
    if near.any():
        groups += _about_the_middle(outlines[near], ours[near], looks[near])
    for group in groups:
        least = min(least, _least_between(*group, least + _ROUNDING))
    return least


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
    x, y = outlines.ends[:2] + outlines.ends[2:]
    n, m = outlines.inward
    facing = n * x + m * y
    limit = _STEEP * plane_lengths(x, y)
    looks: IntArray = (facing < -limit).astype(np.int64) - (facing > limit)
    looks[outlines.lengths < _SHORTEST] = 2
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
    x, y = made.inward
    depths = (made.ends[0] * x + made.ends[1] * y).take(first)
    x, y = x.take(first), y.take(first)
    far = every.ends.take(second, axis=1)
    ends = x * far[0] + y * far[1] - depths, x * far[2] + y * far[3] - depths
    near: BoolArray = (np.minimum(*ends) <= bound) & (np.maximum(*ends) >= 0.0)
    return near


def _thinnest(one: Outlines, other: Outlines, first: IntArray, second: IntArray) -> float:
    """Least way through material from an end of one's segments to the other's, of pairs.

    The way leaves the one inward and meets the other from within, both within 60 degrees
    of square. A fold shorter than `_FOLD` all round, or no higher than thick, is no wall.
    """
    opposite = _dot(_picked(one.inward, first), _picked(other.inward, second)) < _OPPOSITE
    first, second = first[opposite], second[opposite]
    n, m = _picked(one.inward, first), _picked(other.inward, second)
    points, segments = one.ends.take(first, axis=1), other.ends.take(second, axis=1)
    along, length = one.along.take(first), one.length.take(first)
    other_along, same_loop = other.along.take(second), one.loop[first] == other.loop[second]
    thinnest = math.inf
    for (x, y), on in ((points[:2], along), (points[2:], along + one.lengths.take(first))):
        way = to_segments(x, y, segments)
        distance = plane_lengths(*way)
        leaves = _dot(way, n) >= 0.5 * distance
        arrives = _dot(way, m) <= -0.5 * distance
        met = plane_lengths(x + way[0] - segments[0], y + way[1] - segments[1])
        round_about = np.abs(on - other_along - met)
        round_about = np.minimum(round_about, length - round_about)
        is_wall = ~same_loop | (round_about > np.maximum(_FOLD, 3.0 * distance))
        walls = distance[leaves & arrives & is_wall]
        thinnest = min(thinnest, float(walls.min(initial=math.inf)))
    return thinnest


def _picked(columns: Columns, chosen: IntArray) -> Columns:
    return columns[0].take(chosen), columns[1].take(chosen)


def _dot(one: Columns, other: Columns) -> FloatArray:
    product: FloatArray = one[0] * other[0] + one[1] * other[1]
    return product


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
    inner, outer = (reach[made.level] for reach in every.reach_by_level(int(made.level.max()) + 1))
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
