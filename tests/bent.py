"""Straight parts along z bent into an arc in the plane of x and z."""

from __future__ import annotations

import numpy as np
from borewright.core.values import Mesh


def bent(mesh: Mesh, sagitta: float) -> Mesh:
    """The part with its axis, the z axis, in an arc that rises by about so much, mm.

    Lengths along the axis are kept; what an arc of small angle over a length L and of a
    radius R rises by is L^2 / 8 R.
    """
    x, y, z = mesh.vertices.T
    length = float(np.ptp(z))
    radius = length**2 / (8.0 * sagitta)
    turn = (z - z.min() - length / 2.0) / radius
    arm = radius - x
    return Mesh(
        np.column_stack([radius - arm * np.cos(turn), y, arm * np.sin(turn)]), mesh.triangles
    )
