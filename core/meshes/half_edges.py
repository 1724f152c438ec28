"""The sides of the triangles, and which two of them make an edge.

Half-edge 3 t + k runs from corner k of triangle t to its next corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..values import BoolArray, IntArray
from .equal_rows import first_equal, match_pairs


@dataclass(frozen=True, slots=True, eq=False)
class HalfEdges:
    """Half-edges that all rise from the lower vertex to the higher, or all fall.

    low, high : (k,) vertices
    opposite : (k,) the third corner of the triangle
    """

    low: IntArray
    high: IntArray
    opposite: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """The edges of a closed mesh.

    turns : (m,) which corner of each triangle is its lowest vertex
    rises : (m,) bool, whether of the other two the one that comes first is lower
    mates : (e,) for each half-edge of `falling` the row of `rising` on the same edge
    """

    turns: NDArray[np.int8]
    rises: BoolArray
    rising: HalfEdges
    falling: HalfEdges
    mates: IntArray

    def twins(self) -> IntArray:
        """(3 m,) the opposite half-edge of each half-edge."""
        rows = 3 * np.arange(len(self.turns))
        first, second, third = (rows + (self.turns + k) % 3 for k in range(3))
        rising = np.concatenate((first, second[self.rises]))[self.mates]
        falling = np.concatenate((third, second[~self.rises]))
        twin = np.empty(3 * len(rows), np.int64)
        twin[falling] = rising
        twin[rising] = falling
        return twin


def pair_edges(triangles: IntArray, vertices: int) -> Edges | None:
    """The edges, where each has just two triangles that run it in opposite ways; else None."""
    first, second, third, turns = _from_lowest(triangles)
    if (first == second).any() or (first == third).any() or (second == third).any():
        return None
    rises = second < third
    up, down = np.flatnonzero(rises), np.flatnonzero(~rises)
    rising = HalfEdges(
        np.concatenate((first, second[up])),
        np.concatenate((second, third[up])),
        np.concatenate((third, first[up])),
    )
    falling = HalfEdges(
        np.concatenate((first, third[down])),
        np.concatenate((third, second[down])),
        np.concatenate((second, first[down])),
    )
    mates = match_pairs((rising.low, rising.high), (falling.low, falling.high), vertices)
    return None if mates is None else Edges(turns, rises, rising, falling, mates)


def _from_lowest(triangles: IntArray) -> tuple[IntArray, IntArray, IntArray, NDArray[np.int8]]:
    """The corners of each triangle from its lowest on, and which one that is."""
    a, b, c = (np.ascontiguousarray(corner) for corner in triangles.T)
    from_b, from_c = (b < a) & (b <= c), (c < a) & (c < b)
    first, second = a.copy(), b.copy()
    for value, at in ((b, from_b), (c, from_c)):
        np.copyto(first, value, where=at)
    for value, at in ((c, from_b), (a, from_c)):
        np.copyto(second, value, where=at)
    return (
        first,
        second,
        a + b + c - first - second,
        from_b.view(np.int8) + 2 * from_c.view(np.int8),
    )


def edge_numbers(triangles: IntArray) -> tuple[IntArray, IntArray]:
    """The edges of any mesh, closed or not.

    Returns
    -------
    (m, 3) int, for half-edge 3 t + k the number of its edge; (e,) int, how many
    triangles each edge has
    """
    start, end = triangles.ravel(), triangles[:, [1, 2, 0]].ravel()
    first = first_equal([np.minimum(start, end), np.maximum(start, end)])
    own = first == np.arange(len(first))
    numbers = (np.cumsum(own) - 1)[first]
    return numbers.reshape(-1, 3), np.bincount(numbers)


def next_side(half_edges: IntArray) -> IntArray:
    """The half-edges that follow in the same triangles."""
    following: IntArray = half_edges - half_edges % 3 + (half_edges + 1) % 3
    return following
