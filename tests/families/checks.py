"""What a generated part must be before it may judge anything."""

from __future__ import annotations

import numpy as np

from tests.families.flips import facing
from tests.families.truth import FloatArray, IntArray, Part


def stray(part: Part) -> float:
    """Greatest distance, mm, of a vertex from a true surface that one of its triangles lies on."""
    points = in_build_frame(part)
    worst = 0.0
    for number, surface in enumerate(part.surfaces):
        corners = np.unique(part.triangles[part.owner == number])
        if len(corners):
            value, gradient = surface(points[corners])
            worst = max(worst, float((np.abs(value) / np.linalg.norm(gradient, axis=1)).max()))
    return worst


def in_build_frame(part: Part) -> FloatArray:
    """Vertices as they were built, mm."""
    pose = part.truth.pose
    built: FloatArray = (part.vertices * part.truth.unit - pose[:3, 3]) @ pose[:3, :3]
    return built


def is_closed(triangles: IntArray) -> bool:
    """Every directed edge has exactly one opposite."""
    count = int(triangles.max()) + 1
    ahead = triangles[:, [1, 2, 0]].ravel()
    here = triangles.ravel()
    forward, backward = np.sort(here * count + ahead), np.sort(ahead * count + here)
    return bool(np.array_equal(forward, backward) and np.all(np.diff(forward) > 0))


def volume(part: Part) -> float:
    """Signed volume, mm3; positive where triangles are outward."""
    a, b, c = (in_build_frame(part)[part.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def worst_facing(part: Part) -> float:
    """Least cosine between a triangle and its surface; negative where one is folded over."""
    return float(facing(in_build_frame(part), part.triangles, part.owner, part.surfaces).min())
