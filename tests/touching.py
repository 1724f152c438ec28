"""Where a closed mesh touches itself in a point."""

from __future__ import annotations

from borewright.core.meshes.fans import touching_vertices
from borewright.core.meshes.half_edges import pair_edges
from borewright.core.values import FloatArray, Mesh


def touching_points(mesh: Mesh) -> FloatArray:
    """(n, 3) the vertices in which two sheets of a closed mesh meet."""
    edges = pair_edges(mesh.triangles, len(mesh.vertices))
    assert edges is not None
    points: FloatArray = mesh.vertices[touching_vertices(edges, mesh)]
    return points
