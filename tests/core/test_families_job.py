"""The whole job on families of parts: what comes apart is right, measured without the core."""

from __future__ import annotations

from dataclasses import dataclass

import manifold3d
import numpy as np
import pytest
from borewright.core.job import split_parts
from borewright.core.values import Mesh, Outcome, Piece, Settings

from tests.families.checks import is_closed
from tests.families.gallery import GALLERY
from tests.families.shapes import Facets, Part, placed
from tests.families.truth import FloatArray
from tests.parts import random_pose

HEIGHTS = {
    "oval": 95.0,
    "octagon": 95.0,
    "eccentric": 95.0,
    "two bores in a capsule": 95.0,
    "two diameters": 95.0,
    "bell": 110.0,
    "closed end": 95.0,
    "odd holes": 120.0,
    "flat": 95.0,
    "whistle head": 75.0,
    "free form": 80.0,
}
"""Height of the envelope, mm, in which a part of this family has to come apart."""

FACETS = Facets(160)
"""Their chords are within 0.003 mm of a circle of 26 mm."""


@dataclass(frozen=True, slots=True)
class Done:
    """A part, what it was to come apart in, and what came of it."""

    part: Part
    outcome: Outcome
    settings: Settings


@pytest.fixture(scope="module", params=HEIGHTS)
def done(request: pytest.FixtureRequest) -> Done:
    seed = sorted(HEIGHTS).index(request.param)
    part = placed(GALLERY[request.param](facets=FACETS), random_pose(np.random.default_rng(seed)))
    stored = Mesh(part.vertices.astype(np.float32), part.triangles)
    settings = Settings(envelope=(200.0, 200.0, HEIGHTS[request.param]))
    (outcome,) = split_parts(stored, "part", settings, 1.0, lambda _: None)
    return Done(part, outcome, settings)


def test_pieces_fit_and_are_closed(done: Done) -> None:
    outcome = done.outcome
    assert len(outcome.pieces) >= 2
    for piece in outcome.pieces:
        assert is_closed(piece.mesh.triangles)
        assert solid(piece).volume() > 0.0
        assert len(solid(piece).decompose()) == 1
        assert np.ptp(piece.mesh.vertices[:, 2]) <= done.settings.envelope[2] + 0.002
    assert all(check.ok for check in outcome.checks)


def test_pieces_keep_to_the_true_surfaces_off_the_joints(done: Done) -> None:
    """Every corner off the joints' zones is on a surface of the part, to 0.01 mm and float32."""
    part, outcome = done.part, done.outcome
    pose = part.truth.pose
    for piece in outcome.pieces:
        built = (assembled(piece) - pose[:3, 3]) @ pose[:3, :3]
        stations = outcome.survey.frame.to_part(assembled(piece))[:, 2]
        near = np.zeros(len(built), bool)
        for joint in outcome.plan.joints:
            near |= (stations > joint.station - 0.01) & (stations < joint.roof_top + 0.01)
        distances = [np.abs(value) / size for value, size in _measured(part, built[~near])]
        assert np.min(distances, axis=0).max() < 0.011


def _measured(part: Part, points: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    met = [surface(points) for surface in part.surfaces]
    return [(value, np.linalg.norm(gradient, axis=1)) for value, gradient in met]


def test_pieces_make_up_the_part_and_come_apart_along_the_axis(
    done: Done,
) -> None:
    """Nothing is claimed twice, seated or on the way out; what is missing is the joints' gaps.

    Facets, the source's and ours, lie 0.005 mm off the true surfaces at most; of a
    joint's section no more than 3 mm2 are gaps, besides the clearance.
    """
    part, outcome = done.part, done.outcome
    whole = _solid(part.vertices, part.triangles)
    slack = 0.005 * whole.surface_area()
    placed_solids = [solid(piece) for piece in outcome.pieces]
    gaps = 0.0
    for lower, upper, joint in zip(
        placed_solids[:-1], placed_solids[1:], outcome.plan.joints, strict=True
    ):
        for lift in (0.0, 0.5, 3.0):
            shift = lift * outcome.survey.frame.rows[2]
            assert (lower ^ upper.translate(tuple(shift))).volume() < 1e-3
        clearance = joint.socket_radius - joint.tenon_radius
        gaps += 2.0 * np.pi * joint.socket_radius * (joint.engagement * clearance + 3.0)
    missing = whole.volume() - sum(piece.volume() for piece in placed_solids)
    assert -slack < missing < gaps + slack


def assembled(piece: Piece) -> FloatArray:
    points: FloatArray = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    return points


def solid(piece: Piece) -> manifold3d.Manifold:
    return _solid(assembled(piece), piece.mesh.triangles)


def _solid(vertices: FloatArray, triangles: np.ndarray) -> manifold3d.Manifold:
    made = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.ascontiguousarray(vertices, np.float64),
            tri_verts=np.ascontiguousarray(triangles, np.uint64),
        )
    )
    assert made.status() == manifold3d.Error.NoError, made.status()
    return made
