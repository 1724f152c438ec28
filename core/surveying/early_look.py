"""A look at a part's round surfaces, within a band that lets none see another's other side."""

from __future__ import annotations

from ..values import Mesh
from .find_surfaces import FoundPart, find_surfaces

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
