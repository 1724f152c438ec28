"""Loops as they are rebuilt: chains of vertices, some of them on lines along a surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, IntArray, read_only

_TOGETHER = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """A loop as it is rebuilt: numbers of vertices, and the line that each lies on, or -1."""

    vertices: IntArray
    lines: IntArray

    def __post_init__(self) -> None:
        read_only(self.vertices)
        read_only(self.lines)

    def backward(self) -> Chain:
        """The same run the other way."""
        return Chain(self.vertices[::-1].copy(), self.lines[::-1].copy())


@dataclass(frozen=True, slots=True, eq=False)
class EdgeVertices:
    """New vertices on border edges that are kept, by edge and along each edge in order.

    first : (e + 1,) place of each edge's first one; edges that are run backward by a
        lower-numbered twin have none of their own
    vertices, lines, sets : number, and the line of which set that each lies on
    """

    first: IntArray
    vertices: IntArray
    lines: IntArray
    sets: IntArray

    def __post_init__(self) -> None:
        for array in (self.first, self.vertices, self.lines, self.sets):
            read_only(array)


def interleaved(
    starts: IntArray, counts: IntArray, added: IntArray, lines: IntArray
) -> tuple[IntArray, IntArray]:
    """Each edge's start followed by the vertices added on it; and their lines."""
    edge = np.repeat(np.arange(len(starts)), counts)
    place = np.arange(len(added)) + edge + 1
    vertices, owners = np.empty((2, len(starts) + len(added)), np.int64)
    is_start = np.ones(len(vertices), bool)
    is_start[place] = False
    vertices[place], owners[place] = added, lines
    vertices[is_start], owners[is_start] = starts, -1
    return vertices, owners


def joined_lines(lines: list[FloatArray]) -> tuple[FloatArray, list[IntArray]]:
    """The lines of one or two sets together, and for each set which of its own each one is.

    Lines of two sets that all but meet become one.
    """
    angles = np.concatenate(lines)
    order = np.argsort(angles, kind="stable")
    fresh = np.diff(angles[order], prepend=-np.inf) > _TOGETHER
    place = np.empty(len(angles), np.int64)
    place[order] = np.cumsum(fresh) - 1
    owners = []
    for some, start in zip(lines, np.cumsum([0, *map(len, lines)]), strict=False):
        owner = np.full(int(fresh.sum()), -1)
        owner[place[start : start + len(some)]] = np.arange(len(some))
        owners.append(owner)
    return angles[order][fresh], owners
