"""Loose slivers that carry another label than the surface they lie in."""

from __future__ import annotations

import numpy as np

from ..meshes.borders import RegionLoop
from ..values import FloatArray, IntArray, Mesh, RoundSurface
from .targets import Regions

_MOST_EDGES = 12


def without_specks(
    mesh: Mesh, regions: Regions, loops: list[RegionLoop], reach: float
) -> Regions | None:
    """The regions with loose slivers given to the round surface they lie on; None if none are.

    The normal of a sliver may point anywhere by rounding, so that a survey takes it for
    something else: for a piece of an end, say, when a hole all but touches the end. A few
    triangles that hang together, span less than `reach` of height, and have all corners
    within `reach` of a round surface beside them, are of that surface.
    """
    targets = {target.region: target.surface for target in regions.targets}
    given: list[tuple[IntArray, int]] = []
    for loop in loops:
        if loop.region in targets or len(loop.vertices) > _MOST_EDGES:
            continue
        triangles = np.unique(loop.triangles)
        beside = [region for region in np.unique(loop.beyond).tolist() if region in targets]
        if len(triangles) != len(loop.vertices) - 2:  # its loop does not bound all of it
            continue
        corners = mesh.vertices[mesh.triangles[triangles]]
        on_it = [region for region in beside if _is_of(corners, targets[region], reach)]
        given += [(triangles, region) for region in on_it[:1]]
    if not given:
        return None
    ids: IntArray = regions.ids.copy()
    for triangles, region in given:
        ids[triangles] = region
    return Regions(ids, regions.targets, regions.flats, regions.walls)


def _is_of(corners: FloatArray, surface: RoundSurface, reach: float) -> bool:
    """Are all corners (k, 3, 3) near the surface, and the triangles together but a sliver?"""
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    area = float(np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())
    points = corners.reshape(-1, 3)
    extent = float(np.linalg.norm(np.ptp(points, axis=0)))
    x, y = surface.offset
    excess = np.hypot(points[:, 0] - x, points[:, 1] - y) - surface.radii_at(points[:, 2])
    return area < reach * extent and bool((np.abs(excess) <= reach).all())
