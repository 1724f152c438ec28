"""Half-edges: the sides of the triangles, and which two of them make an edge.

Half-edge 3 t + k runs from corner k of triangle t to its next corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import IntArray
from .equal_rows import first_equal, match_each


@dataclass(frozen=True, slots=True, eq=False)
class HalfEdges:
    """Half-edges that all run from the lower vertex to the higher, or all the other way.

    low, high : (k,) vertices
    opposite : (k,) the third corner of the triangle
    number : (k,) of the half-edge
    """

    low: IntArray
    high: IntArray
    opposite: IntArray
    number: IntArray

    def codes(self, vertices: int) -> IntArray:
        """One integer for each pair of vertices."""
        coded: IntArray = self.low * vertices + self.high
        return coded


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """The edges of a closed mesh, each with its two half-edges in the same row."""

    rising: HalfEdges
    mates: IntArray
    falling: HalfEdges

    def twins(self) -> IntArray:
        """(3 m,) the opposite half-edge of each half-edge."""
        other = self.falling.number[self.mates]
        twin = np.empty(2 * len(other), np.int64)
        twin[self.rising.number] = other
        twin[other] = self.rising.number
        return twin


def half_edges(triangles: IntArray) -> tuple[HalfEdges, HalfEdges]:
    """Those that rise to a higher vertex and those that fall; none of a vertex to itself."""
    columns = [np.ascontiguousarray(triangles[:, k]) for k in range(3)]
    sides = [(columns[k], columns[k - 2], columns[k - 1]) for k in range(3)]
    rising = [np.flatnonzero(start < end) for start, end, _ in sides]
    falling = [np.flatnonzero(start > end) for start, end, _ in sides]
    return (
        _picked([(a, b, c) for a, b, c in sides], rising),
        _picked([(b, a, c) for a, b, c in sides], falling),
    )


def _picked(sides: list[tuple[IntArray, IntArray, IntArray]], where: list[IntArray]) -> HalfEdges:
    low, high, opposite = (
        np.concatenate([side[k][at] for side, at in zip(sides, where, strict=True)])
        for k in range(3)
    )
    return HalfEdges(
        low, high, opposite, np.concatenate([3 * at + k for k, at in enumerate(where)])
    )


def pair_edges(triangles: IntArray, vertices: int) -> Edges | None:
    """The edges, where each has just two triangles that run it in opposite ways; else None."""
    rising, falling = half_edges(triangles)
    if len(rising.low) + len(falling.low) != 3 * len(triangles):
        return None
    mates = match_each(rising.codes(vertices), falling.codes(vertices))
    return None if mates is None else Edges(rising, mates, falling)


def edge_numbers(triangles: IntArray) -> tuple[IntArray, IntArray]:
    """The edges of any mesh, closed or not.

    Returns
    -------
    (m, 3) int, for half-edge 3 t + k the number of its edge; (e,) int, how many
    triangles each edge has
    """
    start, end = triangles, triangles[:, [1, 2, 0]]
    first = first_equal([np.minimum(start, end).ravel(), np.maximum(start, end).ravel()])
    own = first == np.arange(len(first))
    numbers = (np.cumsum(own) - 1)[first]
    return numbers.reshape(-1, 3), np.bincount(numbers)
