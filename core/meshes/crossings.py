"""Do two closed surfaces run through each other? Told by sections of both in many planes."""

from __future__ import annotations

import numpy as np

from ..values import BoolArray, FloatArray, IntArray, Mesh
from .mesh_checks import compact
from .plane_sections import cut_sections
from .polygon import side_of

_PLANES = 32
_AT_ONCE = 2_000_000


def crossing_points(mesh: Mesh, first: IntArray, second: IntArray) -> FloatArray:
    """(k, 3) mm, some points at which two closed shells cross; none where they lie apart.

    Both are cut in 32 planes across each axis, over the box that they share: a crossing
    shorter than a thirty-second of that box, along all axes, is not seen.

    Parameters
    ----------
    first, second : numbers of the triangles of each shell
    """
    shells = [compact(mesh.vertices, mesh.triangles[rows]) for rows in (first, second)]
    low = np.max([shell.vertices.min(axis=0) for shell in shells], axis=0)
    high = np.min([shell.vertices.max(axis=0) for shell in shells], axis=0)
    if (low >= high).any():
        return np.empty((0, 3))
    found = [_crossings_across(shells, axis, low, high) for axis in range(3)]
    points: FloatArray = np.concatenate(found)
    return points


def _crossings_across(
    shells: list[Mesh], axis: int, low: FloatArray, high: FloatArray
) -> FloatArray:
    """Where the outlines of both cross in planes square to an axis."""
    turned = [(axis + k) % 3 for k in (1, 2, 0)]
    places = (np.arange(_PLANES) + 0.5137) / _PLANES
    heights = low[axis] + places * (high[axis] - low[axis])
    cuts = []
    for shell in shells:
        columns = [np.ascontiguousarray(shell.vertices[:, k]) for k in turned]
        cut = cut_sections(columns, shell.triangles, heights)
        plane = cut.plane[cut.outline]
        beside = _reaches_in(cut.starts, cut.ends, low[turned[:2]], high[turned[:2]])
        cuts.append((cut.starts[beside], cut.ends[beside], plane[beside]))
    points = [np.empty((0, 3))]
    for number, height in enumerate(heights.tolist()):
        (a, b, at), (c, d, other) = cuts
        met = _meetings(a[at == number], b[at == number], c[other == number], d[other == number])
        whole = np.empty((len(met), 3))
        whole[:, turned] = np.column_stack([met, np.full(len(met), height)])
        points.append(whole)
    return np.concatenate(points)


def _reaches_in(start: FloatArray, end: FloatArray, low: FloatArray, high: FloatArray) -> BoolArray:
    least, most = np.minimum(start, end), np.maximum(start, end)
    inside: BoolArray = ((most >= low) & (least <= high)).all(axis=1)
    return inside


def _meetings(a: FloatArray, b: FloatArray, c: FloatArray, d: FloatArray) -> FloatArray:
    """(k, 2) points at which segments ab cross segments cd."""
    if not len(c):
        return np.empty((0, 2))
    rows = max(1, _AT_ONCE // len(c))
    met = [np.empty((0, 2))]
    for first in range(0, len(a), rows):
        p, q = a[first : first + rows, None], b[first : first + rows, None]
        left, right = side_of(c[None], d[None], p), side_of(c[None], d[None], q)
        cross = side_of(p, q, c[None]) * side_of(p, q, d[None]) < 0.0
        at = np.nonzero(cross & (left * right < 0.0))
        share = (left[at] / (left[at] - right[at]))[:, None]
        met.append(p[at[0], 0] + share * (q[at[0], 0] - p[at[0], 0]))
    return np.concatenate(met)
