"""Which triangles of a mesh pierce others, though they share no corner.

Boxes are told apart by a grid, in which wide triangles are halved until they are no wider than
its cells: so a few long facets among fine ones cost no more than their share.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, IntArray, Mesh, read_only

_WIDE = 4.0
"""Cells are so many times as wide as those that triangles would be cut small for."""

_AT_ONCE = 1 << 20


@dataclass(frozen=True, slots=True, eq=False)
class Piercings:
    """Pairs of triangles that pierce each other.

    first, second : (k,) numbers of triangles
    points : (k, 3) mm, where an edge of one goes through the other
    """

    first: IntArray
    second: IntArray
    points: FloatArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))


def find_piercings(mesh: Mesh, asked: IntArray, others: IntArray, slack: float) -> Piercings:
    """Where asked triangles pierce each other or any of the others.

    Two that share a corner are not held against each other: a sheet that passes through
    another has others there that share none.

    Parameters
    ----------
    asked, others : numbers of triangles, distinct
    slack : mm, that both ends of an edge have to lie off the triangle that it pierces
    """
    rows = np.concatenate([asked, others])
    corners = mesh.triangles[rows]
    found = [
        _piercing(mesh.vertices, corners, *pair, slack)
        for pair in _near_pairs(mesh.vertices[corners], len(asked))
    ]
    lots = zip(_none_found(), *found, strict=True)
    first, second, points = (np.concatenate(lot) for lot in lots)
    _, kept = np.unique(first * len(rows) + second, return_index=True)
    return Piercings(rows[first[kept]], rows[second[kept]], points[kept])


def _none_found() -> tuple[IntArray, IntArray, FloatArray]:
    return np.empty(0, np.int64), np.empty(0, np.int64), np.empty((0, 3))


# Which are near each other


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Parts of triangles in the cells that their boxes reach into.

    owner : (p,) the triangle that each part is of
    low, high : (p, 3) mm, of each part's box
    member : (e,) parts, cell by cell
    after : (e,) how many more come after each in its cell
    """

    owner: IntArray
    low: FloatArray
    high: FloatArray
    member: IntArray
    after: IntArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))

    def pairs(self) -> Iterator[tuple[IntArray, IntArray]]:
        """Pairs of triangles of which parts' boxes meet in a cell, in lots."""
        lot = np.cumsum(self.after) // _AT_ONCE
        for rows in np.split(np.arange(len(lot)), np.flatnonzero(np.diff(lot)) + 1):
            count = self.after[rows]
            one = np.repeat(rows, count)
            step = np.arange(1, len(one) + 1) - np.repeat(np.cumsum(count) - count, count)
            yield self._meeting(self.member[one], self.member[one + step])

    def _meeting(self, first: IntArray, second: IntArray) -> tuple[IntArray, IntArray]:
        for axis in range(3):
            low, high = self.low[:, axis], self.high[:, axis]
            meet = np.flatnonzero((low[first] <= high[second]) & (low[second] <= high[first]))
            first, second = first[meet], second[meet]
        return self.owner[first], self.owner[second]


def _near_pairs(triangles: FloatArray, asked: int) -> Iterator[tuple[IntArray, IntArray]]:
    """Pairs of triangles, (n, 3, 3), that may meet: the lower number first, some of them twice.

    asked : so many come first, and no pair is of two of the others
    """
    if not asked:
        return
    size = _cell_size(triangles)
    owner, parts = _halved(triangles, size)
    for first, second in _grid(owner, parts, size, asked).pairs():
        low, high = np.minimum(first, second), np.maximum(first, second)
        kept = (low < asked) & (low != high)
        yield low[kept], high[kept]


def _cell_size(triangles: FloatArray) -> float:
    """mm, that leaves few triangles to be halved, and few in a cell.

    Squares of width h, about A / h^2 + w / h for each triangle of area A and width w, would be
    three a triangle in all.
    """
    widths = np.ptp(triangles, axis=1).max(axis=1)
    sides = triangles[:, 1:] - triangles[:, :1]
    area = float(np.linalg.norm(np.cross(sides[:, 0], sides[:, 1]), axis=1).sum()) / 2.0
    width, count = float(widths.sum()), len(triangles)
    by_count = (width + math.sqrt(width * width + 12.0 * count * area)) / (6.0 * count)
    return max(_WIDE * by_count, 1e-6)


