"""Edges turned in the mesh where a snapped rim has folded a sliver over its neighbour."""

from __future__ import annotations

import numpy as np

from tests.families.truth import BoolArray, FloatArray, IntArray, Surface


def unfolded(
    vertices: FloatArray, triangles: IntArray, owner: IntArray, surfaces: tuple[Surface, ...]
) -> IntArray:
    """Triangles with edges flipped, each within one surface, until none faces backward."""
    faces = triangles.copy()
    for _ in range(20):
        backward = np.flatnonzero(facing(vertices, faces, owner, surfaces) < 0.0)
        turned = [_turn(vertices, faces, owner, int(face)) for face in backward]
        if not any(turned):
            break
    return faces


def facing(
    vertices: FloatArray, triangles: IntArray, owner: IntArray, surfaces: tuple[Surface, ...]
) -> FloatArray:
    """(m,) cosine between each triangle and its surface, whichever way the gradient points."""
    normals, middles = _normals(vertices, triangles), vertices[triangles].mean(axis=1)
    cosines = np.empty(len(triangles))
    for number in np.unique(owner):
        rows = np.flatnonzero(owner == number)
        _, gradient = surfaces[number](middles[rows])
        along = np.einsum("ij,ij->i", normals[rows], gradient)
        size = np.linalg.norm(normals[rows], axis=1) * np.linalg.norm(gradient, axis=1)
        cosines[rows] = along / size * np.sign(along.sum())
    return cosines


def _turn(vertices: FloatArray, faces: IntArray, owner: IntArray, face: int) -> bool:
    """Flip the longest edge of a folded triangle if that mends it."""
    corners = faces[face]
    sides = np.linalg.norm(vertices[np.roll(corners, -1)] - vertices[corners], axis=1)
    a, b, c = np.roll(corners, -int(np.argmax(sides))).tolist()
    beyond = np.flatnonzero(_has_edge(faces, b, a) & (owner == owner[face]))
    if len(beyond) != 1:
        return False
    d = int(faces[beyond[0]].sum()) - a - b
    if np.any(_has_edge(faces, c, d) | _has_edge(faces, d, c)):
        return False
    faces[face], faces[beyond[0]] = (c, a, d), (d, b, c)
    return True


def _has_edge(faces: IntArray, start: int, stop: int) -> BoolArray:
    found: BoolArray = np.any((faces == start) & (np.roll(faces, -1, axis=1) == stop), axis=1)
    return found


def _normals(vertices: FloatArray, triangles: IntArray) -> FloatArray:
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    crossed: FloatArray = np.cross(b - a, c - a)
    return crossed
