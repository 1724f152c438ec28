"""Check values from outside the project, each with its source.

Where a source says "from memory", the number was remembered as published and
reproduced by computing it; where it says "closed form", it follows from the
formula shown.
"""

from __future__ import annotations

import math
import struct
from pathlib import Path

import numpy as np
import pytest
from borewright.addon.meshes.mesh_file import check_mesh_file, stl_corners
from borewright.core.errors import BadFile
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.mesh_checks import enclosed_volume
from borewright.core.surveying.cylinder_fit import ConeFit, fit_cone
from borewright.core.surveying.survey import survey_part
from borewright.core.truing.true_up import true_up
from borewright.core.truing.unroll import strip_count
from borewright.core.values import CHORD_TOLERANCE, Mesh, Settings
from numpy.typing import NDArray

from tests.parts import Hole, Part, plain_tube, tube

FloatArray = NDArray[np.float64]

# W. Gander, G. H. Golub, R. Strebel, "Least-squares fitting of circles and
# ellipses", BIT 34 (1994) 558-578: the six points of its examples. The paper
# gives the geometric fit as centre (4.7398, 2.9835), radius 4.7142 (from memory);
# the further digits and the other fits are computed.
SIX_POINTS = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)], np.float64)
OTHER_FITS = {
    "unit-vector constraint, from the same paper": (5.379413, 7.253198, 3.037041, 10.853282),
    "linear": (4.742331, 3.835123, 4.108762, 1.398289),
    "Pratt, SIGGRAPH 1987": (4.615482, 2.807354, 4.911302, 1.275442),
    "Taubin, IEEE PAMI 13 (1991) 1115-1138": (4.613933, 2.795209, 4.879213, 1.254717),
}


def fit_cylinder(points: FloatArray, guess: FloatArray) -> ConeFit:
    return fit_cone(points, guess, slope_free=False)


def fit_circle(points: FloatArray) -> ConeFit:
    """The cylinder along z over a plane's points, drawn twice: least squares of a circle."""
    twice = np.vstack([np.column_stack([points, np.full(len(points), z)]) for z in (0.0, 9.0)])
    upright = np.array([0.0, 0.0, 1.0])
    return fit_cone(twice, upright, slope_free=False, direction_free=False)


def squares(points: FloatArray, x: float, y: float, radius: float) -> float:
    """Sum of squared distances of points from a circle."""
    return float(((np.hypot(points[:, 0] - x, points[:, 1] - y) - radius) ** 2).sum())


def test_circle_of_six_points_is_that_of_gander_golub_strebel() -> None:
    fit = fit_circle(SIX_POINTS)
    assert np.allclose(
        (*fit.point[:2], fit.radius_at_point), (4.7398, 2.9835, 4.7142), rtol=0, atol=5.1e-5
    )
    assert np.allclose(
        (*fit.point[:2], fit.radius_at_point), (4.739782, 2.983533, 4.714226), rtol=0, atol=6e-7
    )
    assert abs(fit.rms_residual - math.sqrt(1.227599 / 6.0)) < 1e-6


@pytest.mark.parametrize("name", OTHER_FITS)
def test_no_other_circle_lies_closer_to_the_six_points(name: str) -> None:
    x, y, radius, total = OTHER_FITS[name]
    assert abs(squares(SIX_POINTS, x, y, radius) - total) < 2e-5
    fit = fit_circle(SIX_POINTS)
    assert squares(SIX_POINTS, fit.point[0], fit.point[1], fit.radius_at_point) < total - 0.02


def lobed_cylinder(lobes: int) -> FloatArray:
    """An exact set made for this project, with its answer known by symmetry.

    24 equal angles at 5 equal heights, radius 10 + 0.05 cos(lobes angle), z
    turned to (1, 2, 2)/3 by the shortest rotation, then shifted by (12, -7, 3).
    """
    angle = np.repeat(2.0 * np.pi * np.arange(24) / 24.0, 5)
    radius = 10.0 + 0.05 * np.cos(lobes * angle)
    height = np.tile(np.linspace(0.0, 40.0, 5), 24)
    points = np.column_stack((radius * np.cos(angle), radius * np.sin(angle), height))
    axis = np.array([1.0, 2.0, 2.0]) / 3.0
    turn = np.cross([0.0, 0.0, 1.0], axis)
    skew = np.array([[0, -turn[2], turn[1]], [turn[2], 0, -turn[0]], [-turn[1], turn[0], 0]])
    rotation = np.eye(3) + skew + skew @ skew / (1.0 + axis[2])
    moved: FloatArray = points @ rotation.T + [12.0, -7.0, 3.0]
    return moved


