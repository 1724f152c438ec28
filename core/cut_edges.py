"""Dividing triangles along a level of a field, with one new vertex on each edge cut."""

from __future__ import annotations

import numpy as np

from .values import BoolArray, FloatArray, IntArray


def cut_along(
    vertices: FloatArray,
    triangles: IntArray,
    field: FloatArray,
    chosen: BoolArray,
    in_front: FloatArray | None = None,
) -> tuple[FloatArray, IntArray, IntArray]:
    """The mesh with the chosen triangles divided where the field changes sign.

    Each edge that is cut gets one vertex, shared by the triangles beside it, so a
    closed mesh stays closed as long as both triangles of such an edge are chosen.

    Parameters
    ----------
    field : (n,) float, a value a vertex; vertices at exactly 0 lie on the cut
    in_front : (n,) float, edges are cut only where this, interpolated, is positive

    Returns
    -------
    vertices, triangles, and (m,) the number of the triangle that each came from
    """
    start, end = triangles, np.roll(triangles, -1, axis=1)
    crossed = (field[start] * field[end] < 0.0) & chosen[:, None]
    share = field[start] / np.where(crossed, field[start] - field[end], 1.0)
    if in_front is not None:
        crossed &= in_front[start] + share * (in_front[end] - in_front[start]) > 0.0
    low, high = np.minimum(start, end)[crossed], np.maximum(start, end)[crossed]
    codes, which = np.unique(low * len(vertices) + high, return_inverse=True)
    low, high = codes // len(vertices), codes % len(vertices)
    at = (field[low] / (field[low] - field[high]))[:, None]
    points = vertices[low] + at * (vertices[high] - vertices[low])
    new = np.full(triangles.shape, -1)
    new[crossed] = len(vertices) + which.reshape(-1)
    return (
        np.vstack([vertices, points]),
        *_divided(triangles, new, np.arange(len(triangles))),
    )


def _divided(triangles: IntArray, new: IntArray, number: IntArray) -> tuple[IntArray, IntArray]:
    """Triangles with the new vertices on their edges (-1: none) made into whole ones."""
    count = (new >= 0).sum(axis=1)
    assert int(count.max(initial=0)) <= 2, "a plane cuts at most two edges of a triangle"
    parts = [triangles[count == 0]]
    origins = [number[count == 0]]
    for cuts in (1, 2):
        some = np.flatnonzero(count == cuts)
        # turn each so that its one cut edge, or its one whole edge, comes first
        lead = (new[some] >= 0).argmax(axis=1) if cuts == 1 else (new[some] < 0).argmax(axis=1)
        order = (lead[:, None] + np.arange(3)) % 3
        a, b, c = np.take_along_axis(triangles[some], order, axis=1).T
        on_ab, on_bc, on_ca = np.take_along_axis(new[some], order, axis=1).T
        if cuts == 1:
            faces = [(a, on_ab, c), (on_ab, b, c)]
        else:
            faces = [(a, b, on_bc), (a, on_bc, on_ca), (on_ca, on_bc, c)]
        parts += [np.column_stack(face) for face in faces]
        origins += [number[some]] * len(faces)
    return np.vstack(parts), np.concatenate(origins)
