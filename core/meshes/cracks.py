"""Cracks: open edges that lie on one another but share no vertices."""

from __future__ import annotations

import itertools

import numpy as np

from ..values import FloatArray, IntArray, Mesh
from .connected import connected_groups
from .equal_rows import first_equal
from .half_edges import edge_numbers, next_side
from .places import told

_CRACK = 0.002
"""Open vertices this near, mm, are one: two steps of the last of six printed digits at a
few hundred mm, and many of float32. No detail of a print is as small."""

_STEPS = 2.0**-22
"""The same far from the origin: four steps of float32, relative to the coordinate."""

_ASLANT = np.array([0.5257, 0.8507, 0.3090]) / 1.0472
"""A direction that faces of parts do not lie square to, of unit length to 1e-4."""

_PAIRS_AT_ONCE = 1 << 20


def open_half_edges(triangles: IntArray) -> IntArray:
    """Half-edges whose edge has no other triangle, ascending."""
    numbers, counts = edge_numbers(triangles)
    return np.flatnonzero(counts[numbers.ravel()] == 1)


def crack_width(vertices: FloatArray) -> float:
    """How far apart, mm, the two sides of a crack may lie."""
    return max(_CRACK, _STEPS * float(np.abs(vertices).max()))


def weld_cracks(mesh: Mesh) -> tuple[Mesh, tuple[str, ...]]:
    """The mesh with open vertices that nearly coincide made one, and a remark."""
    open_edges = open_half_edges(mesh.triangles)
    flat = mesh.triangles.ravel()
    rim = np.unique(np.concatenate((flat[open_edges], flat[next_side(open_edges)])))
    points = mesh.vertices[rim]
    if not len(rim):
        return mesh, ()
    groups = _near_groups(points, crack_width(mesh.vertices))
    order = np.lexsort((*points.T[::-1], groups))
    leads = order[np.searchsorted(groups[order], np.arange(groups.max() + 1))]
    moved = leads[groups] != np.arange(len(rim))
    if not moved.any():
        return mesh, ()
    number = np.arange(len(mesh.vertices))
    number[rim] = rim[leads[groups]]
    remark = told(
        points[moved], "vertex beside a crack was", "vertices beside cracks were",
        f"joined to another within {crack_width(mesh.vertices):.4f} mm",
    )  # fmt: skip
    return Mesh(mesh.vertices, number[mesh.triangles]), (remark,)


def _near_groups(points: FloatArray, width: float) -> IntArray:
    """Groups of points, each within the width of another in x, y and z.

    Two such points share a cell of at least one of eight grids of twice the width,
    shifted by half a cell.
    """
    ours, others = [], []
    for shift in itertools.product((0.0, 0.5), repeat=3):
        cells = np.floor(points / (2.0 * width) + np.array(shift)).astype(np.int64)
        first = first_equal([np.ascontiguousarray(column) for column in cells.T])
        shared = np.flatnonzero(first != np.arange(len(first)))
        near = (np.abs(points[shared] - points[first[shared]]) <= width).all(axis=1)
        ours.append(shared[near])
        others.append(first[shared[near]])
    return connected_groups(len(points), np.concatenate(ours), np.concatenate(others))


def split_at_cracks(mesh: Mesh) -> tuple[Mesh, tuple[str, ...]]:
    """Triangles split where an open vertex lies on their open edge, and a remark."""
    vertices, triangles = mesh.vertices, mesh.triangles
    places = []
    while True:
        edges, inner = _vertices_on_edges(vertices, triangles)
        if not len(edges):
            break
        places.append(vertices[inner])
        triangles = _split(triangles, edges, inner)
    if not places:
        return mesh, ()
    points = np.vstack(places)
    remark = told(
        points, "vertex lay on an edge of a triangle, which was",
        "vertices lay on edges of triangles, which were", "split there",
    )  # fmt: skip
    return Mesh(vertices, triangles), (remark,)


def _vertices_on_edges(vertices: FloatArray, triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Half-edges, one of each triangle at most, and the open vertices on them, in order."""
    half = open_half_edges(triangles)
    flat = triangles.ravel()
    start, end = flat[half], flat[next_side(half)]
    rim = np.unique(np.concatenate((start, end)))
    width = crack_width(vertices)
    found: list[tuple[IntArray, IntArray, FloatArray]] = []
    for row, vertex in _candidates(vertices, start, end, rim, width):
        a, b, p = vertices[start[row]], vertices[end[row]], vertices[vertex]
        along = b - a
        share = ((p - a) * along).sum(axis=1) / np.maximum((along * along).sum(axis=1), 1e-300)
        off = np.linalg.norm(a + share[:, None] * along - p, axis=1)
        apart = flat.reshape(-1, 3)[half[row] // 3] != vertex[:, None]
        on = (share > 0.0) & (share < 1.0) & (off <= width) & apart.all(axis=1)
        found.append((half[row[on]], vertex[on], share[on]))
    if not found:
        return half[:0], half[:0]
    edges, inner, shares = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort((shares, edges))
    edges, inner = edges[order], inner[order]
    lowest = np.full(len(triangles), 3)
    np.minimum.at(lowest, edges // 3, edges % 3)
    chosen = edges % 3 == lowest[edges // 3]
    return edges[chosen], inner[chosen]


def _candidates(
    vertices: FloatArray, start: IntArray, end: IntArray, rim: IntArray, width: float
) -> list[tuple[IntArray, IntArray]]:
    """Pairs, in lots, of an open edge's row and an open vertex within its box.

    Heights along a slanted line come first: along it no face of a part is level.
    """
    heights = vertices @ _ASLANT
    rim = rim[np.argsort(heights[rim], kind="stable")]
    lower, upper = np.sort((heights[start], heights[end]), axis=0)
    begin = np.searchsorted(heights[rim], lower - width, "left")
    counts = np.searchsorted(heights[rim], upper + width, "right") - begin
    a, b = vertices[start], vertices[end]
    low, high = np.minimum(a, b) - width, np.maximum(a, b) + width
    lots, row = [], 0
    totals = np.cumsum(counts)
    while row < len(start):
        before = totals[row - 1] if row else 0
        stop = max(row + 1, int(np.searchsorted(totals, before + _PAIRS_AT_ONCE, "right")))
        rows = np.repeat(np.arange(row, stop), counts[row:stop])
        step = np.arange(len(rows)) - np.repeat(totals[row:stop] - counts[row:stop] - before,
                                                counts[row:stop])  # fmt: skip
        vertex = rim[begin[rows] + step]
        point = vertices[vertex]
        inside = ((point >= low[rows]) & (point <= high[rows])).all(axis=1)
        lots.append((rows[inside], vertex[inside]))
        row = stop
    return lots


def _split(triangles: IntArray, edges: IntArray, inner: IntArray) -> IntArray:
    """Each triangle of an edge as a fan over the edge's parts, from its third corner."""
    flat = triangles.ravel()
    heads, first, count = np.unique(edges, return_index=True, return_counts=True)
    start, end = flat[heads], flat[next_side(heads)]
    tip = flat[next_side(next_side(heads))]
    last = first + count - 1
    whole = np.ones(len(triangles), bool)
    whole[heads // 3] = False
    firsts = np.column_stack((start, inner[first], tip))
    ends = np.column_stack((inner[last], end, tip))
    follows = np.flatnonzero(edges[1:] == edges[:-1])
    owner = np.searchsorted(heads, edges[follows])
    between = np.column_stack((inner[follows], inner[follows + 1], tip[owner]))
    return np.vstack((triangles[whole], firsts, between, ends))
