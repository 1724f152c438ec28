"""Convex hulls in the plane."""

from __future__ import annotations

import math

import numpy as np

from ..values import FloatArray
from .in_blocks import blocks

_MANY = 4096
_WAYS = np.array([(math.cos(k * math.pi / 8.0), math.sin(k * math.pi / 8.0)) for k in range(16)])
"""Directions all around: what lies within the farthest points along them is no corner."""

_ROUND_OFF = 1e-9
"""What lies less than this, mm, within an edge may be a corner."""

_AT_ONCE = 1 << 13
"""Of 16 rows by 2 columns, times as many: no thread of a linear-algebra library is started."""


def convex_hull(points: FloatArray) -> FloatArray:
    """Corners of the convex hull, counter-clockwise, for (n, 2) points.

    The points are put in order about their middle; then, all at once, those
    are dropped that lie in the triangle of the middle and their neighbours,
    until none does.
    """
    points = _outermost(points)
    middle = points.mean(axis=0)
    arms = points - middle
    angles = np.arctan2(arms[:, 1], arms[:, 0])
    order = np.lexsort((np.hypot(arms[:, 0], arms[:, 1]), angles))
    last_of_angle = np.append(angles[order][1:] != angles[order][:-1], True)
    ring: FloatArray = arms[order][last_of_angle]
    while len(ring) > 3:
        to_next = np.roll(ring, -1, axis=0) - ring
        from_last = ring - np.roll(ring, 1, axis=0)
        kept = from_last[:, 0] * to_next[:, 1] - from_last[:, 1] * to_next[:, 0] > 0.0
        if kept.all() or not kept.any():
            break
        ring = ring[kept]
    hull: FloatArray = ring + middle
    return hull


def _outermost(points: FloatArray) -> FloatArray:
    """Of many points those that may be corners of their hull.

    Left out is what lies within the polygon of the farthest points along some directions.
    """
    if len(points) < _MANY:
        return points
    lots = blocks(len(points), _AT_ONCE)
    farthest = [some.start + (_WAYS @ points[some].T).argmax(axis=1) for some in lots]
    corners = convex_hull(points[np.unique(np.concatenate(farthest))])
    edges = np.roll(corners, -1, axis=0) - corners
    inward = np.column_stack([-edges[:, 1], edges[:, 0]])
    inward /= np.maximum(np.hypot(*edges.T), _ROUND_OFF)[:, None]
    depths = np.einsum("ij,ij->i", inward, corners)[:, None] + _ROUND_OFF
    kept = [(inward @ points[some].T <= depths).any(axis=0) for some in lots]
    outermost: FloatArray = points[np.concatenate(kept)]
    return outermost
