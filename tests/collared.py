"""Parts of thin wall, surveyed and made true, cut at one seam under a collar or a sleeve.

The cut itself is made here, with the core's cutting of triangles, so that the collar's own
faces are tried apart from how a job is put together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import trimesh
from borewright.core.jointing.collar_design import Place, collar_on, flat_cuts
from borewright.core.jointing.collar_faces import add_collar_end, collar_mesh
from borewright.core.jointing.face_builder import FaceBuilder
from borewright.core.meshes.cut_edges import cut_at_stations
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.mesh_checks import compact
from borewright.core.proving.collar_checks import collar_checks
from borewright.core.proving.collar_slices import FinishedCollar
from borewright.core.surveying.survey import survey_part
from borewright.core.truing.exact_survey import as_trued
from borewright.core.truing.true_up import true_up
from borewright.core.values import Check, Collar, FloatArray, IntArray, Mesh, Settings, Survey
from manifold3d import Manifold

from tests.measure import solid_of
from tests.parts import random_pose, tube

LENGTH, SEAM, ENGAGEMENT = 80.0, 40.0, 8.0
ANGLES = (0.3, 2.0)
"""Of the two lugs, radians."""

NUMBER = 1
"""The second joint of its part: two nicks."""

SETTINGS = Settings((200.0, 200.0, 200.0))

WALLS: dict[str, dict[str, Any]] = {
    "wall 1.2 around 57.6": {"bore": 57.6, "outside": 60.0},
    "wall 1.0 around 20": {"bore": 20.0, "outside": 22.0},
    "wall 2.0 around a taper of 30": {"bore": (30.8, 30.0), "outside": (34.8, 34.0)},
}
PLACES: tuple[Place, ...] = ("outside", "inside")


@dataclass(frozen=True, slots=True)
class Collared:
    """Lower piece, upper piece and ring as solids of the part frame, and the trued part."""

    survey: Survey
    collar: Collar
    part: Manifold
    lower: Manifold
    upper: Manifold
    ring: Manifold

    def checks(self, **changed: Manifold) -> dict[str, Check]:
        """The proofs by name, some of the solids changed."""
        now = replace(self, **changed)
        meshes = (as_mesh(solid) for solid in (now.part, now.lower, now.upper, now.ring))
        made = FinishedCollar(NUMBER, self.collar, SEAM, *meshes)
        return {check.name: check for check in collar_checks(made, SETTINGS)}

    @property
    def end_radii(self) -> tuple[float, float]:
        """Radii, mm, of bore and outside at the seam."""
        return self.collar.inner.radius_at(SEAM), self.collar.outer.radius_at(SEAM)


@cache
def collared(
    wall: str, place: Place, angles: tuple[float, ...] = ANGLES, marks: int = NUMBER + 1
) -> Collared:
    """One of `WALLS` with its collar or sleeve."""
    survey, trued = _trued(wall)
    sizes = (SEAM, ENGAGEMENT, SETTINGS.clearance, SETTINGS.least_wall)
    collar = collar_on(survey.walls[0], 0, *sizes, place, angles)
    ends = cut_ends(trued, collar, marks)
    ring = collar_mesh(collar, SEAM, marks)
    return Collared(survey, collar, *(as_solid(mesh) for mesh in (trued, *ends, ring)))


@cache
def _trued(wall: str) -> tuple[Survey, Mesh]:
    pose = random_pose(np.random.default_rng(5))
    part = tube(length=LENGTH, pose=pose, facets=120, **WALLS[wall])
    body = mend_bodies(Mesh(part.mesh.vertices, part.mesh.faces))[0]
    survey = survey_part(body, max_move=0.1)
    return as_trued(survey, SETTINGS), true_up(survey, SETTINGS).mesh


def cut_ends(part: Mesh, collar: Collar, marks: int) -> list[Mesh]:
    """Lower and upper piece of a part cut at the seam."""
    cuts = flat_cuts(collar, SEAM)
    every = np.ones(len(part.triangles), bool)
    vertices, triangles, _ = cut_at_stations(part.vertices, part.triangles, np.array(cuts), every)
    middles = vertices[triangles, 2].mean(axis=1)
    ends = []
    for upper, cut in enumerate(cuts):
        kept = triangles[middles > cut if upper else middles < cut]
        builder = FaceBuilder(vertices)
        rings = open_rings(vertices, kept, cut)
        least_wall = SETTINGS.least_wall
        add_collar_end(builder, *rings, collar, SEAM, least_wall, marks, upper=bool(upper))
        ends.append(compact(builder.vertices, np.vstack([kept, *builder.faces])))
    return ends


def open_rings(vertices: FloatArray, triangles: IntArray, cut: float) -> tuple[IntArray, IntArray]:
    """The rings of outside and bore at a flat cut, counter-clockwise from above."""
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    level = (vertices[start, 2] == cut) & (vertices[end, 2] == cut)
    after = dict(zip(start[level].tolist(), end[level].tolist(), strict=True))
    rings = []
    while after:
        first, current = after.popitem()
        ring = [first]
        while current != first:
            ring.append(current)
            current = after.pop(current)
        x, y = vertices[ring, :2].T
        area = float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
        rings.append((abs(area), np.array(ring if area > 0.0 else ring[::-1])))
    (_, outer), (_, inner) = sorted(rings, key=lambda ring: -ring[0])
    return outer, inner


def as_solid(mesh: Mesh) -> Manifold:
    copies = mesh.vertices.copy(), mesh.triangles.copy()
    return solid_of(trimesh.Trimesh(*copies, process=False))


def as_mesh(solid: Manifold) -> Mesh:
    mesh = solid.to_mesh64()
    return Mesh(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))
