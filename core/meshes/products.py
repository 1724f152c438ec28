"""Heights of many points along a direction, a few at a time.

Over many at once a linear-algebra library starts threads of its own, which go on spinning
for a while afterwards, and take the processor from whoever works beside.
"""

from __future__ import annotations

import numpy as np

from ..values import FloatArray
from .in_blocks import blocks

_AT_ONCE = 29_000
"""Of 3 rows by 3 columns, times as many: below 2^18 products no thread is started."""

_FEW = 3000
"""Of one row, or one column: below 9216 products."""


def heights_along(points: FloatArray, direction: FloatArray) -> FloatArray:
    """(n,) products of points (n, 3), or other vectors, with one direction (3,)."""
    heights: FloatArray
    if len(points) <= _FEW:
        heights = points @ direction
        return heights
    heights = _products(points, np.stack((direction, direction)))[0]
    return heights


def row_lengths(vectors: FloatArray) -> FloatArray:
    """(n,) lengths of vectors (n, 3); np.linalg.norm along rows takes five times as long."""
    lengths: FloatArray = np.sqrt(np.einsum("ij,ij->i", vectors, vectors))
    return lengths


def columns_along(points: FloatArray, rows: FloatArray, origin: FloatArray) -> list[FloatArray]:
    """(n,) heights of points (n, 3) over an origin, along each of some directions (k, 3)."""
    columns = _products(points, rows)
    columns -= (rows @ origin)[:, None]
    return list(columns)


def _products(points: FloatArray, rows: FloatArray) -> FloatArray:
    """(k, n) products of points (n, 3) with two or three directions (k, 3)."""
    products = np.empty((len(rows), len(points)))
    for some in blocks(len(points), _AT_ONCE):
        np.matmul(rows, points[some].T, out=products[:, some])
    return products


def moments(first: FloatArray, second: FloatArray) -> FloatArray:
    """(p, q) sums over many vectors (n, p), (n, q) of each component times each of the other."""
    sums = np.zeros((first.shape[1], second.shape[1]))
    for some in blocks(len(first), _FEW):
        sums += first[some].T @ second[some]
    return sums
