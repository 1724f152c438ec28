"""Parts without an axis that a survey could read: blocks, an elbow, free forms."""

from __future__ import annotations

import numpy as np
import trimesh
from borewright.core.values import Mesh
from manifold3d import CrossSection, Manifold
from manifold3d import Mesh as Solid

from tests.parts import FloatArray


def mesh_of(solid: Manifold) -> Mesh:
    """The triangles of a solid."""
    made = solid.to_mesh64()
    return Mesh(np.array(made.vert_properties[:, :3]), np.array(made.tri_verts).astype(np.int64))


def solid_of(mesh: Mesh) -> Manifold:
    """The solid that triangles bound."""
    return Manifold(Solid(mesh.vertices.astype(np.float32), mesh.triangles.astype(np.uint32)))


def as_trimesh(mesh: Mesh) -> trimesh.Trimesh:
    """The same mesh for measures that are not ours."""
    return trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)


def turned(mesh: Mesh, rotation: FloatArray) -> Mesh:
    """The mesh in another pose."""
    return Mesh(mesh.vertices @ rotation.T, mesh.triangles)


def a_block(x: float, y: float, z: float) -> Mesh:
    """A plain block, a corner of it at the origin."""
    return mesh_of(Manifold.cube((x, y, z)))


def an_ell() -> Mesh:
    """A post of 20 x 20 at the end of a foot 60 x 20 x 10, 60 high."""
    return mesh_of(Manifold.cube((60, 20, 10)) + Manifold.cube((20, 20, 60)))


def a_mouthpiece() -> Mesh:
    """A tube of 12 in 20 mm, bent by 70 degrees about a radius of 60 mm."""
    ring = CrossSection.circle(10.0, 48) - CrossSection.circle(6.0, 48)
    return mesh_of(ring.translate((60.0, 0.0)).revolve(96, 70.0))


def a_pebble() -> Mesh:
    """A free form without a flat face."""
    ball = trimesh.creation.icosphere(4, 20.0)
    waves = np.sin(0.3 * ball.vertices[:, :1]) * np.cos(0.2 * ball.vertices[:, 1:2])
    return Mesh(ball.vertices * (1.0 + 0.2 * waves), ball.faces)


def a_coarse_ball() -> Mesh:
    """A ball of 60 mm whose facets are some 10 mm wide."""
    ball = trimesh.creation.icosphere(2, 60.0)
    return Mesh(ball.vertices, ball.faces)


def a_ring() -> Mesh:
    """A ring of round section: no stretch of its hollow is one cylinder."""
    made = trimesh.creation.torus(30.0, 8.0)
    return Mesh(made.vertices, made.faces)
