"""The sides of the triangles, and which two of them make an edge.

Half-edge 3 t + k runs from corner k of triangle t to its next corner.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import BoolArray, IntArray, NarrowArray
from .equal_rows import coded_pairs, first_equal, match_codes, pair_codes
from .in_blocks import blocks

_AT_ONCE = 1 << 15
_PLACES = ((0, 0), (0, 1), (1, 0)), ((1, 2), (1, 1), (0, 2))
"""Of an even and of an odd triangle, where the sides from low to middle, middle to high and
low to high stand: whether they fall, and in which third."""


@dataclass(frozen=True, slots=True, eq=False)
class HalfEdges:
    """Half-edges that all rise from the lower vertex to the higher, or all fall.

    codes : (e,) the vertices, the lower one first, as `pair_codes`
    opposite : (e,) the third corner of the triangle
    """

    codes: IntArray
    opposite: NarrowArray

    def ends(self, some: slice | IntArray) -> tuple[IntArray, IntArray]:
        """The lower and the higher vertex of some of them."""
        return coded_pairs(self.codes[some])

    def narrow_ends(self, some: slice) -> tuple[NarrowArray, NarrowArray]:
        """The same, to be compared rather than looked up by."""
        codes = self.codes[some]
        low, apart = (codes >> 32).astype(np.int32), codes.astype(np.int32)
        return low, low + apart


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """The edges of a closed mesh.

    A triangle is even if its vertices rise from the lowest on: low, middle, high. Then two of
    its half-edges rise and one falls; of an odd one it is the other way round.

    triangles : (m, 3)
    even : (m,) bool
    rising : low to middle and middle to high of even ones, low to high of odd ones
    falling : high to low of even ones, high to middle and middle to low of odd ones
    mates : (e,) for each half-edge of `falling` the row of `rising` on the same edge
    """

    triangles: IntArray
    even: BoolArray
    rising: HalfEdges
    falling: HalfEdges
    mates: NarrowArray

    def twins(self) -> IntArray:
        """(3 m,) the opposite half-edge of each half-edge."""
        lowest = self.triangles.argmin(axis=1)
        rows = 3 * np.arange(len(lowest))
        first, second, third = (rows + (lowest + k) % 3 for k in range(3))
        even, odd = self.even, ~self.even
        rising = np.concatenate((first[even], second[even], first[odd]))[self.mates]
        falling = np.concatenate((third[even], second[odd], third[odd]))
        twin = np.empty(3 * len(rows), np.int64)
        twin[falling] = rising
        twin[rising] = falling
        return twin

    def neighbours(self) -> tuple[IntArray, IntArray]:
        """(e,) each: the triangles of the half-edges of `falling`, and those beyond them."""
        even, odd = np.flatnonzero(self.even), np.flatnonzero(~self.even)
        rising, falling = np.concatenate((even, even, odd)), np.concatenate((even, odd, odd))
        return falling, rising[self.mates]


def pair_edges(triangles: IntArray, vertices: int) -> Edges | None:
    """The edges, where each has just two triangles that run it in opposite ways; else None."""
    assert vertices < 2**31
    found = _half_edges(triangles)
    if found is None:
        return None
    even, rising, falling = found
    mates = match_codes(rising.codes, falling.codes)
    return None if mates is None else Edges(triangles, even, rising, falling, mates)


def _half_edges(triangles: IntArray) -> tuple[BoolArray, HalfEdges, HalfEdges] | None:
    """Which triangles are even, and the half-edges in the order that `Edges` tells.

    None where a triangle has collapsed, or where not as many half-edges rise as fall: just
    half of the triangles are even then.
    """
    half = len(triangles) // 2
    even = np.empty(len(triangles), bool)
    codes, opposite = np.empty((2, 3, half), np.int64), np.empty((2, 3, half), np.int32)
    done = [0, 0]
    for block in blocks(len(triangles), _AT_ONCE):
        low, middle, high, is_even = _sorted_corners(triangles[block])
        even[block] = is_even
        if (low == middle).any() or (middle == high).any():
            return None
        for kind, rows in enumerate((np.flatnonzero(is_even), np.flatnonzero(~is_even))):
            some = slice(done[kind], done[kind] + len(rows))
            if some.stop > half:
                return None
            done[kind] = some.stop
            a, b, c = (corner.take(rows) for corner in (low, middle, high))
            sides = (a, b, c), (b, c, a), (a, c, b)
            for (way, place), side in zip(_PLACES[kind], sides, strict=True):
                codes[way, place, some] = pair_codes(*side[:2])
                opposite[way, place, some] = side[2]
    rising, falling = (HalfEdges(codes[way].ravel(), opposite[way].ravel()) for way in (0, 1))
    return even, rising, falling


def _sorted_corners(
    triangles: IntArray,
) -> tuple[NarrowArray, NarrowArray, NarrowArray, BoolArray]:
    """The lowest, middle and highest vertex of each triangle, and whether it is even."""
    a, b, c = np.ascontiguousarray(triangles.T, np.int32)
    lower, upper = np.minimum(a, b), np.maximum(a, b)
    middle = np.maximum(lower, np.minimum(upper, c))
    is_even = ((a < b) ^ (b < c)) == (c < a)
    return np.minimum(lower, c), middle, np.maximum(upper, c), is_even


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
