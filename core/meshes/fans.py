"""Vertices where a closed mesh touches itself: their triangles form more than one fan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..values import BoolArray, IntArray, Mesh
from .connected import connected_groups
from .half_edges import Edges
from .places import told

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
    one_of_each = corners[np.unique(fans, return_index=True)[1]]
    counts = np.bincount(mesh.triangles.ravel()[one_of_each], minlength=len(suspect))
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
    number = np.unique(fans, return_inverse=True)[1].reshape(-1)
    flat = mesh.triangles.copy().ravel()
    owner = np.empty(int(number.max()) + 1, np.int64)
    owner[number] = flat[corners]
    flat[corners] = len(mesh.vertices) + number
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
    suspect = np.ones(len(mesh.vertices), bool)
    rows = np.arange(len(edges.mates))
    for height in (np.arange(len(mesh.vertices)), mesh.vertices @ [0.5257, 0.8507, 0.3090]):
        suspect = _several_lows(edges, rows, height, suspect)
        rows = rows[suspect[edges.rising.low[rows]] | suspect[edges.rising.high[rows]]]
    return suspect


def _several_lows(
    edges: Edges, rows: IntArray, height: NDArray[np.generic], suspect: BoolArray
) -> BoolArray:
    """Which of the suspect vertices have more than one lowest corner around them."""
    low, high = edges.rising.low[rows], edges.rising.high[rows]
    beside = np.minimum(
        height[edges.rising.opposite[rows]], height[edges.falling.opposite[edges.mates[rows]]]
    )
    lows = np.bincount(low[height[high] <= beside], minlength=len(suspect))
    lows += np.bincount(high[height[low] <= beside], minlength=len(suspect))
    several: BoolArray = suspect & (lows > 1)
    return several


def _fans(edges: Edges, triangles: IntArray, chosen: BoolArray) -> tuple[IntArray, IntArray]:
    """The corners at chosen vertices, and a number for each that its fan shares.

    Each corner leads on to the next of its fan. In turn after turn it learns the least
    corner among twice as many.
    """
    flat = triangles.ravel()
    corners = np.flatnonzero(chosen[flat])
    position = np.empty(len(flat), np.int64)
    position[corners] = np.arange(len(corners))
    onward = position[edges.twins()[corners - corners % 3 + (corners + 2) % 3]]
    fan = np.arange(len(corners))
    while True:
        lower = np.minimum(fan, fan[onward])
        if np.array_equal(lower, fan):
            return corners, fan
        fan, onward = lower, onward[onward]