@pytest.mark.parametrize("lobes", [2, 3, 5, 22])
def test_lobed_cylinder_has_the_axis_that_its_symmetry_gives(lobes: int) -> None:
    # Closed form: every lobe number from 2 to 22 is orthogonal to the radius, the
    # shift and the tilt, so they come out exact; rms = 0.05 / sqrt(2).
    points = lobed_cylinder(lobes)
    axis = np.array([1.0, 2.0, 2.0]) / 3.0
    fit = fit_cylinder(points, np.array([0.2, 0.75, 0.63]))
    assert np.linalg.norm(np.cross(fit.direction, axis)) < math.radians(1e-5)
    arm = fit.point - [12.0, -7.0, 3.0]
    assert np.linalg.norm(arm - axis * (arm @ axis)) < 1e-7
    assert abs(fit.radius_at_point - 10.0) < 1e-7
    assert abs(fit.rms_residual - 0.05 / math.sqrt(2.0)) < 1e-9


def test_lobed_cylinder_is_the_set_that_was_written_down() -> None:
    assert np.allclose(lobed_cylinder(3)[0], (21.38, -8.34, -0.35), rtol=0, atol=5e-3)


def test_no_lobe_is_a_larger_radius_and_one_lobe_an_offset() -> None:
    # Closed form: lobe 0 adds 0.05 to the radius; lobe 1 moves the axis by 0.05.
    guess = np.array([1.0, 2.0, 2.0]) / 3.0
    assert abs(fit_cylinder(lobed_cylinder(0), guess).radius_at_point - 10.05) < 1e-7
    arm = fit_cylinder(lobed_cylinder(1), guess).point - [12.0, -7.0, 3.0]
    assert abs(np.linalg.norm(arm - guess * (arm @ guess)) - 0.05) < 1e-4


@pytest.mark.parametrize("sides", [8, 16, 32, 64])
def test_circle_through_a_polygon_reads_what_the_closed_forms_say(sides: int) -> None:
    # Closed forms: vertices R; edge middles R cos(pi/N); centroids of a faceted
    # cylinder's triangles R sqrt(1 - (8/9) sin^2(pi/N)).
    angle = 2.0 * np.pi * np.arange(sides) / sides
    corners = 9.5 * np.column_stack((np.cos(angle), np.sin(angle)))
    ahead = np.roll(corners, -1, axis=0)
    half = math.pi / sides
    assert abs(fit_circle(corners).radius_at_point - 9.5) < 1e-9
    assert abs(fit_circle((corners + ahead) / 2.0).radius_at_point - 9.5 * math.cos(half)) < 1e-9
    thirds = np.vstack(((2.0 * corners + ahead) / 3.0, (corners + 2.0 * ahead) / 3.0))
    expected = 9.5 * math.sqrt(1.0 - 8.0 / 9.0 * math.sin(half) ** 2)
    assert abs(fit_circle(thirds).radius_at_point - expected) < 1e-9


def mesh_of(part: Part) -> Mesh:
    return Mesh(np.array(part.mesh.vertices), np.array(part.mesh.faces))


def test_prism_volume_of_a_64_sided_tube() -> None:
    # Closed form: (N/2) sin(2 pi/N) (R^2 - r^2) L = 74100.958 for 26/19 x 300, N = 64;
    # the round tube has 74220.126.
    mesh = mesh_of(plain_tube(facets=64))
    assert abs(enclosed_volume(mesh) - 74100.958) < 1e-3
    expected = 32.0 * math.sin(2.0 * math.pi / 64.0) * (13.0**2 - 9.5**2) * 300.0
    assert math.isclose(enclosed_volume(mesh), expected, rel_tol=1e-12)


@pytest.mark.parametrize("sides", [24, 64])
def test_survey_reads_the_true_circle_not_the_facets(sides: int) -> None:
    # Closed form: across the flats the bore is short by 2 R (1 - cos(pi/N)), 0.163 mm
    # at N = 24 and R = 9.5; truth is the circle through the vertices.
    survey = survey_part(mend_bodies(mesh_of(plain_tube(facets=sides)))[0], max_move=0.1)
    assert abs(2.0 * survey.bore.radius_at(150.0) - 19.0) < 1e-6
    assert abs(2.0 * survey.outsides[0].radius_at(150.0) - 26.0) < 1e-6


