"""What two pieces share where their shoulders meet: a film too thin for any slice.

A file holds 24 binary digits: at 200 mm a shoulder can come out 0.000015 mm too high, over
9,000 mm2 that is 0.14 mm3.
"""

from __future__ import annotations

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import Mesh
from .joint_levels import CONTACT, LEVEL_FLATNESS
from .section import band_of


def shoulder_overlap(lower: Mesh, upper: Mesh, station: float) -> float:
    """Volume, mm3, that the shoulders of two pieces share at a seam, at the most.

    The depth by which the lower one stands over the upper one, times the lesser of their
    level areas. What is deeper than slices are apart is theirs to see.
    """
    (height, area), (depth, other) = (_level(lower, station, 1), _level(upper, station, -1))
    return max(0.0, height + depth) * min(area, other) if area and other else 0.0


def _level(mesh: Mesh, station: float, facing: int) -> tuple[float, float]:
    """How far, mm, level faces by the seam stand out past it, and their area, mm2.

    facing : 1 for faces that look up, -1 for faces that look down
    """
    near = band_of(mesh, station - CONTACT, station + CONTACT)
    normals, areas = triangle_normals(near)
    heights = near.vertices[near.triangles][..., 2] - station
    level = (normals[:, 2] * facing > LEVEL_FLATNESS) & (np.abs(heights) <= CONTACT).all(axis=1)
    out = facing * heights[level]
    return float(out.max(initial=-np.inf)), float(areas[level].sum())
