"""Which way a part runs: directions that few of its walls face."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain

import numpy as np
from numpy.typing import NDArray

from ..meshes.in_blocks import in_blocks
from ..meshes.products import heights_along, moments, row_lengths
from ..values import FloatArray, IntArray, Mesh

_SIDE_COSINE = 0.35
_SOME = 40_000
_SAMPLE = 8192
_ALIKE_COSINE = 0.999
_ANY_WAY = np.array([0.48, 0.6, 0.64])
"""A unit direction that is square to no usual one: along it wide triangles are wide."""


def axis_candidates(mesh: Mesh) -> Iterator[FloatArray]:
    """Unit directions that the part may run along, the likeliest first.

    The directions that the walls face least, refined on the walls beside them; last
    the direction of greatest extent, for parts with more ornament than wall.
    """
    normals, areas = _some_normals(mesh)
    weighted = normals * areas[:, None]
    facing = np.linalg.eigh(moments(weighted, normals))[1].T
    given: list[FloatArray] = []
    for guess in chain(facing, _longest(mesh)):
        direction = _refined_axis(normals, areas, guess)
        if all(abs(float(direction @ other)) < _ALIKE_COSINE for other in given):
            given.append(direction)
            yield direction


def _longest(mesh: Mesh) -> Iterator[FloatArray]:
    """The direction of greatest extent, worked out where it is asked for."""
    points = mesh.vertices[:: max(1, len(mesh.vertices) // _SOME)]
    points = points - points.mean(axis=0)
    yield np.linalg.eigh(moments(points, points))[1][:, -1]


def _some_normals(mesh: Mesh) -> tuple[FloatArray, FloatArray]:
    """Normals and areas of all triangles, or of many taken at even steps and by size.

    The widest triangles are all among them: a bore may be a few slivers beside a
    finely sculpted outside.
    """
    triangles = mesh.triangles
    if len(triangles) > _SOME:
        triangles = triangles[_some(mesh)]
    a, b, c = (mesh.vertices[triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    length = row_lengths(cross)
    return cross / np.maximum(length, 1e-300)[:, None], length / 2.0


def _some(mesh: Mesh) -> IntArray:
    """Numbers of many triangles: at even steps, and those that reach farthest."""
    step = len(mesh.triangles) // (_SOME // 2)
    even = np.arange(0, len(mesh.triangles), step)
    seen = heights_along(mesh.vertices, _ANY_WAY).astype(np.float32)
    reach = np.empty(len(mesh.triangles), np.float32)

    def measure(block: slice) -> None:
        corners = seen.take(np.ascontiguousarray(mesh.triangles[block].T, np.intp))
        np.subtract(corners.max(axis=0), corners.min(axis=0), out=reach[block])

    in_blocks(measure, len(reach))
    return np.union1d(even, _largest(reach, _SOME // 4))


def _largest(values: NDArray[np.float32], count: int) -> IntArray:
    """Numbers of so many of the largest values: looked for among those over a sample's bound."""
    sample = np.sort(values[:: max(1, len(values) // _SAMPLE)])
    bound = sample[-min(len(sample), 2 * count * len(sample) // len(values) + 1)]
    rows = np.flatnonzero(values >= bound)
    if len(rows) < count:
        rows = np.arange(len(values))
    largest: IntArray = rows[np.argpartition(values[rows], -count)[-count:]]
    return largest


def _refined_axis(normals: FloatArray, areas: FloatArray, direction: FloatArray) -> FloatArray:
    """The direction most square to the normals of the walls beside it."""
    axis = direction
    for _ in range(5):
        side = np.abs(heights_along(normals, axis)) < _SIDE_COSINE
        if side.sum() < 3:
            return direction
        beside = normals[side]
        weights = areas[side] / (np.abs(heights_along(beside, axis)) + 0.01)
        axis = np.linalg.eigh(moments(beside * weights[:, None], beside))[1][:, 0]
    return axis
