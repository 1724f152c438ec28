"""Closed outlines from the edges that a mesh is open at."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray, IntArray
from .polygon import signed_area


def unpaired(start: IntArray, end: IntArray) -> IntArray:
    """Numbers of the edges that no other edge runs the opposite way."""
    span = int(max(start.max(initial=-1), end.max(initial=-1))) + 1
    single: IntArray = np.flatnonzero(~np.isin(start * span + end, end * span + start))
    return single


def do_close(start: IntArray, end: IntArray) -> bool:
    """Whether edges link into closed outlines that pass no vertex twice."""
    starts = set(start.tolist())
    return len(starts) == len(start) and starts == set(end.tolist())


def edge_rings(start: IntArray, end: IntArray) -> list[IntArray]:
    """Edges that `do_close` linked into closed outlines, each along its edges."""
    after = dict(zip(start.tolist(), end.tolist(), strict=True))
    rings = []
    while after:
        first, current = after.popitem()
        ring = [first]
        while current != first:
            ring.append(current)
            current = after.pop(current)
        rings.append(np.array(ring))
    return rings


def counter_clockwise(vertices: FloatArray, ring: IntArray) -> IntArray:
    """A ring of vertex numbers so that it runs counter-clockwise seen from above."""
    return ring if signed_area(vertices[ring, :2]) > 0.0 else ring[::-1]