def _halved(parts: FloatArray, size: float) -> tuple[IntArray, FloatArray]:
    """Triangles wider than a cell halved across their longest sides until they are not.

    Returns
    -------
    Of each part the triangle that it is of, and its corners
    """
    done: list[tuple[IntArray, FloatArray]] = []
    owner = np.arange(len(parts))
    while True:
        wide = np.ptp(parts, axis=1).max(axis=1) > size
        done.append((owner[~wide], parts[~wide]))
        if not wide.any():
            break
        owner, parts = owner[wide], parts[wide]
        sides = np.linalg.norm(np.roll(parts, -1, axis=1) - parts, axis=2)
        turn = (sides.argmax(axis=1)[:, None] + np.arange(3)) % 3
        a, b, c = np.moveaxis(np.take_along_axis(parts, turn[:, :, None], axis=1), 1, 0)
        middle = (a + b) / 2.0
        owner = np.concatenate([owner, owner])
        parts = np.concatenate([np.stack([a, middle, c], 1), np.stack([middle, b, c], 1)])
    owners, pieces = zip(*done, strict=True)
    return np.concatenate(owners), np.concatenate(pieces)


def _grid(owner: IntArray, parts: FloatArray, size: float, asked: int) -> _Grid:
    """The parts in cells of a size; cells that no asked triangle reaches into are left out."""
    low, high = parts.min(axis=1), parts.max(axis=1)
    origin = low.min(axis=0)
    first, last = (np.floor((reach - origin) / size).astype(np.int64) for reach in (low, high))
    spread = last.max(axis=0) + 1
    members, cells = [], []
    for step in np.ndindex(2, 2, 2):
        reaches = np.flatnonzero((first + step <= last).all(axis=1))
        x, y, z = (first[reaches] + step).T
        members.append(reaches)
        cells.append((x * spread[1] + y) * spread[2] + z)
    member, cell = np.concatenate(members), np.concatenate(cells)
    if asked < int(owner.max()) + 1:
        kept = np.isin(cell, cell[owner[member] < asked])
        member, cell = member[kept], cell[kept]
    order = np.argsort(cell, kind="stable")
    starts = np.flatnonzero(np.diff(cell[order], prepend=-1))
    counts = np.diff(starts, append=len(order))
    after = np.repeat(starts + counts, counts) - np.arange(len(order)) - 1
    return _Grid(owner, low, high, member[order], after)


# Which of those pierce


def _piercing(
    vertices: FloatArray, corners: IntArray, first: IntArray, second: IntArray, slack: float
) -> tuple[IntArray, IntArray, FloatArray]:
    """Those of some pairs of triangles that pierce each other, and where."""
    first, second = _apart(corners, first, second)
    found = [_none_found()]
    for one, other in ((first, second), (second, first)):
        at, points = _edges_through(vertices[corners[one]], vertices[corners[other]], slack)
        found.append((first[at], second[at], points))
    lots = zip(*found, strict=True)
    a, b, points = (np.concatenate(lot) for lot in lots)
    return a, b, points


def _apart(corners: IntArray, first: IntArray, second: IntArray) -> tuple[IntArray, IntArray]:
    """Those of some pairs that share no corner, each once."""
    for k in range(9):
        apart = corners[first, k // 3] != corners[second, k % 3]
        first, second = first[apart], second[apart]
    codes = np.unique(first * len(corners) + second)
    return codes // len(corners), codes % len(corners)


def _edges_through(
    edges: FloatArray, plates: FloatArray, slack: float
) -> tuple[IntArray, FloatArray]:
    """Rows in which a side of one triangle goes through the other's inside, and where.

    edges, plates : (k, 3, 3)
    """
    origin = plates[:, 0]
    sides = plates[:, 1:] - origin[:, None]
    normal = np.cross(sides[:, 0], sides[:, 1])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-30)[:, None]
    off = np.einsum("ijk,ik->ij", edges - origin[:, None], normal)
    ahead = np.roll(off, -1, axis=1)
    row, side = np.nonzero((off * ahead < 0.0) & (np.minimum(abs(off), abs(ahead)) > slack))
    start, stop = edges[row, side], edges[row, (side + 1) % 3]
    share = off[row, side] / (off[row, side] - ahead[row, side])
    points = start + share[:, None] * (stop - start)
    inside = np.ones(len(row), bool)
    for k in range(3):
        a, b = plates[row, k], plates[row, (k + 1) % 3]
        inside &= np.einsum("ij,ij->i", np.cross(b - a, points - a), normal[row]) > 0.0
    return row[inside], points[inside]
