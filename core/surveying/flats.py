"""Flats milled on a round surface, told from the wide facets of a coarse one.

Both may have all their corners on the circle. But across a wide facet's chord lies the
next facet of the same surface, while a flat ends in chords that the surface does not
share: at a step, or at the part's end.
"""

from __future__ import annotations

import math

import numpy as np

from ..meshes.connected import connected_groups
from ..values import BoolArray, FloatArray, IntArray


def flat_facets(
    triangles: IntArray,
    wide: IntArray,
    surface: IntArray,
    angles: FloatArray,
    usual: float,
) -> IntArray:
    """Numbers of those of the wide triangles that are flats.

    Parameters
    ----------
    triangles : (m, 3) of a closed mesh
    wide : (w,) numbers of triangles that span more than usual facets do
    surface : numbers of the triangles of the surface, the wide ones included
    angles : (n,) of the vertices about the surface's centre line, radians
    usual : radians, the widest that a facet is
    """
    marked = np.zeros(len(angles), bool)
    marked[triangles[wide].ravel()] = True
    count = sum(marked[triangles[:, k]].astype(np.int8) for k in range(3))
    beside = np.flatnonzero(count >= 2)
    on_surface = _is_among(beside, surface)
    is_wide = _is_among(beside, wide)
    twin = _twins(triangles[beside], len(angles))
    own, other = np.arange(len(twin)) // 3, twin // 3
    chord = _is_chord(triangles[beside], angles, usual) & is_wide[own] & (twin >= 0)
    joined = chord & is_wide[other]
    groups = connected_groups(len(beside), own[joined], other[joined])
    bare = np.zeros(len(beside), bool)
    bare[groups[own[chord & ~on_surface[other]]]] = True
    flats: IntArray = beside[is_wide & bare[groups]]
    return flats


def _is_among(numbers: IntArray, some: IntArray) -> BoolArray:
    among: BoolArray = np.isin(numbers, some)
    return among


def _is_chord(triangles: IntArray, angles: FloatArray, usual: float) -> BoolArray:
    """(3 k,) half-edges that span more than a facet does."""
    turn = np.abs(angles[np.roll(triangles, -1, axis=1)] - angles[triangles])
    chord: BoolArray = np.minimum(turn, 2.0 * math.pi - turn).ravel() > usual
    return chord


def _twins(triangles: IntArray, vertices: int) -> IntArray:
    """(3 k,) the opposite half-edge of each among these triangles, -1 where there is none."""
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    forward, backward = start * vertices + end, end * vertices + start
    order = np.argsort(forward)
    at = np.searchsorted(forward, backward, sorter=order).clip(0, len(order) - 1)
    found: IntArray = order[at]
    return np.where(forward[found] == backward, found, -1)
