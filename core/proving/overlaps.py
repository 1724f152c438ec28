"""Where two pieces claim the same place: level by level, the area that they share.

That outlines stay apart is certified segment by segment. Only where they do not is the
area that they share measured, along rays.
"""

from __future__ import annotations

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .arcs import Outlines, meeting, points_as_arcs
from .rays import cross_rays, overlap_area

RAYS = 1800
"""Rays of a level, 0.2 degrees apart: the step in which a joint is turned all round."""


_ROUNDING = 1e-9
"""Radians by which two computed angles of one point may differ."""


def touching_levels(one: Outlines, other: Outlines, levels: int) -> BoolArray:
    """(s,) on which levels two pieces may share anything: elsewhere they are sure not to."""
    touched = np.zeros(levels, bool)
    touched[_crossing_levels(one, other)] = True
    for inner, outer in ((one, other), (other, one)):
        heads = inner[_of_each_loop(inner)]
        touched[heads.level[windings_at(heads.starts, heads.level, outer) > 0]] = True
    return touched


def _of_each_loop(outlines: Outlines) -> IntArray:
    """(l,) a segment of each loop."""
    last = np.full(int(outlines.loop.max(initial=-1)) + 1, -1)
    last[outlines.loop] = np.arange(len(outlines))
    return last[last >= 0]


def shared_areas(one: Outlines, other: Outlines, levels: int) -> FloatArray:
    """(s,) mm2 that two pieces share on each level."""
    areas = np.zeros(levels)
    touched = np.flatnonzero(touching_levels(one, other, levels))
    pieces = [_on_levels(piece, touched) for piece in (one, other)]
    for level, parts in zip(touched.tolist(), zip(*pieces, strict=True), strict=True):
        areas[level] = overlap_area(
            *(
                cross_rays(piece.starts[chosen], piece.stops[chosen], RAYS)
                for piece, chosen in zip((one, other), parts, strict=True)
            )
        )
    return areas


def _on_levels(outlines: Outlines, levels: IntArray) -> list[IntArray]:
    """The segments on each of some levels, in their own order; all are gone through but once."""
    order = np.argsort(outlines.level, kind="stable")
    first, stop = (
        np.searchsorted(outlines.level[order], levels, side) for side in ("left", "right")
    )
    return [order[low:high] for low, high in zip(first.tolist(), stop.tolist(), strict=True)]


def windings_at(points: FloatArray, level: IntArray, outlines: Outlines) -> IntArray:
    """(n,) how often the outlines of its level run round each point: 1 in material.

    Counted where they cross the ray that leaves the point away from the middle.
    """
    arcs = points_as_arcs(points, level).widened(_ROUNDING)
    which, segment = meeting(arcs, outlines.arcs)
    p, a, b = points[which], outlines.starts[segment], outlines.stops[segment]
    before, after = _cross(p, a), _cross(p, b)
    crosses = (before > 0.0) != (after > 0.0)
    which, p, a, b = which[crosses], p[crosses], a[crosses], b[crosses]
    before, after = before[crosses], after[crosses]
    at = a + (before / (before - after))[:, None] * (b - a)
    beyond = (at * p).sum(axis=1) > (p * p).sum(axis=1)
    ways = np.where(after > before, 1, -1)
    counts = np.bincount(which[beyond], ways[beyond], minlength=len(points))
    return np.round(counts).astype(np.int64)


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    product: FloatArray = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    return product


def _crossing_levels(one: Outlines, other: Outlines) -> IntArray:
    """Levels on which a segment of one crosses, or touches, a segment of the other."""
    one, other = one[_among(one, other)], other[_among(other, one)]
    first, second = meeting(one.arcs, other.arcs)
    (low, high), (other_low, other_high) = one.radial_reach(), other.radial_reach()
    near = (low[first] <= other_high[second]) & (other_low[second] <= high[first])
    first, second = first[near], second[near]
    a, b = one.starts[first], one.stops[first]
    c, d = other.starts[second], other.stops[second]
    sides = [_side(a, b, c), _side(a, b, d), _side(c, d, a), _side(c, d, b)]
    crossing = (sides[0] * sides[1] <= 0.0) & (sides[2] * sides[3] <= 0.0)
    levels: IntArray = np.unique(one.level[first[crossing]])
    return levels


def _among(one: Outlines, other: Outlines) -> BoolArray:
    """(k,) the segments of one that lie as far from the middle as any of the other's there."""
    inner, outer = other.reach_by_level(int(one.level.max(initial=0)) + 1)
    low, high = one.radial_reach()
    among: BoolArray = (low <= outer[one.level]) & (high >= inner[one.level])
    return among


def _side(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """On which side of the line from a to b each c lies."""
    return _cross(b - a, c - a)
