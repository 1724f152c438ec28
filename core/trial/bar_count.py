"""How many bars a finished ring shows, counted on sections of it by no code that made them."""

from __future__ import annotations

import numpy as np

from ..proving.overlaps import RAYS
from ..proving.rays import cross_rays
from ..proving.section import cut_sections
from ..values import BoolArray, Mesh


def bars_at(placed: Mesh, share: float, radius: float) -> int:
    """How many stretches of a ring's outline lie beyond a radius, at a share of its height.

    Parameters
    ----------
    placed : the ring about the z axis
    radius : mm
    """
    low, high = placed.vertices[:, 2].min(), placed.vertices[:, 2].max()
    section = cut_sections(placed, np.array([low + share * (high - low)]))
    return _stretches(cross_rays(section.starts, section.stops, RAYS).outermost() > radius)


def _stretches(beyond: BoolArray) -> int:
    """How often marks start around a closed row."""
    return int((beyond & ~np.roll(beyond, 1)).sum())
