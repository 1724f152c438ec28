"""Distances between outlines of sections: from points to segments, not along rays."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray, IntArray
from .arcs import Outlines, meeting, points_as_arcs, reach_angle


def nearest_distances(
    points: FloatArray, level: IntArray, outlines: Outlines, reach: float
) -> FloatArray:
    """(n,) mm, from each point to the nearest segment of its level.

    A distance up to `reach` is exact; a greater one may be told too great, up to infinite.
    """
    radius = np.hypot(points[:, 0], points[:, 1])
    arcs = points_as_arcs(points, level).widened(reach_angle(radius, reach))
    which, segment = meeting(arcs, outlines.arcs)
    ways = to_segments(points[which], outlines.starts[segment], outlines.stops[segment])
    nearest = np.full(len(points), np.inf)
    np.minimum.at(nearest, which, np.hypot(*ways))
    return nearest


def to_segments(
    points: FloatArray, starts: FloatArray, stops: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """(n,), (n,) mm, the way in x and in y from each point to the nearest of its own segment."""
    x, y = points[:, 0] - starts[:, 0], points[:, 1] - starts[:, 1]
    dx, dy = stops[:, 0] - starts[:, 0], stops[:, 1] - starts[:, 1]
    square = np.maximum(dx * dx + dy * dy, 1e-30)
    share = np.clip((x * dx + y * dy) / square, 0.0, 1.0)
    return share * dx - x, share * dy - y
