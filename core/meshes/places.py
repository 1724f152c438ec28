"""Places on a mesh: how remarks and refusals tell them."""

from __future__ import annotations

import numpy as np

from ..errors import BadMesh
from ..values import BoolArray, FloatArray, IntArray, Mesh

_MOST_PLACES = 20


def point_text(point: FloatArray) -> str:
    """A point as (x, y, z), mm."""
    return "(" + ", ".join(f"{value:.3f}" for value in point) + ")"


def where(points: FloatArray) -> str:
    """In words where some points lie, the same in whatever order they come."""
    if len(points) == 1:
        return f"at {point_text(points[0])}"
    first = points[np.lexsort(points.T[::-1])[0]]
    low, high = points.min(axis=0), points.max(axis=0)
    return f"the first at {point_text(first)}, all within {point_text(low)} to {point_text(high)}"


def counted(count: int, one: str, many: str) -> str:
    """How many of something there are: "1 edge", "2 edges"."""
    return f"{count} {one if count == 1 else many}"


def bad_mesh(found: str, points: FloatArray, needed: str, remedy: str) -> BadMesh:
    """The refusal of what is found at some points."""
    ordered = points[np.lexsort(points.T[::-1])][:_MOST_PLACES]
    places = tuple((float(x), float(y), float(z)) for x, y, z in ordered)
    return BadMesh(f"{found}, {where(points)}", needed, remedy, places)


def told(points: FloatArray, one: str, many: str, what: str) -> str:
    """A remark: how many things, where they are, what was done."""
    return f"{counted(len(points), one, many)} {what}, {where(points)}."


def centres(mesh: Mesh, chosen: BoolArray | IntArray) -> FloatArray:
    """(k, 3) mm, the middles of chosen triangles."""
    middles: FloatArray = mesh.vertices[mesh.triangles[chosen]].mean(axis=1)
    return middles
