"""Vertices where a closed mesh touches itself: their triangles form more than one fan."""

from __future__ import annotations

from functools import partial

import numpy as np

from ..values import BoolArray, IntArray, Mesh, NarrowArray
from .connected import connected_groups
from .half_edges import Edges, next_side
from .in_blocks import blocks, in_blocks
from .places import told
from .products import heights_along

_FEW = 10
"""Of corners fewer than this share of all, the next in a fan is looked up by sorting."""

_FEW_OF_ALL = 50
"""Of vertices fewer than this share of all are looked at fan by fan."""

PARTED = 0.002
"""How far, mm, a vertex is drawn back from where its body touches itself."""


def touching_vertices(edges: Edges, mesh: Mesh) -> IntArray:
    """The vertices whose triangles form two fans or more, ascending.

    A fan's outer corners form a ring. Given any heights, each ring has a lowest
    corner: one that is no higher than the two beside it. So a vertex with only one
    such corner around it has one fan, and few vertices are left to look at fan by
    fan. Vertex numbers are heights that need no look-up, and they serve wherever a
    mesh was written in order; coordinates serve on a smooth surface in any order.
    """
    suspect = _suspects(edges, mesh)
    if not suspect.any():
        return np.flatnonzero(suspect)
    corners, fans = _fans(edges, mesh.triangles, suspect)
    first_ones = corners[fans == np.arange(len(fans))]
    counts = np.bincount(mesh.triangles.ravel()[first_ones], minlength=len(suspect))
    return np.flatnonzero(counts > 1)


def part_touching(mesh: Mesh, edges: Edges) -> tuple[Mesh, tuple[str, ...]]:
    """The closed mesh with a vertex of its own for each fan, and a remark.

    Where a body touched itself, the vertices are drawn back into their fans.
    """
    touching = touching_vertices(edges, mesh)
    if not len(touching):
        return mesh, ()
    chosen = np.zeros(len(mesh.vertices), bool)
    chosen[touching] = True
    corners, fans = _fans(edges, mesh.triangles, chosen)
    first_ones = fans == np.arange(len(fans))
    flat = mesh.triangles.ravel().copy()
    owner = flat[corners[first_ones]]
    flat[corners] = len(mesh.vertices) + (np.cumsum(first_ones) - 1)[fans]
    parted = Mesh(np.vstack((mesh.vertices, mesh.vertices[owner])), flat.reshape(-1, 3))
    moved = _drawn_back(parted, len(mesh.vertices), owner)
    remark = told(
        mesh.vertices[touching], "vertex where surfaces touched in a point was",
        "vertices where surfaces touched in a point were", "parted",
    )  # fmt: skip
    return moved, (remark,)


def _drawn_back(mesh: Mesh, first: int, owner: IntArray) -> Mesh:
    """Vertices from `first` on, copies of their owners, drawn into their fans.

    Only those that have another copy of the same owner in the same body.
    """
    a, b, c = mesh.triangles.T
    body = connected_groups(len(mesh.vertices), np.concatenate((a, a)), np.concatenate((b, c)))
    _, which, counts = np.unique(
        np.column_stack((owner, body[first:])), axis=0, return_inverse=True, return_counts=True
    )
    chosen = np.zeros(len(mesh.vertices), bool)
    chosen[first:] = counts[which.reshape(-1)] > 1
    start, end = mesh.triangles.ravel(), mesh.triangles[:, [1, 2, 0]].ravel()
    beside = chosen[start]
    way = mesh.vertices[end[beside]] - mesh.vertices[start[beside]]
    sums = np.column_stack(
        [np.bincount(start[beside], way[:, k], len(mesh.vertices)) for k in range(3)]
    )
    least = np.full(len(mesh.vertices), np.inf)
    np.minimum.at(least, start[beside], np.linalg.norm(way, axis=1))
    length = np.linalg.norm(sums, axis=1)
    step = np.minimum(PARTED, least / 4.0)
    drawn = chosen & (length > 0.0)
    vertices = mesh.vertices.copy()
    vertices[drawn] += sums[drawn] * (step[drawn] / length[drawn])[:, None]
    return Mesh(vertices, mesh.triangles)


# Telling fans apart


def _suspects(edges: Edges, mesh: Mesh) -> BoolArray:
    """The vertices with more than one lowest corner around them: by either height, or few."""
    lows = []
    for some in blocks(len(edges.mates)):
        low, high, one, other = _rings(edges, some)
        beside = np.minimum(one, other)
        lows.append(low.take(np.flatnonzero(high < beside)))
        lows.append(high.take(np.flatnonzero(low < beside)))
    suspect = _several(lows, len(mesh.vertices))
    if np.count_nonzero(suspect) <= len(suspect) // _FEW_OF_ALL:
        return suspect
    height = heights_along(mesh.vertices, np.array([0.5257, 0.8507, 0.3090]))
    lows = []
    for some in blocks(len(edges.mates)):
        low, high, one, other = _rings(edges, some)
        rows = np.flatnonzero(suspect[low] | suspect[high])
        low, high = low[rows], high[rows]
        beside_height = np.minimum(height[one[rows]], height[other[rows]])
        lows += [low[height[high] <= beside_height], high[height[low] <= beside_height]]
    return suspect & _several(lows, len(mesh.vertices))


def _rings(edges: Edges, some: slice) -> tuple[NarrowArray, NarrowArray, NarrowArray, NarrowArray]:
    """The ends of some edges, low and high, and the corners on either side of each."""
    other = edges.rising.opposite.take(edges.mates[some].astype(np.int64))
    return *edges.falling.narrow_ends(some), edges.falling.opposite[some], other


def _several(lows: list[NarrowArray], vertices: int) -> BoolArray:
    """Which vertices are mentioned more than once."""
    several: BoolArray = np.bincount(np.concatenate(lows), minlength=vertices) > 1
    return several


def _fans(edges: Edges, triangles: IntArray, chosen: BoolArray) -> tuple[IntArray, IntArray]:
    """The corners at chosen vertices, and for each the row of the first one in its fan.

    Each corner leads on to the next of its fan. In turn after turn it learns the least
    corner among twice as many.
    """
    flat = triangles.ravel()
    corners = np.concatenate(in_blocks(partial(_at, triangles, chosen), len(triangles)))
    if len(corners) < len(flat) // _FEW:
        onward = _next_by_edges(flat, corners, len(chosen))
    else:
        position = np.empty(len(flat), np.int64)
        position[corners] = np.arange(len(corners))
        onward = position[edges.twins()[next_side(next_side(corners))]]
    fan = np.arange(len(corners))
    while True:
        lower = np.minimum(fan, fan[onward])
        if np.array_equal(lower, fan):
            return corners, fan
        fan, onward = lower, onward[onward]


def _at(triangles: IntArray, chosen: BoolArray, block: slice) -> IntArray:
    """Corners at chosen vertices, of some triangles."""
    return np.flatnonzero(chosen.take(triangles[block])) + 3 * int(block.start)


def _next_by_edges(flat: IntArray, corners: IntArray, vertices: int) -> IntArray:
    """For a few corners, the row of the next of its fan: across the edge to the last corner."""
    here = flat[corners] * vertices
    out, back = here + flat[next_side(next_side(corners))], here + flat[next_side(corners)]
    onward = np.empty(len(corners), np.int64)
    onward[np.argsort(out)] = np.argsort(back)
    return onward
