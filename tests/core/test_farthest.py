"""Vertices and triangles that lie farthest, against all of them asked."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from borewright.core.meshes import farthest
from borewright.core.meshes.farthest import Boxed
from borewright.core.values import Mesh

from tests.families.dense import dense_tube
from tests.loose_parts import a_block, a_mouthpiece, a_ring, turned
from tests.parts import FloatArray, random_pose

DEPTH = 1e-3


def directions(seed: int) -> FloatArray:
    """Any ways, and along the axes, where whole faces are farthest."""
    some = np.random.default_rng(seed).normal(size=(12, 3))
    some /= np.linalg.norm(some, axis=1)[:, None]
    return np.vstack([some, np.eye(3), -np.eye(3)])


def a_tube() -> Mesh:
    part = dense_tube(20_000)
    return Mesh(part.vertices, part.triangles)


@pytest.mark.parametrize("make", [lambda: a_block(40.0, 0.5, 3.0), a_mouthpiece, a_ring, a_tube])
@pytest.mark.parametrize("seed", [0, 1])
@pytest.mark.parametrize("depth", [DEPTH, 4.0])
def test_what_is_found_in_boxes_is_what_is_found_among_all(
    make: Callable[[], Mesh], seed: int, depth: float
) -> None:
    mesh = make()
    if seed:
        mesh = turned(mesh, random_pose(np.random.default_rng(seed))[:3, :3])
    boxed = Boxed.of(mesh)
    for direction in directions(seed):
        heights = mesh.vertices @ direction
        touching = heights >= heights.max() - depth
        found = boxed.farthest(direction, depth)
        assert np.array_equal(found, np.flatnonzero(touching))
        lying = touching[mesh.triangles].all(axis=1)
        assert np.array_equal(boxed.between(found), np.flatnonzero(lying))
        assert boxed.reach(direction) == pytest.approx(heights.max(), abs=1e-12)


def test_few_of_many_vertices_are_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    mesh = turned(a_tube(), random_pose(np.random.default_rng(2))[:3, :3])
    boxed = Boxed.of(mesh)
    asked = []

    def counting(points: FloatArray, direction: FloatArray) -> FloatArray:
        asked.append(len(points))
        return points @ direction

    monkeypatch.setattr(farthest, "heights_along", counting)
    for direction in directions(3)[:12]:
        boxed.farthest(direction, DEPTH)
    assert sum(asked) < 12 * len(mesh.vertices) / 2
