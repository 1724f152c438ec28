"""Triangles that a mesh has more than once, and such as have collapsed."""

from __future__ import annotations

import numpy as np

from ..values import BoolArray, IntArray, Mesh
from .connected import connected_groups
from .equal_rows import first_equal
from .half_edges import edge_numbers
from .orient import faced_out
from .places import centres, told


def drop_collapsed(mesh: Mesh) -> tuple[Mesh, tuple[str, ...]]:
    """The mesh without triangles two corners of which are one, and a remark."""
    a, b, c = mesh.triangles.T
    collapsed = (a == b) | (b == c) | (c == a)
    if not collapsed.any():
        return mesh, ()
    remark = told(
        centres(mesh, collapsed), "triangle with no area was", "triangles with no area were",
        "dropped",
    )  # fmt: skip
    return Mesh(mesh.vertices, mesh.triangles[~collapsed]), (remark,)


def drop_doubles(mesh: Mesh) -> tuple[Mesh, tuple[str, ...]]:
    """The mesh with one triangle only on any three vertices, and remarks.

    It faces as most of them do. As many one way as the other are a fin without
    thickness, or a wall where two bodies touch: none stays. But where they crowd no
    edge they are the only surface there: one stays, and faces out.
    """
    first = _first_of_each(mesh.triangles)
    if np.array_equal(first, np.arange(len(first))):
        return mesh, ()
    kept, level = _one_of_each(mesh.triangles, first)
    triangles = mesh.triangles[kept]
    fins = _fins(triangles, level) if level.any() else level
    unsaid = level & ~fins
    if unsaid.any():
        triangles[unsaid] = faced_out(Mesh(mesh.vertices, triangles[unsaid])).triangles
    return Mesh(mesh.vertices, triangles[~fins]), _told(mesh, first, kept, fins)


def _told(mesh: Mesh, first: IntArray, kept: IntArray, fins: BoolArray) -> tuple[str, ...]:
    in_fin = np.zeros(len(first), bool)
    in_fin[first[kept[fins]]] = True
    in_fin = in_fin[first]
    doubled = ~in_fin
    doubled[kept] = False
    remarks = []
    for chosen, one, many in (
        (doubled, "doubled triangle was", "doubled triangles were"),
        (in_fin, "triangle of fins without thickness was",
         "triangles of fins without thickness were"),
    ):  # fmt: skip
        if chosen.any():
            remarks.append(told(centres(mesh, chosen), one, many, "dropped"))
    return tuple(remarks)


def _one_of_each(triangles: IntArray, first: IntArray) -> tuple[IntArray, BoolArray]:
    """The row that stays of each lot of equals, and whether as many face each way."""
    way = np.where(_faces_even(triangles), 1, -1)
    balance = np.bincount(first, way, len(first)).astype(np.int64)
    rows = np.flatnonzero((balance[first] == 0) | (np.sign(balance[first]) == way))
    kept = np.full(len(first), len(first))
    np.minimum.at(kept, first[rows], rows)
    kept = kept[first == np.arange(len(first))]
    return kept, balance[first[kept]] == 0


def _first_of_each(triangles: IntArray) -> IntArray:
    """For each triangle the first that has the same three vertices."""
    low, high = triangles.min(axis=1), triangles.max(axis=1)
    return first_equal([low, triangles.sum(axis=1) - low - high, high])


def _faces_even(triangles: IntArray) -> BoolArray:
    """Which triangles run through their vertices in ascending order, from some corner on."""
    ascents: BoolArray = (triangles < triangles[:, [1, 2, 0]]).sum(axis=1) == 2
    return ascents


def _fins(triangles: IntArray, level: BoolArray) -> BoolArray:
    """Which of the triangles that faced both ways alike had better go.

    They make patches, which end where they meet others. A patch goes if it has crowded
    edges and leaves fewer edges without two triangles; the smallest are asked first.
    """
    edges, counts = edge_numbers(triangles)
    rows = np.flatnonzero(level)
    gone = np.zeros(len(triangles), bool)
    for patch in _patches(edges[rows], counts):
        rims, which = np.unique(edges[rows[patch]], return_counts=True)
        staying, leaving = counts[rims], counts[rims] - which
        worse = np.count_nonzero(staying != 2) - np.count_nonzero((leaving != 2) & (leaving != 0))
        if worse > 0 and (staying > 2).any():
            counts[rims] = leaving
            gone[rows[patch]] = True
    return gone


def _patches(edges: IntArray, counts: IntArray) -> list[IntArray]:
    """The triangles with the given edges in patches, the smallest first.

    Two hang together where no third meets them.
    """
    rows = np.repeat(np.arange(len(edges)), 3)
    flat = edges.ravel()
    plain = counts[flat] == 2
    one = np.full(len(counts), -1)
    one[flat[plain]] = rows[plain]
    patch = connected_groups(len(edges), rows[plain], one[flat[plain]])
    order = np.argsort(patch, kind="stable")
    patches = np.split(order, np.cumsum(np.bincount(patch))[:-1])
    return sorted(patches, key=len)
