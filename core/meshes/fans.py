"""Vertices where a closed mesh touches itself: their triangles form more than one fan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..values import BoolArray, FloatArray, IntArray
from .half_edges import Edges


def touching_vertices(edges: Edges, vertices: FloatArray, triangles: IntArray) -> IntArray:
    """The vertices whose triangles form two fans or more, ascending.

    A fan's outer corners form a ring. Given any heights, each ring has a lowest
    corner: one that is lower than the two beside it. So a vertex with only one such
    corner around it has one fan, and few vertices are left to look at fan by fan.
    Vertex numbers are heights that need no look-up, and they serve wherever a mesh
    was written in order; coordinates serve on a smooth surface in any order.
    """
    suspect = np.ones(len(vertices), bool)
    heights: tuple[NDArray[np.generic], ...] = (
        np.arange(len(vertices)),
        vertices @ np.array([0.5257, 0.8507, 0.3090]),
    )
    rows = np.arange(len(edges.mates))
    for height in heights:
        suspect = _several_lows(edges, rows, height, suspect)
        rows = rows[suspect[edges.rising.low[rows]] | suspect[edges.rising.high[rows]]]
    return _several_fans(edges, triangles, suspect) if len(rows) else rows


def _several_lows(
    edges: Edges, rows: IntArray, height: NDArray[np.generic], suspect: BoolArray
) -> BoolArray:
    """Which of the suspect vertices have more than one lowest corner around them."""
    low, high = edges.rising.low[rows], edges.rising.high[rows]
    beside = np.minimum(
        height[edges.rising.opposite[rows]], height[edges.falling.opposite[edges.mates[rows]]]
    )
    around_low = low[height[high] <= beside]
    around_high = high[height[low] <= beside]
    lows = np.bincount(around_low, minlength=len(suspect))
    lows += np.bincount(around_high, minlength=len(suspect))
    return suspect & (lows > 1)


def _several_fans(edges: Edges, triangles: IntArray, suspect: BoolArray) -> IntArray:
    """Those of the suspect vertices whose triangles form more than one fan."""
    flat = triangles.ravel()
    corners = np.flatnonzero(suspect[flat])
    position = np.empty(len(flat), np.int64)
    position[corners] = np.arange(len(corners))
    onward = position[edges.twins()[corners - corners % 3 + (corners + 2) % 3]]
    first = np.arange(len(corners))
    while True:
        lower = np.minimum(first, first[onward])
        if np.array_equal(lower, first):
            break
        first, onward = lower, onward[onward]
    fans = np.bincount(flat[corners[first == np.arange(len(first))]], minlength=len(suspect))
    return np.flatnonzero(fans > 1)
