"""Does a piece stand safely while it prints? Its height over the width of what it stands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..meshes.convex_hull import convex_hull
from ..meshes.plane_sections import cut_sections
from ..values import FloatArray, Mesh

TipAdvice = Literal["none", "brim", "brim and slower"]

BRIM_RATIO = 4.0
"""Height over base above which a brim is advised: common practice, no source."""

SLOWER_RATIO = 8.0
"""Height over base above which a brim alone is not enough: common practice, no source."""


@dataclass(frozen=True, slots=True)
class TipRisk:
    """How a piece stands.

    height : mm
    base_width : mm, least across its first layer and all that lies within, as a ring's bore
    """

    height: float
    base_width: float

    @property
    def ratio(self) -> float:
        """Height over base."""
        return self.height / self.base_width

    @property
    def advice(self) -> TipAdvice:
        """What helps against tipping and being knocked off the bed."""
        if self.ratio > SLOWER_RATIO:
            return "brim and slower"
        return "brim" if self.ratio > BRIM_RATIO else "none"


def tip_risk(mesh: Mesh, layer: float) -> TipRisk:
    """How a piece stands, in the pose of its file.

    What touches the bed is its first layer: the section half a layer up.

    layer : mm, height of the layers
    """
    heights = mesh.vertices[:, 2]
    low, height = float(heights.min()), float(np.ptp(heights))
    columns = [np.ascontiguousarray(column) for column in mesh.vertices.T]
    first = np.array([low + min(layer, height) / 2.0])
    touching = cut_sections(columns, mesh.triangles, first)
    return TipRisk(height, least_width(convex_hull(touching.starts)))


def least_width(hull: FloatArray) -> float:
    """The least width, mm, of a convex outline: between an edge and the corner across.

    hull : (n, 2) mm, counter-clockwise, n >= 3

    References
    ----------
    M. Shamos (1978), "Computational geometry", thesis, Yale (from memory): the least width
    is found square to an edge, and the corner across by where edges turn by half a turn.
    """
    edges = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    angles = np.arctan2(edges[:, 1], edges[:, 0])
    turned = np.concatenate([[0.0], np.cumsum(_turns(angles))])[:-1]
    across = np.searchsorted(turned, (turned + np.pi) % (2.0 * np.pi)) % len(hull)
    arms = hull[across] - hull
    return float(((edges[:, 0] * arms[:, 1] - edges[:, 1] * arms[:, 0]) / lengths).min())


def _turns(angles: FloatArray) -> FloatArray:
    """(n,) radians from each edge's direction to the next one's, in [0, 2 pi)."""
    turns: FloatArray = np.mod(np.roll(angles, -1) - angles, 2.0 * np.pi)
    return turns
