"""Collars and sleeves of narrow tubes: nicks that would stand into the bore are left out."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from borewright.core.jointing.collar_corners import nick_angles
from borewright.core.values import JointKind, Mesh, Settings
from manifold3d import Manifold, Mesh64

from tests.jobs import split_surveyed
from tests.ring_measures import least_reach

LENGTH = 120.0
ROUND = 0.005
"""mm, that a facet may stand into a bore, the promise for every round surface."""


def a_tube(bore: float, wall: float) -> Mesh:
    made = trimesh.creation.annulus(bore / 2.0, bore / 2.0 + wall, LENGTH, sections=64)
    stood = made.vertices + np.array([0.0, 0.0, LENGTH / 2.0])
    return Mesh(stood, np.asarray(made.faces, np.int64))


@pytest.mark.parametrize("clearance", [0.15, 0.4])
@pytest.mark.parametrize(
    ("kind", "bore", "wall", "nicked"),
    [
        ("collar", 3.0, 1.0, False),
        ("collar", 3.0, 1.2, False),
        ("collar", 4.0, 1.0, False),
        ("collar", 12.0, 1.2, True),
        ("sleeve", 7.5, 1.8, False),
        ("sleeve", 12.0, 1.8, True),
    ],
)
def test_collars_of_narrow_tubes_leave_the_bore_free(
    kind: JointKind, bore: float, wall: float, clearance: float, *, nicked: bool
) -> None:
    settings = Settings((60.0, 60.0, 70.0), clearance=clearance, joint=kind, cuts=(60.0,))
    (outcome,) = split_surveyed(a_tube(bore, wall), "tube", settings)
    (joint,) = outcome.plan.joints
    assert joint.collar is not None
    assert (len(nick_angles(joint.collar, joint.station, 1)) > 0) == nicked
    for piece in outcome.pieces:
        if piece.role != "piece":
            continue
        placed = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
        solid = Manifold(Mesh64(placed, piece.mesh.triangles.astype(np.uint64, order="C")))
        low, high = max(piece.low, 50.0), min(piece.high, 70.0)
        for height in np.linspace(low + 0.01, high - 0.01, 9).tolist():
            for ring in solid.slice(height).to_polygons():
                assert least_reach(ring) >= bore / 2.0 - ROUND - 1e-4
