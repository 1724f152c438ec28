"""Wide shoulders, at heights that no file can hold: measured with manifold3d's booleans.

A binary32 number holds 24 binary digits (IEEE 754): between 128 and 256 mm its last one is
0.000015 mm, and half of that over a section of 115 by 100 mm is 0.07 mm3.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from borewright.core.proving.prove import prove_pieces
from borewright.core.proving.shoulder_overlap import shoulder_overlap
from borewright.core.truing.exact_survey import as_trued
from borewright.core.values import Compensation, Mesh, Outcome, Piece, Settings
from manifold3d import CrossSection, Manifold, Mesh64

from tests.built_joint import as_mesh
from tests.jobs import split_surveyed
from tests.parts import random_pose

MOST_OVERLAP = 0.01
SEAMS = [100.0123456, 100.012349, 130.000013, 200.00001, 150.0]


def wide_oval(bores: tuple[tuple[float, float], ...]) -> Manifold:
    """115 by 100 mm, 300 mm long; (radius, x) of each bore."""
    turns = np.linspace(0.0, 2.0 * math.pi, 180, endpoint=False)
    corners = np.column_stack([57.5 * np.cos(turns), 50.0 * np.sin(turns)])
    solid = Manifold.extrude(CrossSection([corners]), 300.0)
    for radius, x in bores:
        solid -= Manifold.cylinder(302.0, radius, radius, 180).translate((x, 0.0, -1.0))
    return solid


PARTS = {
    "solid": wide_oval(()),
    "one bore": wide_oval(((20.0, 0.0),)),
}


@cache
def split_at(name: str, seam: float, shrink: float = 0.0, pose: int | None = None) -> Outcome:
    mesh = as_mesh(PARTS[name])
    if pose is not None:
        motion = random_pose(np.random.default_rng(pose))
        moved = mesh.vertices @ motion[:3, :3].T + motion[:3, 3]
        mesh = Mesh(moved.astype(np.float32).astype(np.float64), mesh.triangles)
    (outcome,) = split_surveyed(mesh, "wide", settings_for(seam, shrink))
    return outcome


def settings_for(seam: float, shrink: float = 0.0) -> Settings:
    made = Compensation(shrink_percent=shrink)
    return Settings((400.0, 400.0, 400.0), cuts=(seam,), compensation=made)


def as_placed(piece: Piece) -> Manifold:
    filed = piece.mesh.vertices.astype(np.float32).astype(np.float64) / piece.scale
    placed = filed @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    made = Manifold(Mesh64(placed, piece.mesh.triangles.astype(np.uint64, order="C")))
    assert not made.is_empty()
    return made


@pytest.mark.parametrize("shrink", [0.0, 0.3])
@pytest.mark.parametrize("seam", SEAMS)
@pytest.mark.parametrize("name", PARTS)
def test_wide_shoulders_share_nothing(name: str, seam: float, shrink: float) -> None:
    outcome = split_at(name, seam, shrink)
    lower, upper = map(as_placed, outcome.pieces)
    assert (lower ^ upper).volume() < 1e-6
    station = float(outcome.pieces[1].low)
    gap = station - max_shoulder(outcome.pieces[0], station)
    assert 0.0 <= gap <= 1.6e-5


def max_shoulder(piece: Piece, station: float) -> float:
    heights = piece.mesh.vertices[:, 2] / piece.scale + piece.low
    return float(heights[np.abs(heights - station) < 1e-3].max())


@pytest.mark.parametrize("pose", [1, 2, 3])
def test_wherever_the_part_lies(pose: int) -> None:
    outcome = split_at("one bore", 200.00001, pose=pose)
    lower, upper = map(as_placed, outcome.pieces)
    assert (lower ^ upper).volume() < MOST_OVERLAP / 10.0


def raised(outcome: Outcome, by: float) -> Outcome:
    """Its lower piece with the shoulder higher."""
    lower, upper = outcome.pieces
    vertices = lower.mesh.vertices.copy()
    vertices[np.abs(vertices[:, 2] + lower.low - upper.low) < 1e-3, 2] += by
    return replace(
        outcome, pieces=(replace(lower, mesh=Mesh(vertices, lower.mesh.triangles)), upper)
    )


@pytest.mark.parametrize("by", [0.00002, 0.00004, 0.00008])
def test_a_shoulder_a_last_digit_too_high_fails_its_proof(by: float) -> None:
    outcome = raised(split_at("one bore", 200.00001), by)
    settings = settings_for(200.00001)
    survey = as_trued(outcome.survey, settings)
    checks = prove_pieces(survey, outcome.trued, outcome.plan, outcome.pieces, settings)
    (overlap,) = (check for check in checks if check.name == "overlap")
    shared = (as_placed(outcome.pieces[0]) ^ as_placed(outcome.pieces[1])).volume()
    assert shared > MOST_OVERLAP
    assert overlap.value == pytest.approx(shared, rel=0.02)
    assert not overlap.ok


def test_shoulders_that_keep_apart_share_nothing() -> None:
    block = as_mesh(Manifold.cube((10.0, 10.0, 5.0)))
    for apart, due in ((1e-5, 0.0), (0.0, 0.0), (-1e-5, 1e-3), (-5e-5, 5e-3)):
        over = Mesh(block.vertices + np.array([0.0, 0.0, 5.0 + apart]), block.triangles)
        assert shoulder_overlap(block, over, 5.0) == pytest.approx(due, abs=1e-9)
