"""Lone slivers that carry another label than the surface they lie in."""

from __future__ import annotations

import numpy as np

from ..meshes.borders import RegionLoop
from ..values import FloatArray, IntArray, Mesh, RoundSurface
from .targets import Regions


def without_specks(
    mesh: Mesh, regions: Regions, loops: list[RegionLoop], reach: float
) -> Regions | None:
    """The regions with lone slivers given to the round surface they lie on; None if there are none.

    The normal of a sliver may point anywhere by rounding, so that a survey takes it for
    something else. A lone triangle lower than `reach`, all of whose corners lie within
    `reach` of the round surface across its longest edge, is of that surface.
    """
    targets = {target.region: target.surface for target in regions.targets}
    given: dict[int, int] = {}
    for loop in loops:
        if loop.region in targets or len(loop.triangles) != 3 or np.ptp(loop.triangles):
            continue
        corners = mesh.vertices[loop.vertices]
        sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
        beyond = int(loop.beyond[sides.argmax()])
        if beyond in targets and _is_of(corners, sides, targets[beyond], reach):
            given[int(loop.triangles[0])] = beyond
    if not given:
        return None
    ids: IntArray = regions.ids.copy()
    ids[list(given)] = list(given.values())
    return Regions(ids, regions.targets, regions.flats, regions.walls)


def _is_of(corners: FloatArray, sides: FloatArray, surface: RoundSurface, reach: float) -> bool:
    area = float(np.linalg.norm(np.cross(corners[1] - corners[0], corners[2] - corners[0])))
    x, y = surface.offset
    excess = np.hypot(corners[:, 0] - x, corners[:, 1] - y) - surface.radii_at(corners[:, 2])
    return area < reach * float(sides.max()) and bool((np.abs(excess) <= reach).all())
