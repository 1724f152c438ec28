"""A piece's shadow on the bed."""

from __future__ import annotations

import numpy as np

from ..meshes.convex_hull import convex_hull
from ..values import Mesh
from .bed import BedItem


def bed_item(name: str, mesh: Mesh) -> BedItem:
    """A piece as packing sees it, from its mesh in the pose of its file."""
    return BedItem(
        name=name,
        outline=convex_hull(np.unique(mesh.vertices[:, :2], axis=0)),
        height=float(np.ptp(mesh.vertices[:, 2])),
    )
