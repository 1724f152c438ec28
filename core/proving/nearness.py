"""Distances between outlines of sections: from points to segments, not along rays."""

from __future__ import annotations

import numpy as np

from ..meshes.angles import plane_lengths
from ..values import FloatArray, IntArray
from .arcs import Outlines, meeting, points_as_arcs, reach_angle

Columns = tuple[FloatArray, FloatArray]
"""x and y."""


def nearest_distances(
    points: FloatArray, level: IntArray, outlines: Outlines, reach: float
) -> FloatArray:
    """(n,) mm, from each point to the nearest segment of its level.

    A distance up to `reach` is exact; a greater one may be told too great, up to infinite.
    """
    x, y = points.T
    radius = plane_lengths(x, y)
    arcs = points_as_arcs(points, level).widened(reach_angle(radius, reach))
    which, segment = meeting(arcs, outlines.arcs)
    ways = to_segments(x.take(which), y.take(which), outlines.ends.take(segment, axis=1))
    nearest = np.full(len(points), np.inf)
    np.minimum.at(nearest, which, plane_lengths(*ways))
    return nearest


def to_segments(x: FloatArray, y: FloatArray, ends: FloatArray) -> Columns:
    """(n,), (n,) mm, the way in x and in y from each point to the nearest of its own segment.

    ends : (4, n) mm, of the segments, as in `Outlines`
    """
    dx, dy = ends[2] - ends[0], ends[3] - ends[1]
    x, y = x - ends[0], y - ends[1]
    square = np.maximum(dx * dx + dy * dy, 1e-30)
    share = np.clip((x * dx + y * dy) / square, 0.0, 1.0)
    return share * dx - x, share * dy - y
