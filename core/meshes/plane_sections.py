"""The outlines of a closed mesh in many planes across an axis.

Nothing is put in order: a closed mesh gives each crossing of an edge and a plane once as the
start and once as the end of a segment, so that outlines are the cycles of a
permutation, and areas are sums over them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..values import FloatArray, IntArray, read_only
from .in_blocks import in_blocks


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """Segments of all outlines in all planes; the solid lies left of each.

    heights : (k,) of the planes
    starts, ends : (p, 2) mm
    following : (p,) the segment that goes on where each ends
    triangle : (p,) that each lies in
    outline : (p,) number of the outline that each is part of
    plane : (q,) number of the plane of each outline
    areas : (q,) mm2, negative around a hollow
    """

    heights: FloatArray
    starts: FloatArray
    ends: FloatArray
    following: IntArray
    triangle: IntArray
    outline: IntArray
    plane: IntArray
    areas: FloatArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))

    @property
    def count(self) -> int:
        """How many outlines there are."""
        return len(self.plane)

    def sums(self, values: FloatArray) -> FloatArray:
        """(q,) values, one a segment, added up over each outline."""
        added: FloatArray = np.bincount(self.outline, values, self.count).astype(np.float64)
        return added


def cut_sections(columns: list[FloatArray], triangles: IntArray, heights: FloatArray) -> Sections:
    """The outlines of a closed mesh in planes across the third coordinate.

    A corner at the height of a plane counts as below it.

    Parameters
    ----------
    columns : x, y, z, each (n,) and contiguous
    triangles : (m, 3)
    heights : (k,) ascending, some thousands at the most
    """
    level = np.searchsorted(heights, columns[2]).astype(np.int16)
    pair, plane = _crossed(level, triangles)
    corners = triangles[pair].T
    first, second, third = level[corners] > plane
    few_above = ~(first & second | second & third | third & first)
    lone = np.where(second == third, 0, np.where(third == first, 1, 2))
    row = np.arange(len(pair))
    a, b, c = (corners[(lone + k) % 3, row] for k in range(3))
    first, second = np.where(few_above, b, c), np.where(few_above, c, b)
    starts = _crossings(columns, a, first, heights[plane])
    ends = _crossings(columns, a, second, heights[plane])
    count = len(columns[0])
    following = _following(_codes(plane, a, first, count), _codes(plane, a, second, count))
    label = _cycles(following)
    is_lowest = label == np.arange(len(label))
    named, outline = np.flatnonzero(is_lowest), (np.cumsum(is_lowest) - 1)[label]
    turned = starts[:, 0] * ends[:, 1] - starts[:, 1] * ends[:, 0]
    areas = np.bincount(outline, turned / 2.0, len(named)).astype(np.float64)
    return Sections(heights, starts, ends, following, pair, outline, plane[named], areas)


def _crossed(level: NDArray[np.int16], triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Numbers of a triangle and a plane that it crosses, of all such pairs.

    level : (n,) how many planes each vertex lies above
    """

    def look(block: slice) -> tuple[IntArray, IntArray, IntArray]:
        a, b, c = level.take(np.ascontiguousarray(triangles[block].T, np.intp))
        low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
        crossing = np.flatnonzero(high > low)
        first, counts = low[crossing], high[crossing] - low[crossing]
        return crossing + int(block.start), first.astype(np.int64), counts.astype(np.int64)

    lots = in_blocks(look, len(triangles))
    crossing, first, counts = (np.concatenate(lot) for lot in zip(*lots, strict=True))
    before = np.cumsum(counts) - counts
    plane = np.arange(int(counts.sum())) + np.repeat(first - before, counts)
    return np.repeat(crossing, counts), plane


def _codes(plane: IntArray, first: IntArray, second: IntArray, count: int) -> IntArray:
    low, high = np.minimum(first, second), np.maximum(first, second)
    codes: IntArray = (plane * count + low) * count + high
    return codes


def _crossings(
    columns: list[FloatArray], first: IntArray, second: IntArray, heights: FloatArray
) -> FloatArray:
    """Where edges meet planes; the same to the last bit from either side of an edge."""
    low, high = np.minimum(first, second), np.maximum(first, second)
    x, y, z = columns
    share = (heights - z[low]) / (z[high] - z[low])
    return np.column_stack(
        [x[low] + share * (x[high] - x[low]), y[low] + share * (y[high] - y[low])]
    )


def _following(start: IntArray, end: IntArray) -> IntArray:
    """(p,) for each segment the one whose start is its end."""
    following = np.empty(len(start), np.int64)
    following[np.argsort(end)] = np.argsort(start)
    return following


def _cycles(following: IntArray) -> IntArray:
    """(p,) the lowest number in the cycle of each, by jumps of growing length."""
    label = np.arange(len(following))
    jump = following
    reached = 1
    while reached < len(following):
        further = np.minimum(label, label[jump])
        if np.array_equal(further, label):
            break
        label, jump, reached = further, jump[jump], 2 * reached
    return label
