"""What a surface alone tells, against closed forms and trimesh."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from borewright.core.proving.solid import (
    euler_between,
    euler_number,
    read_solid,
    volume_between,
    ways_through,
)
from borewright.core.values import Frame, Mesh, Piece
from manifold3d import Manifold

from tests.built_joint import as_mesh, build_joint

FRAME = Frame(np.array([3.0, -7.0, 11.0]), np.eye(3)[[1, 2, 0]])


def as_piece(mesh: trimesh.Trimesh) -> Piece:
    motion = np.eye(4)
    motion[:3, :3], motion[:3, 3] = FRAME.rows.T, FRAME.origin
    return Piece("ball-01", Mesh(mesh.vertices, mesh.faces), motion, 0.0, 1.0)


@pytest.mark.parametrize("holes", [(), (50.0,), (10.0, 20.0, 50.0)])
def test_a_tube_has_two_less_for_each_side_hole(holes: tuple[float, ...]) -> None:
    """2 - 2 (1 + k) for a tube with k side holes, closed form."""
    assert euler_number(as_mesh(build_joint(holes=holes).part)) == -2 * len(holes)


@pytest.mark.parametrize(
    ("low", "high", "holes"),
    [
        (-np.inf, 30.0, 2),
        (30.0, np.inf, 1),
        (15.01, 40.3, 1),
        (24.0, 40.0, 0),
        (-np.inf, np.inf, 3),
    ],
)
def test_between_two_planes_only_the_holes_between_count(
    low: float, high: float, holes: int
) -> None:
    part = as_mesh(build_joint(holes=(10.0, 20.0, 50.0)).part)
    assert euler_between(part, low, high) == -2 * holes


def test_a_plane_through_a_hole_takes_half_of_it() -> None:
    """Open at the plane, each half of a cut hole adds 1: the halves sum to the whole."""
    part = as_mesh(build_joint(holes=(20.0,)).part)
    assert euler_between(part, -np.inf, 20.1) == -1
    assert euler_between(part, 20.1, np.inf) == -1


def test_a_closed_ball_is_sound() -> None:
    ball = trimesh.creation.icosphere(3, 5.0).apply_translation((8.0, 8.0, 8.0))
    solid = read_solid(as_piece(ball), FRAME)
    assert (solid.faults, solid.shells, solid.euler) == (0, 1, 2)
    assert solid.is_sound
    assert solid.volume == pytest.approx(ball.volume, rel=1e-6)
    back = solid.placed.vertices.min(axis=0), solid.filed.vertices.min(axis=0)
    assert back[0] == pytest.approx(back[1], abs=1e-5)


def test_loose_triangles_are_welded_as_a_reader_would() -> None:
    """An STL names no vertices: each triangle brings its own three."""
    ball = trimesh.creation.icosphere(2, 5.0)
    loose = trimesh.Trimesh(
        ball.vertices[ball.faces].reshape(-1, 3),
        np.arange(3 * len(ball.faces)).reshape(-1, 3),
        process=False,
    )
    solid = read_solid(as_piece(loose), FRAME)
    assert len(solid.filed.vertices) == len(ball.vertices)
    assert (solid.faults, solid.shells, solid.euler) == (0, 1, 2)


def test_bodies_hang_together_by_edges_not_by_points() -> None:
    """Two cubes that share one corner are two bodies; two that share none as well."""
    cube = trimesh.creation.box((1.0, 1.0, 1.0))
    for shift, shared in (((1.0, 1.0, 1.0), 1), ((3.0, 0.0, 0.0), 0)):
        both = trimesh.util.concatenate([cube, cube.copy().apply_translation(shift)])
        solid = read_solid(as_piece(both), FRAME)
        assert (solid.faults, solid.shells) == (0, 2)
        assert len(solid.filed.vertices) == 16 - shared


def test_faults_count_open_tripled_and_contrary_edges() -> None:
    cube = trimesh.creation.box((1.0, 1.0, 1.0))
    open_box = trimesh.Trimesh(cube.vertices, cube.faces[1:], process=False)
    assert read_solid(as_piece(open_box), FRAME).faults == 3
    contrary = cube.faces.copy()
    contrary[0] = contrary[0, ::-1]
    flipped = trimesh.Trimesh(cube.vertices, contrary, process=False)
    assert read_solid(as_piece(flipped), FRAME).faults == 3
    fin = trimesh.Trimesh(
        np.vstack([cube.vertices, [5.0, 5.0, 5.0]]),
        np.vstack([cube.faces, [*cube.faces[0, :2], 8]]),
        process=False,
    )
    assert read_solid(as_piece(fin), FRAME).faults == 3


def test_inside_out_is_not_sound() -> None:
    ball = trimesh.creation.icosphere(2, 5.0)
    ball.invert()
    solid = read_solid(as_piece(ball), FRAME)
    assert solid.faults == 0
    assert solid.volume < 0.0
    assert not solid.is_sound


def test_nothing_is_not_sound() -> None:
    nothing = Piece("none-01", Mesh(np.empty((0, 3)), np.empty((0, 3))), np.eye(4), 0.0, 1.0)
    solid = read_solid(nothing, FRAME)
    assert (solid.shells, solid.volume) == (0, 0.0)
    assert not solid.is_sound


def test_volume_is_that_of_the_boolean() -> None:
    built = build_joint()
    for piece, solid in zip(built.pieces(), (built.lower, built.upper), strict=True):
        assert isinstance(solid, Manifold)
        read = read_solid(piece, built.survey().frame)
        assert read.volume == pytest.approx(solid.volume(), rel=1e-6)


@pytest.mark.parametrize(
    ("low", "high"), [(-4.0, 3.0), (-20.0, 20.0), (0.0, 0.25), (-6.0, 6.0), (30.0, 40.0)]
)
def test_volume_between_planes_is_that_of_the_solid_trimmed(low: float, high: float) -> None:
    """A ring with a leaning hole through it, off the origin, and with faces in a plane."""
    ring = Manifold.cylinder(12.0, 9.0, 7.0, 48) - Manifold.cylinder(12.0, 4.0, 5.0, 32)
    hole = Manifold.cylinder(40.0, 1.5, 1.5, 24, center=True).rotate((70.0, 10.0, 0.0))
    solid = (ring.translate((0.0, 0.0, -6.0)) - hole).translate((5.0, -3.0, 0.0))
    due = solid.trim_by_plane((0.0, 0.0, 1.0), low).trim_by_plane((0.0, 0.0, -1.0), -high)
    assert volume_between(as_mesh(solid), low, high) == pytest.approx(due.volume(), rel=1e-6)
    turned = solid.rotate((33.0, 21.0, 0.0))
    due = turned.trim_by_plane((0.0, 0.0, 1.0), low).trim_by_plane((0.0, 0.0, -1.0), -high)
    assert volume_between(as_mesh(turned), low, high) == pytest.approx(due.volume(), rel=1e-6)


def test_ways_through_are_counted_from_none_of_a_bar_on() -> None:
    bar = Manifold.cylinder(30.0, 10.0)
    bore = Manifold.cylinder(40.0, 3.0).translate((0.0, 0.0, -5.0))
    blind = Manifold.cylinder(40.0, 3.0).translate((0.0, 0.0, 10.0))
    side = Manifold.cylinder(20.0, 2.0).rotate((90.0, 0.0, 0.0)).translate((0.0, 0.0, 15.0))
    cavity = Manifold.sphere(2.0).translate((7.0, 0.0, 5.0))
    for solid, ways in ((bar, 0), (bar - blind, 0), (bar - bore, 1), (bar - bore - side, 2)):
        assert ways_through(euler_number(as_mesh(solid)), 1) == ways == solid.genus()
        with_cavity = as_mesh(solid - cavity)
        assert ways_through(euler_number(with_cavity), 2) == ways
