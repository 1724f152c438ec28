"""The same job by general booleans: split at each seam, add a tenon, cut its socket."""

from __future__ import annotations

import manifold3d
import numpy as np
from borewright.core.values import AXIAL_GAP, Joint, Mesh, Tenon

SEGMENTS = 128


def split_by_booleans(mesh: Mesh, joints: tuple[Joint, ...]) -> list[Mesh]:
    """Mesh arrays of the part, about the z axis with its low end at 0, to arrays of pieces."""
    rest = _solid(mesh)
    pieces = []
    for joint in joints:
        upper, lower = rest.split_by_plane((0.0, 0.0, 1.0), joint.station)
        ring = joint.tenon
        tenon = _ring(ring, ring.tenon_radius, ring.engagement)
        socket = _ring(ring, ring.socket_radius, ring.engagement + AXIAL_GAP)
        pieces.append(lower + tenon)
        rest = upper - socket
    return [_arrays(piece) for piece in (*pieces, rest)]


def _ring(ring: Tenon, radius: float, height: float) -> manifold3d.Manifold:
    """From the bore out to a radius, from the seam up; as deep into the piece below as 0.01 mm."""
    whole = manifold3d.Manifold.cylinder(height + 0.01, radius, radius, SEGMENTS)
    inner = ring.bore_radius_at_tip
    hollow = manifold3d.Manifold.cylinder(height + 1.0, inner, inner, SEGMENTS)
    return (whole - hollow.translate((0.0, 0.0, -0.5))).translate((0.0, 0.0, ring.station - 0.01))


def _solid(mesh: Mesh) -> manifold3d.Manifold:
    made = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=mesh.vertices.copy(), tri_verts=mesh.triangles.astype(np.uint64)
        )
    )
    assert made.status() == manifold3d.Error.NoError, made.status()
    return made


def _arrays(solid: manifold3d.Manifold) -> Mesh:
    raw = solid.to_mesh64()
    return Mesh(raw.vert_properties[:, :3], raw.tri_verts.astype(np.int64))
