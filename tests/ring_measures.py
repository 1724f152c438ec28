"""Rings of fit trials as a reader of their file finds them, by trimesh and manifold3d only."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import trimesh
from borewright.core.values import Mesh
from manifold3d import Manifold
from manifold3d import Mesh as ManifoldMesh
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Ring:
    """A body as a reader of the file finds it, moved to stand about the z axis.

    outside : radius, mm, bars apart
    """

    body: trimesh.Trimesh
    outside: float

    @property
    def height(self) -> float:
        return float(self.body.bounds[1, 2])

    def outer(self, height: float) -> FloatArray:
        """(k, 2) corners of the outline around all material of a section."""
        return outlines(self.body, height)[0]

    def inner(self, height: float) -> FloatArray:
        """(k, 2) corners of the outline of the void within."""
        return outlines(self.body, height)[1]


def outlines(body: trimesh.Trimesh, height: float) -> list[FloatArray]:
    """Of a section, the longest first."""
    loops = [np.array(loop) for loop in as_manifold(body).slice(height).to_polygons()]
    return sorted(loops, key=lambda loop: -np.ptp(loop, axis=0).max())


def as_trimesh(solid: Manifold) -> trimesh.Trimesh:
    mesh = solid.to_mesh()
    return trimesh.Trimesh(np.array(mesh.vert_properties)[:, :3], mesh.tri_verts, process=False)


def as_manifold(body: trimesh.Trimesh) -> Manifold:
    return Manifold(ManifoldMesh(body.vertices.astype(np.float32), body.faces.astype(np.uint32)))


def rings_of(mesh: Mesh) -> list[Ring]:
    corners = mesh.vertices[mesh.triangles].astype(np.float32).astype(np.float64)
    vertices, number = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    whole = trimesh.Trimesh(vertices, number.reshape(-1, 3), process=False)
    assert whole.is_watertight
    bodies = [as_trimesh(body) for body in as_manifold(whole).decompose()]
    row = lambda body: (round(body.bounds[0, 1]), body.bounds[0, 0])  # noqa: E731
    return [centred(body) for body in sorted(bodies, key=row)]


def centred(body: trimesh.Trimesh) -> Ring:
    """Moved by the centre of its outside, bars apart."""
    x, y, outside = fitted_circle(outlines(body, 1.0)[0])
    moved = body.copy()
    moved.apply_translation([-x, -y, 0.0])
    return Ring(moved, outside)


def centroid(outline: FloatArray) -> FloatArray:
    """Of the area within."""
    ahead = np.roll(outline, -1, axis=0)
    twice = outline[:, 0] * ahead[:, 1] - ahead[:, 0] * outline[:, 1]
    middle: FloatArray = ((outline + ahead) * twice[:, None]).sum(axis=0) / (3.0 * twice.sum())
    return middle


def fitted_circle(points: FloatArray) -> tuple[float, float, float]:
    """Centre and radius of the circle that most points lie on; those that lie off count little."""
    middle = centroid(points)
    circle = np.array([*middle, np.median(np.hypot(*(points - middle).T))])
    for scale in [0.3] * 10 + [0.03] * 10 + [0.003] * 10:
        arms = points - circle[:2]
        away = np.hypot(*arms.T)
        off = away - circle[2]
        weight = 1.0 / (1.0 + (off / scale) ** 2)
        rows = np.column_stack([arms / away[:, None], np.ones(len(arms))]) * weight[:, None]
        circle = circle + np.linalg.lstsq(rows, off * weight, rcond=None)[0]
    x, y, radius = circle.tolist()
    return x, y, radius


def least_reach(outline: FloatArray) -> float:
    """Least distance from the axis to any point of an outline."""
    along = np.roll(outline, -1, axis=0) - outline
    square = np.maximum((along**2).sum(axis=1), 1e-300)
    share = np.clip(-(outline * along).sum(axis=1) / square, 0.0, 1.0)
    return float(np.hypot(*(outline + share[:, None] * along).T).min())


def stretches(outline: FloatArray, radius: float) -> list[tuple[float, float]]:
    """Middle and width, radians, of each group of corners beyond a radius; the first is at 0."""
    points = outline[np.hypot(*outline.T) > radius]
    if not len(points):
        return []
    angles = np.sort(np.arctan2(points[:, 1], points[:, 0]))
    gaps = np.diff(angles, append=angles[0] + 2.0 * math.pi)
    angles = np.roll(angles, -1 - int(gaps.argmax()))
    angles = angles[0] + np.mod(angles - angles[0], 2.0 * math.pi)
    groups = np.split(angles, np.flatnonzero(np.diff(angles) * radius > 1.5) + 1)
    return [
        (math.remainder((group[0] + group[-1]) / 2.0, 2.0 * math.pi), float(np.ptp(group)))
        for group in groups
    ]
