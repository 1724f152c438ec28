"""On which face a part without an axis stands. Sizes in mm; truth is what made the parts."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from borewright.core.planning.standing import Stand, best_stand
from borewright.core.values import Mesh
from manifold3d import Manifold

from tests.loose_parts import (
    a_block,
    a_coarse_ball,
    a_mouthpiece,
    a_pebble,
    a_ring,
    an_ell,
    mesh_of,
    solid_of,
    turned,
)
from tests.parts import FloatArray, random_pose

ROOMY = (200.0, 200.0, 200.0)


def stood(mesh: Mesh, room: tuple[float, float, float] = ROOMY) -> tuple[Stand, FloatArray]:
    """The way it stands, and its vertices so, from z = 0 up."""
    stand = best_stand(mesh, room)
    assert stand is not None
    points = mesh.vertices @ stand.rows.T
    return stand, points - points.min(axis=0)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_block_lies_on_its_widest_face_square_to_the_bed(seed: int) -> None:
    rotation = random_pose(np.random.default_rng(seed))[:3, :3]
    stand, points = stood(turned(a_block(40.0, 35.0, 45.0), rotation))
    assert stand.contact == pytest.approx(45.0 * 40.0)
    assert stand.height == pytest.approx(35.0)
    assert (stand.faces, stand.overhang) == (6, 0.0)
    assert sorted(points.max(axis=0)) == pytest.approx([35.0, 40.0, 45.0])
    assert np.linalg.det(stand.rows) == pytest.approx(1.0)


def test_of_faces_alike_the_files_own_upright_is_kept() -> None:
    tilt = math.radians(20.0)
    rows = [[1, 0, 0], [0, math.cos(tilt), -math.sin(tilt)], [0, math.sin(tilt), math.cos(tilt)]]
    assert np.array_equal(stood(a_block(30.0, 30.0, 30.0))[0].rows, np.eye(3))
    stand, _ = stood(turned(a_block(30.0, 30.0, 30.0), np.array(rows)))
    assert stand.rows[2, 2] == pytest.approx(math.cos(tilt))


def test_an_ell_lies_on_its_side() -> None:
    """That has 60 x 10 + 20 x 50 mm2, its foot and its back 60 x 20."""
    stand, _ = stood(an_ell())
    assert stand.contact == pytest.approx(1600.0)
    assert stand.faces == 6


def test_what_overhangs_counts_against_a_face() -> None:
    """A mushroom stands on its cap: its stem's foot has less area and 40 x 40 - 10 x 10 over it."""
    cap = Manifold.cube((40, 40, 10), center=True).translate((0, 0, 45))
    stem = Manifold.cube((10, 10, 40), center=True).translate((0, 0, 20))
    stand, _ = stood(mesh_of(stem + cap))
    assert stand.rows[2, 2] == pytest.approx(-1.0)
    assert stand.contact == pytest.approx(1600.0)
    assert stand.overhang == 0.0
    stand, _ = stood(mesh_of(stem + cap), (200.0, 200.0, 45.0))
    assert stand.contact == pytest.approx(40.0 * 10.0)
    assert stand.overhang == pytest.approx(40.0 * 10.0)


@pytest.mark.parametrize("part", [a_mouthpiece, an_ell])
def test_the_area_on_the_bed_is_that_of_a_section_just_above_it(part: Callable[[], Mesh]) -> None:
    stand, points = stood(part())
    low = solid_of(Mesh(points, part().triangles)).slice(0.002).area()
    assert stand.contact == pytest.approx(low, rel=1e-3)


def test_a_bent_tube_stands_on_one_of_its_two_ends_not_on_a_facet() -> None:
    stand, _ = stood(a_mouthpiece())
    assert stand.faces == 2
    assert stand.contact == pytest.approx(24.0 * math.sin(2.0 * math.pi / 48) * (100.0 - 36.0))


@pytest.mark.parametrize("part", [a_pebble, a_ring, a_coarse_ball])
def test_without_a_flat_face_it_stands_as_in_its_file(part: Callable[[], Mesh]) -> None:
    stand, _ = stood(part())
    assert (stand.faces, stand.contact) == (0, 0.0)
    assert np.array_equal(stand.rows, np.eye(3))


def test_only_faces_on_which_it_fits_are_taken() -> None:
    block = a_block(20.0, 50.0, 90.0)
    assert stood(block, (100.0, 100.0, 100.0))[0].height == pytest.approx(20.0)
    assert stood(block, (60.0, 60.0, 100.0))[0].height == pytest.approx(90.0)
    assert stood(block, (60.0, 95.0, 20.0))[0].height == pytest.approx(20.0)
    assert best_stand(block, (60.0, 60.0, 80.0)) is None


def test_a_floors_diagonal_counts() -> None:
    """90 mm by 2 mm fit a square of 66 mm across its corners: 92 / sqrt 2 is 65.05."""
    thin = a_block(90.0, 2.0, 30.0)
    assert best_stand(thin, (66.0, 66.0, 31.0)) is not None
    assert best_stand(thin, (64.9, 64.9, 31.0)) is None


def test_a_block_with_rounded_edges_has_its_six_faces() -> None:
    """Its edges turn in steps of a few degrees, too, but are much narrower than its faces."""
    ball = Manifold.sphere(4.0, 48)
    corners = [ball.translate((x, y, z)) for x in (4, 36) for y in (4, 26) for z in (4, 16)]
    stand, _ = stood(mesh_of(Manifold.batch_hull(corners)))
    assert stand.faces == 6
    assert stand.contact == pytest.approx(32.0 * 22.0, rel=0.01)
