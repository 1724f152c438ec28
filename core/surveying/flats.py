"""Flats and floors whose corners all lie on a round surface, told from its own facets.

Across a wide facet's chord lies the
next facet of the same surface, while a flat ends in chords that the surface does not
share: at a step, or at the part's end.
"""

from __future__ import annotations

import math

import numpy as np

from ..meshes.borders import twins_among
from ..meshes.connected import connected_groups
from ..values import BoolArray, FloatArray, IntArray

_MOST_STEPS = 8
"""Triangles between a floor's slivers at its rim and those that are too high for slivers."""

LEVEL_COSINE = 0.9
"""A triangle lies level if its normal is this near to the axis."""

FOLDED = 0.1
"""A triangle lower than this, mm, may be folded over by whoever made the mesh."""


def flat_facets(
    triangles: IntArray, wide: IntArray, surface: IntArray, angles: FloatArray, usual: float
) -> IntArray:
    """Numbers of those of the wide triangles that are flats.

    Those that hang together by chords with one whose chord is bare: no facet of the
    surface lies beyond it.

    Parameters
    ----------
    triangles : (m, 3) of a closed mesh
    wide : (w,) numbers of triangles that span more than usual facets do
    surface : numbers of the triangles of the surface, the wide ones included
    angles : (n,) of the vertices about the surface's centre line, radians
    usual : radians, the widest that a facet is
    """
    beside = _beside(triangles, wide, len(angles))
    on_surface, is_wide = np.isin(beside, surface), np.isin(beside, wide)
    twin = twins_among(triangles[beside])
    own, other = np.arange(len(twin)) // 3, twin // 3
    chord = _is_chord(triangles[beside], angles, usual) & is_wide[own] & (twin >= 0)
    joined = chord & is_wide[other]
    groups = connected_groups(len(beside), own[joined], other[joined])
    bare = np.zeros(len(beside), bool)
    bare[groups[own[chord & ~on_surface[other]]]] = True
    flats: IntArray = beside[is_wide & bare[groups]]
    return flats


def floor_slivers(
    columns: list[FloatArray], triangles: IntArray, level: IntArray, heights: FloatArray
) -> IntArray:
    """Numbers of those of some level triangles that are floors, though they are low.

    A level triangle with its corners on a circle may be a sliver of the surface, folded
    over by whoever made the mesh. It is a floor if it hangs together, by level triangles,
    with one too high for that.

    Parameters
    ----------
    columns : x, y, z of the vertices, z along the axis
    level : numbers of triangles that lie level
    heights : mm, the height of each of them
    """
    grown = level
    for _ in range(_MOST_STEPS):
        beside = _beside(triangles, grown, len(columns[0]))
        cross, length, longest = triangle_shapes(columns, triangles[beside])
        flat = np.abs(cross[2]) > LEVEL_COSINE * length
        if flat.sum() <= len(grown):
            break
        grown = beside[flat]
    high = flat & (length > FOLDED * longest)
    twin = twins_among(triangles[beside])
    own, other = np.arange(len(twin)) // 3, twin // 3
    joined = (twin >= 0) & flat[own] & flat[other]
    groups = connected_groups(len(beside), own[joined], other[joined])
    floors = np.zeros(len(beside), bool)
    floors[groups[high]] = True
    among = beside[flat & floors[groups]]
    return level[np.isin(level, among) | (heights > FOLDED)]


def triangle_shapes(
    columns: list[FloatArray], corners: IntArray
) -> tuple[list[FloatArray], FloatArray, FloatArray]:
    """Normals (not of unit length), their lengths, and the triangles' longest sides, mm."""
    a, b, c = (np.stack([column[corners[:, k]] for column in columns]) for k in range(3))
    u, v = b - a, c - a
    cross = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]]
    length = np.sqrt(cross[0] ** 2 + cross[1] ** 2 + cross[2] ** 2)
    sides = [(side**2).sum(axis=0) for side in (u, v, c - b)]
    return cross, length, np.sqrt(np.maximum(np.maximum(*sides[:2]), sides[2]))


def _beside(triangles: IntArray, some: IntArray, vertices: int) -> IntArray:
    """Numbers of the triangles that share an edge with some, and a few more."""
    marked = np.zeros(vertices, bool)
    marked[triangles[some].ravel()] = True
    count = sum(marked[triangles[:, k]].astype(np.int8) for k in range(3))
    return np.flatnonzero(count >= 2)


def _is_chord(triangles: IntArray, angles: FloatArray, usual: float) -> BoolArray:
    """(3 k,) half-edges that span more than a facet does."""
    turn = np.abs(angles[np.roll(triangles, -1, axis=1)] - angles[triangles])
    chord: BoolArray = np.minimum(turn, 2.0 * math.pi - turn).ravel() > usual
    return chord
