"""Solids whose triangles know their true surface, through booleans and remeshing.

Rims that a boolean leaves on facets are moved onto the true surfaces that meet there.
"""

from __future__ import annotations

from typing import Any

import manifold3d
import numpy as np

from tests.families.flips import unfolded
from tests.families.outlines import oval
from tests.families.surfaces import Direction, Outline, end_plane, level, swept
from tests.families.truth import BoolArray, FloatArray, IntArray, Surface
from tests.parts import collapse_short_edges, remembering

Solid = manifold3d.Manifold

CRUMB = 0.1
"""Edges shorter than this, mm, are crumbs of a boolean and go."""


class Workshop:
    """Makes solids, and the finished mesh of one, each triangle with its surface's number."""

    def __init__(self) -> None:
        self.surfaces: list[Surface] = []
        self._owner_of_run: dict[int, IntArray] = {}

    def add(self, surface: Surface) -> int:
        self.surfaces.append(surface)
        return len(self.surfaces) - 1

    def loft(self, rings: FloatArray, sides: IntArray, ends: tuple[int, int]) -> Solid:
        """The solid between the first and last of (k, n, 3) rings, star-shaped ends closed.

        sides : (k - 1, n) surface of the faces above each edge of each ring
        ends : surfaces of the first and the last ring's cap
        """
        count, corners = rings.shape[:2]
        vertices = np.vstack((rings.reshape(-1, 3), rings[0].mean(axis=0), rings[-1].mean(axis=0)))
        here = np.arange(count * corners).reshape(count, corners)
        right = np.roll(here, -1, axis=1)
        quads = np.stack((here[:-1], right[:-1], right[1:], here[1:]), axis=-1).reshape(-1, 4)
        middles = np.full((2, corners), [[len(vertices) - 2], [len(vertices) - 1]])
        low = np.column_stack((middles[0], right[0], here[0]))
        high = np.column_stack((middles[1], here[-1], right[-1]))
        triangles = np.vstack((quads[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3), low, high))
        assert _is_fan(vertices[low]) and _is_fan(vertices[high])
        owner = np.concatenate((np.repeat(sides.ravel(), 2), np.repeat(ends, corners)))
        return self.solid(vertices, triangles, owner)

    def prism(self, outline: Outline, frame: Direction, start: float, stop: float) -> Solid:
        """An outline swept along the frame's w, with flat ends."""
        numbers = np.array([self.add(swept(curve, frame)) for curve in outline.curves])
        rings = np.stack([frame.points(outline.points, along) for along in (start, stop)])
        ends = [self.add(end_plane(frame, along)) for along in (start, stop)]
        return self.loft(rings, numbers[outline.of_edge][None, :], (ends[0], ends[1]))

    def turned(
        self,
        chain: list[tuple[float, float]],
        surfaces: list[Surface],
        sides: int,
        offset: tuple[float, float] = (0.0, 0.0),
    ) -> Solid:
        """The solid of revolution inside a chain of (station, radius) with its surfaces."""
        ring = oval(1.0, 1.0, sides).points
        stations, radii = np.array(chain).T
        planar = radii[:, None, None] * ring + offset
        rings = np.dstack((planar, np.broadcast_to(stations[:, None], planar.shape[:2])))
        numbers = np.array([self.add(surface) for surface in surfaces])
        ends = self.add(level(chain[0][0])), self.add(level(chain[-1][0]))
        return self.loft(rings, np.repeat(numbers[:, None], sides, axis=1), ends)

    def solid(self, vertices: FloatArray, triangles: IntArray, owner: IntArray) -> Solid:
        """A solid whose triangles remember, through every boolean, where they came from."""
        made, run = remembering(vertices, triangles)
        self._owner_of_run[run] = np.asarray(owner, np.int64)
        return made

    def finish(
        self, made: Solid, edge: float | None = None
    ) -> tuple[FloatArray, IntArray, IntArray]:
        """Vertices on their true surfaces, triangles, and the surface of each triangle.

        edge : remesh to edges of at most this length, mm
        """
        vertices, triangles, owner = self._true_mesh(made)
        meets = self._meets(len(vertices), triangles, owner)
        vertices, triangles, kept = collapse_short_edges(vertices, triangles, meets, CRUMB)
        owner = owner[kept]
        triangles = unfolded(vertices, triangles, owner, tuple(self.surfaces))
        if edge is None:
            return vertices, triangles, owner
        return self._true_mesh(self.solid(vertices, triangles, owner).refine_to_length(edge))

    def _true_mesh(self, made: Solid) -> tuple[FloatArray, IntArray, IntArray]:
        raw = made.to_mesh64()
        vertices = np.array(raw.vert_properties[:, :3], np.float64)
        triangles = np.array(raw.tri_verts, np.int64)
        owner = self._owner(raw)
        meets = self._meets(len(vertices), triangles, owner)
        return self._snapped(vertices, meets), triangles, owner

    def _owner(self, mesh: Any) -> IntArray:
        owner = np.empty(len(mesh.tri_verts), np.int64)
        edges = np.asarray(mesh.run_index, np.int64) // 3
        faces = np.asarray(mesh.face_id, np.int64)
        for first, last, run in zip(edges[:-1], edges[1:], mesh.run_original_id, strict=True):
            owner[first:last] = self._owner_of_run[int(run)][faces[first:last]]
        return owner

    def _meets(self, count: int, triangles: IntArray, owner: IntArray) -> BoolArray:
        """(vertices, surfaces): which true surfaces each vertex has a triangle on."""
        meets = np.zeros((count, len(self.surfaces)), bool)
        for corner in triangles.T:
            meets[corner, owner] = True
        return meets

    def _snapped(self, vertices: FloatArray, meets: BoolArray) -> FloatArray:
        """Vertices moved by Newton steps of least length onto all surfaces that meet there."""
        moved = vertices.copy()
        kinds, kind_of = np.unique(meets, axis=0, return_inverse=True)
        for number, kind in enumerate(kinds):
            rows = np.flatnonzero(kind_of.ravel() == number)
            met = [self.surfaces[index] for index in np.flatnonzero(kind)]
            moved[rows] = _on_all(met, moved[rows])
        return moved


def _on_all(surfaces: list[Surface], points: FloatArray) -> FloatArray:
    for _ in range(9):
        values, gradients = zip(*(surface(points) for surface in surfaces), strict=True)
        residuals = np.stack(values, axis=1)
        slopes = np.stack(gradients, axis=1)
        if np.abs(residuals).max() < 1e-10:
            return points
        if len(surfaces) == 1:
            step = slopes[:, 0] * (residuals / np.einsum("ijk,ijk->i", slopes, slopes)[:, None])
        else:
            step = np.einsum("ijk,ik->ij", np.linalg.pinv(slopes, rcond=1e-5), residuals)
        points = points - step
    assert np.abs(residuals).max() < 1e-8, np.abs(residuals).max()
    return points


def _is_fan(corners: FloatArray) -> bool:
    """Whether the (n, 3, 3) triangles of a cap all face one way."""
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return bool(np.all(normals @ normals.sum(axis=0) > 0.0))