def test_trued_tube_is_within_the_chord_of_the_round_one() -> None:
    # Closed form: inscribed facets of sagitta s or less lose at most 2 pi R s L of
    # volume outside, and as much is left standing in the bore.
    survey = survey_part(mend_bodies(mesh_of(plain_tube(facets=64)))[0], max_move=0.1)
    trued = true_up(survey, Settings(envelope=(180.0, 180.0, 180.0)))
    lost = 74220.126 - enclosed_volume(trued.mesh)
    assert abs(lost) < 2.0 * math.pi * 13.0 * CHORD_TOLERANCE * 300.0
    assert enclosed_volume(trued.mesh) > 74100.958 + 60.0


@pytest.mark.parametrize("radius", [6.0, 9.5, 10.0, 20.0])
def test_strips_are_as_many_as_the_chord_asks_for(radius: float) -> None:
    # Closed form: sagitta R (1 - cos(pi/N)) <= s from N = ceil(pi / acos(1 - s/R)) on.
    sides = strip_count(radius)
    assert radius * (1.0 - math.cos(math.pi / sides)) <= CHORD_TOLERANCE + 1e-12
    fewer = sides - 1
    needed = math.ceil(math.pi / math.acos(1.0 - CHORD_TOLERANCE / radius))
    assert fewer < needed or radius * (1.0 - math.cos(math.pi / fewer)) > CHORD_TOLERANCE


@pytest.mark.parametrize("count", [0, 1, 3, 7])
def test_euler_number_of_a_tube_with_side_holes(count: int) -> None:
    # Closed form: each side hole into the bore adds a handle, V - E + F = 2 - 2 (1 + k);
    # 3 F = 2 E in every closed mesh; a plain tube of N sides has V = 4 N and F = 8 N.
    holes = [Hole(60.0 + 25.0 * k, 10.0 * k, 6.0) for k in range(count)]
    part = tube(length=300.0, bore=19.0, outside=26.0, holes=holes, facets=63)
    survey = survey_part(mend_bodies(mesh_of(part))[0], max_move=0.1)
    trued = true_up(survey, Settings(envelope=(180.0, 180.0, 180.0)))
    for mesh in (survey.mesh, trued.mesh):
        edges = np.sort(mesh.triangles[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        number = len(np.unique(edges, axis=0))
        assert 3 * len(mesh.triangles) == 2 * number
        assert len(mesh.vertices) - number + len(mesh.triangles) == 2 - 2 * (1 + count)
    if count == 0:
        assert (len(survey.mesh.vertices), len(survey.mesh.triangles)) == (4 * 63, 8 * 63)


# STL by the byte: M. Burns, Automated Fabrication (1993), section 6.5: a header of
# 80 bytes, a little-endian count of 32 bits, then 50 bytes a facet: 12 floats of
# 32 bits (normal, three corners) and an attribute count of 16 bits.


def stl_bytes(corners: FloatArray, header: bytes = b"") -> bytes:
    facets = b"".join(
        struct.pack("<12fH", 0.0, 0.0, 0.0, *facet.ravel().tolist(), 0) for facet in corners
    )
    return header.ljust(80, b"\0") + struct.pack("<I", len(corners)) + facets


@pytest.mark.parametrize(("count", "size"), [(1, 134), (12, 684), (1000, 50084)])
def test_stl_of_n_triangles_is_84_and_50_n_bytes(count: int, size: int, tmp_path: Path) -> None:
    corners = np.arange(9.0 * count).reshape(count, 3, 3)
    path = tmp_path / "part.stl"
    path.write_bytes(stl_bytes(corners))
    assert path.stat().st_size == size
    assert check_mesh_file(path).faces == count
    assert np.array_equal(stl_corners(path.read_bytes()), corners)
    path.write_bytes(stl_bytes(corners)[:-1])
    with pytest.raises(BadFile, match=str(size)):
        check_mesh_file(path)


def test_binary_stl_is_told_by_its_size_not_by_its_first_word(tmp_path: Path) -> None:
    path = tmp_path / "part.stl"
    path.write_bytes(stl_bytes(np.arange(9.0).reshape(1, 3, 3), b"solid of revolution"))
    assert check_mesh_file(path).faces == 1
