"""A look at a part's surfaces while its mesh is still being checked, on another processor."""

from __future__ import annotations

import numpy as np

from ..values import Mesh
from .find_surfaces import FoundPart, find_surfaces

_MOST_VERTICES = 0.7
"""Vertices a triangle, above which a mesh is in loose pieces: a closed one has half of one."""

_MOST_BAND = 0.5
"""Widest band, mm, in which vertices are looked for: a fit must not see the other side."""

_LEAST_BAND = 0.05
"""Narrowest band, mm: what is nearer than this to a surface speaks for it."""


def look(mesh: Mesh, max_move: float) -> FoundPart:
    """The round surfaces of a sound mesh.

    Raises
    ------
    NotTubular : as `find_surfaces`
    """
    return find_surfaces(mesh, min(max(max_move, _LEAST_BAND), _MOST_BAND))


def look_early(mesh: Mesh, max_move: float) -> FoundPart | None:
    """The same of a mesh that may be unsound: None where nothing comes of it.

    What is found holds only if the mesh proves sound as it is.
    """
    if len(mesh.vertices) > _MOST_VERTICES * len(mesh.triangles):
        return None
    if not len(mesh.triangles) or not np.isfinite(mesh.vertices).all():
        return None
    try:
        with np.errstate(all="ignore"):
            return look(mesh, max_move)
    except Exception:  # noqa: BLE001 - whatever an unsound mesh does here, mending will tell
        return None
