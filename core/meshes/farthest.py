"""What of a mesh lies farthest along a direction, of many asked one after another.

Vertices and triangles are put in boxes once; only boxes that reach far enough are looked into.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, IntArray, Mesh, read_only
from .products import heights_along

_MOST_SIDES = 40
"""Boxes along each axis; their cube is less than 2^16, which sorts in no time."""

_IN_A_BOX = 8.0
_ROUND_OFF = 1e-6
"""mm; boxes are looked into that seem to end so much too early."""


@dataclass(frozen=True, slots=True, eq=False)
class Boxed:
    """A mesh in boxes.

    vertices, triangles : (n,) and (m,) numbers, box by box; a triangle is where its first corner is
    first_vertex, first_triangle : (b + 1,) where each box begins in those, and all of them end
    box : (n,) number of each vertex's box
    middles, halves : (b, 3) mm, of the vertices' extents
    """

    mesh: Mesh
    vertices: IntArray
    first_vertex: IntArray
    triangles: IntArray
    first_triangle: IntArray
    box: IntArray
    middles: FloatArray
    halves: FloatArray

    def __post_init__(self) -> None:
        for name in self.__slots__[1:]:
            read_only(getattr(self, name))

    @classmethod
    def of(cls, mesh: Mesh) -> Boxed:
        """Of a mesh with vertices, all of them used."""
        box = _boxes(mesh.vertices)
        order, first = _in_order(box, int(box.max()) + 1)
        columns = [column.take(order) for column in mesh.vertices.T]
        lows, highs = (
            np.column_stack([way.reduceat(column, first[:-1]) for column in columns])
            for way in (np.minimum, np.maximum)
        )
        rows, first_row = _in_order(box.take(mesh.triangles[:, 0]), len(first) - 1)
        middles, halves = (highs + lows) / 2.0, (highs - lows) / 2.0
        return cls(mesh, order, first, rows, first_row, box, middles, halves)

    def farthest(self, direction: FloatArray, depth: float) -> IntArray:
        """Numbers, ascending, of the vertices within a depth, mm, of the farthest."""
        tops = heights_along(self.middles, direction)
        tops += heights_along(self.halves, np.abs(direction))
        highest = self._heights(np.array([tops.argmax()]), direction)[1].max()
        rows, heights = self._heights(
            np.flatnonzero(tops >= highest - depth - _ROUND_OFF), direction
        )
        numbers: IntArray = np.sort(rows[heights >= heights.max() - depth])
        return numbers

    def reach(self, direction: FloatArray) -> float:
        """How far, mm, the farthest vertex lies along a direction."""
        farthest = self.mesh.vertices[self.farthest(direction, 0.0)]
        return float((farthest @ direction).max())

    def between(self, vertices: IntArray) -> IntArray:
        """Numbers, ascending, of the triangles between some vertices alone."""
        marked = np.zeros(len(self.box), bool)
        marked[vertices] = True
        boxes = np.unique(self.box.take(vertices))
        rows = self.triangles[_ranges(self.first_triangle, boxes)]
        for corner in self.mesh.triangles.T:
            rows = rows[marked[corner[rows]]]
        numbers: IntArray = np.sort(rows)
        return numbers

    def _heights(self, boxes: IntArray, direction: FloatArray) -> tuple[IntArray, FloatArray]:
        """Vertices in some boxes, and how far they lie along a direction."""
        rows = self.vertices[_ranges(self.first_vertex, boxes)]
        return rows, heights_along(self.mesh.vertices.take(rows, axis=0), direction)


def _boxes(points: FloatArray) -> IntArray:
    """(n,) numbers of the boxes that points lie in, from 0 on without gaps."""
    sides = int(np.clip((len(points) / _IN_A_BOX) ** (1.0 / 3.0), 1, _MOST_SIDES))
    codes = np.zeros(len(points), np.int64)
    for column in points.T:
        low, extent = float(column.min()), max(float(np.ptp(column)), 1e-300)
        place = ((column - low) * (sides / extent)).astype(np.int64)
        codes = codes * sides + np.minimum(place, sides - 1)
    filled = np.bincount(codes, minlength=sides**3) > 0
    boxes: IntArray = (np.cumsum(filled) - 1)[codes]
    return boxes


def _in_order(boxes: IntArray, count: int) -> tuple[IntArray, IntArray]:
    """Things box by box, and where each box begins, the end included."""
    order = np.argsort(boxes.astype(np.uint16), kind="stable")
    return order, np.concatenate([[0], np.cumsum(np.bincount(boxes, minlength=count))])


def _ranges(first: IntArray, boxes: IntArray) -> IntArray:
    """All places from each box's first up to the next one's."""
    counts = first[boxes + 1] - first[boxes]
    before = np.cumsum(counts) - counts
    places: IntArray = np.arange(int(counts.sum())) + np.repeat(first[boxes] - before, counts)
    return places
