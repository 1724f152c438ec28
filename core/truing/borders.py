"""The border edges of all regions, each matched with the same edge run the other way."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.borders import RegionLoop
from ..values import IntArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Borders:
    """The loops of all regions, and their edges one after another.

    first : (loops + 1,) place of each loop's first edge
    start, end : (e,) vertices of each edge
    triangle, corner : (e,) the triangle of its own region, and the corner it starts at
    loop : (e,) which loop it is of
    twin : (e,) place of the same edge in the loop of the region beyond
    partner : (loops,) the loop that runs all the same edges backward, or -1
    """

    loops: tuple[RegionLoop, ...]
    first: IntArray
    start: IntArray
    end: IntArray
    triangle: IntArray
    corner: IntArray
    loop: IntArray
    twin: IntArray
    partner: IntArray

    def __post_init__(self) -> None:
        for array in (self.first, self.start, self.end, self.triangle):
            read_only(array)
        for array in (self.corner, self.loop, self.twin, self.partner):
            read_only(array)

    def edges_of(self, loop: int) -> IntArray:
        """Places of a loop's edges, in order."""
        return np.arange(self.first[loop], self.first[loop + 1])


def match_borders(loops: list[RegionLoop]) -> Borders:
    """The loops with their edges matched."""
    sizes = np.array([len(loop.vertices) for loop in loops], np.int64)
    first = np.concatenate([[0], np.cumsum(sizes)])
    own = np.concatenate([3 * loop.triangles + loop.corners for loop in loops])
    across = np.concatenate([3 * loop.beyond_triangles + loop.beyond_corners for loop in loops])
    order = np.argsort(own)
    twin = order[np.searchsorted(own[order], across)]
    number = np.repeat(np.arange(len(loops)), sizes)
    least = np.minimum.reduceat(number[twin], first[:-1])
    most = np.maximum.reduceat(number[twin], first[:-1])
    return Borders(
        loops=tuple(loops),
        first=first,
        start=np.concatenate([loop.vertices for loop in loops]),
        end=np.concatenate([np.roll(loop.vertices, -1) for loop in loops]),
        triangle=own // 3,
        corner=own % 3,
        loop=number,
        twin=twin,
        partner=np.where((least == most) & (sizes[least] == sizes), least, -1),
    )
