"""Heights of many points along a direction, a few at a time.

Over many at once a linear-algebra library starts threads of its own, which go on spinning
for a while afterwards, and take the processor from whoever works beside.
"""

from __future__ import annotations

import numpy as np

from ..values import FloatArray
from .in_blocks import blocks

_AT_ONCE = 3000


def heights_along(points: FloatArray, direction: FloatArray) -> FloatArray:
    """(n,) products of points (n, 3), or other vectors, with one direction (3,)."""
    heights = np.empty(len(points))
    for some in blocks(len(points), _AT_ONCE):
        np.dot(points[some], direction, out=heights[some])
    return heights


def columns_along(points: FloatArray, rows: FloatArray, origin: FloatArray) -> list[FloatArray]:
    """(n,) heights of points (n, 3) over an origin, along each of some directions (k, 3)."""
    columns = np.empty((len(rows), len(points)))
    for some in blocks(len(points), _AT_ONCE):
        columns[:, some] = rows @ (points[some] - origin).T
    return list(columns)


def moments(first: FloatArray, second: FloatArray) -> FloatArray:
    """(p, q) sums over many vectors (n, p), (n, q) of each component times each of the other."""
    sums = np.zeros((first.shape[1], second.shape[1]))
    for some in blocks(len(first), _AT_ONCE):
        sums += first[some].T @ second[some]
    return sums
