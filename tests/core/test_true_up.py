"""Truing: the round surfaces exact, everything else as it was."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from borewright.core.errors import TruingRefused
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.mesh_checks import check_closed, triangle_normals
from borewright.core.surveying.survey import survey_part
from borewright.core.truing.true_up import true_up
from borewright.core.values import (
    BORE,
    CHORD_TOLERANCE,
    OTHER,
    OUTSIDE,
    Mesh,
    RoundSurface,
    Settings,
    Survey,
    TruedPart,
)

from tests.families.round_outside import ODD_CUTS, odd_holes
from tests.parts import Hole, Part, Ring, random_pose, tube
from tests.true_surveys import true_survey

HOLES = (Hole(60.0, 0.0, 8.0), Hole(90.0, 3.0, 5.0), Hole(120.0, 180.0, 6.0))


def trued(part: Part, **settings: object) -> tuple[Survey, TruedPart]:
    vertices = part.mesh.vertices.astype(np.float32).astype(np.float64)
    survey = survey_part(mend_bodies(Mesh(vertices, part.mesh.faces))[0], max_move=0.1)
    return survey, true_up(survey, Settings((200.0, 200.0, 200.0), **settings))  # type: ignore[arg-type]


def pipe(**changes: object) -> Part:
    kinds = {"length": 200.0, "bore": 14.0, "outside": 22.0, "holes": HOLES, **changes}
    return tube(pose=random_pose(np.random.default_rng(3)), **kinds)  # type: ignore[arg-type]


PARTS = {
    "as CAD facets it": pipe(),
    "a coarse prism with drilled holes": pipe(facets=20, rims="facets"),
    "tapered": pipe(bore=(16.0, 8.0), outside=(26.0, 18.0), level_step=9.0),
    "with a ring": pipe(rings=[Ring(150.0, 6.0, 30.0)]),
}


def excess(mesh: Mesh, chosen: np.ndarray, surface: RoundSurface) -> np.ndarray:
    """How far a close sampling of the chosen triangles lies out of a surface."""
    corners = mesh.vertices[mesh.triangles[chosen]]
    shares = np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [1, 1, 0], [0, 1, 1], [1, 0, 1], [1, 1, 1]])
    shares = shares / shares.sum(axis=1, keepdims=True)
    points = np.einsum("sk,tkd->std", shares, corners).reshape(-1, 3)
    x, y = surface.offset
    return np.hypot(points[:, 0] - x, points[:, 1] - y) - surface.radii_at(points[:, 2])


@pytest.mark.parametrize("part", PARTS.values(), ids=PARTS.keys())
def test_vertices_lie_on_the_surface_and_facets_within_the_chord(part: Part) -> None:
    survey, result = trued(part)
    check_closed(result.mesh)
    assert trimesh.Trimesh(result.mesh.vertices, result.mesh.triangles, process=False).is_watertight
    for label, surface in ((BORE, survey.bore), (OUTSIDE, survey.outsides[0])):
        off = excess(result.mesh, result.labels == label, surface)
        assert off.max() < 1e-9
        assert off.min() > -CHORD_TOLERANCE * 1.001


@pytest.mark.parametrize("part", PARTS.values(), ids=PARTS.keys())
def test_no_new_triangle_faces_away_from_its_surface(part: Part) -> None:
    _, result = trued(part)
    normals, areas = triangle_normals(result.mesh)
    middles = result.mesh.vertices[result.mesh.triangles].mean(axis=1)
    reach = np.linalg.norm(middles[:, :2], axis=1)
    facing = (normals[:, :2] * middles[:, :2]).sum(axis=1) / reach
    for label, turn in ((BORE, -1.0), (OUTSIDE, 1.0)):
        here = result.labels == label
        assert (turn * facing[here & (areas > 1e-3)]).min() > 0.9
        assert (turn * facing[here & (areas > 1e-6)]).min() > 0.0


@pytest.mark.parametrize("part", PARTS.values(), ids=PARTS.keys())
def test_genus_and_so_every_hole_is_kept(part: Part) -> None:
    survey, result = trued(part)
    before = trimesh.Trimesh(survey.mesh.vertices, survey.mesh.triangles, process=False)
    after = trimesh.Trimesh(result.mesh.vertices, result.mesh.triangles, process=False)
    assert after.euler_number == before.euler_number == -2 * len(HOLES)


def test_a_rim_vertex_keeps_its_angle_and_station() -> None:
    """Of holes that are no round ones; their walls stay as they are."""
    survey = true_survey(odd_holes(cuts=ODD_CUTS[:3]))
    result = true_up(survey, Settings((200.0, 200.0, 200.0)))
    walls = np.unique(survey.mesh.triangles[survey.labels == OTHER])
    rim = walls[np.isin(walls, survey.mesh.triangles[survey.labels == BORE])]
    old = survey.mesh.vertices[rim]
    assert len(rim) > 60
    angles = np.arctan2(result.mesh.vertices[:, 1], result.mesh.vertices[:, 0])
    reach = np.hypot(result.mesh.vertices[:, 0], result.mesh.vertices[:, 1])
    for vertex in old:
        off = np.abs(result.mesh.vertices[:, 2] - vertex[2])
        turn = angles - np.arctan2(vertex[1], vertex[0])
        same = (off < 1e-9) & (np.abs(np.angle(np.exp(1j * turn))) < 1e-9)
        assert np.abs(reach[same] - 7.0).min() < 1e-6


def test_chord_error_is_no_move_but_a_dent_is() -> None:
    part = PARTS["a coarse prism with drilled holes"]
    survey, result = trued(part)
    sagitta = 11.0 * (1.0 - np.cos(np.pi / 20))
    assert sagitta > 0.13
    assert result.max_move < 0.001
    dented = survey.mesh.vertices.copy()
    corner = np.flatnonzero(np.abs(np.hypot(dented[:, 0], dented[:, 1]) - 11.0) < 1e-4)[0]
    dented[corner, :2] *= 1.0 + 0.06 / 11.0
    again = survey_part(mend_bodies(Mesh(dented, survey.mesh.triangles))[0], max_move=0.1)
    assert true_up(again, Settings((1.0, 1.0, 1.0))).max_move == pytest.approx(0.06, abs=0.002)


def test_a_bump_beyond_max_move_stays() -> None:
    survey, _ = trued(pipe())
    bumped = survey.mesh.vertices.copy()
    reach = np.hypot(bumped[:, 0], bumped[:, 1])
    rim = np.flatnonzero((np.abs(reach - 11.0) < 1e-4) & (np.abs(bumped[:, 2] - 60.0) < 4.1))
    bumped[rim[0], :2] *= 1.0 + 0.3 / 11.0
    again = survey_part(mend_bodies(Mesh(bumped, survey.mesh.triangles))[0], max_move=0.1)
    result = true_up(again, Settings((1.0, 1.0, 1.0)))
    assert result.max_move < 0.1
    assert np.abs(result.mesh.vertices - again.mesh.vertices[rim[0]]).max(axis=1).min() < 1e-9


@pytest.mark.parametrize("height", [0.06, 0.15, 0.19])
def test_what_stands_out_of_an_end_moves_by_max_move_at_the_most(height: float) -> None:
    survey, _ = trued(pipe())
    ramped = survey.mesh.vertices.copy()
    top = ramped[:, 2] > survey.length - 0.1
    angles = np.arctan2(ramped[top, 1], ramped[top, 0])
    ramped[top, 2] += height * np.clip(1.0 - np.abs(angles), 0.0, None)
    again = survey_part(mend_bodies(Mesh(ramped, survey.mesh.triangles))[0], max_move=0.1)
    assert true_up(again, Settings((1.0, 1.0, 1.0))).max_move <= 0.1


@pytest.mark.parametrize("true", ["bore", "outside"])
def test_one_surface_can_be_trued_alone(true: str) -> None:
    survey, result = trued(PARTS["a coarse prism with drilled holes"], true=true)
    check_closed(result.mesh)
    exact, left = (BORE, OUTSIDE) if true == "bore" else (OUTSIDE, BORE)
    surfaces = {BORE: survey.bore, OUTSIDE: survey.outsides[0]}
    assert excess(result.mesh, result.labels == exact, surfaces[exact]).min() > -CHORD_TOLERANCE
    assert excess(result.mesh, result.labels == left, surfaces[left]).min() < -0.05


def test_none_leaves_the_mesh_alone() -> None:
    survey, result = trued(pipe(), true="none")
    assert result.mesh is survey.mesh
    assert result.max_move == 0.0


def test_a_fine_mesh_becomes_a_small_one() -> None:
    part = pipe(facets=360, holes=HOLES[:1], level_step=8.0, bore=(14.0, 13.0))
    survey, result = trued(part)
    assert len(survey.mesh.triangles) > 7_000
    assert len(result.mesh.triangles) < 2_000


def test_the_parts_own_thin_wall_is_no_refusal() -> None:
    _, result = trued(pipe(outside=15.0), least_wall=0.8)
    check_closed(result.mesh)
    assert len(result.generators[0]) >= 80


def test_moves_beyond_what_was_allowed_are_refused() -> None:
    """A survey with a wider band than the settings hands over what truing may not move."""
    survey, _ = trued(pipe())
    dented = survey.mesh.vertices.copy()
    corner = np.flatnonzero(np.abs(np.hypot(dented[:, 0], dented[:, 1]) - 11.0) < 1e-4)[0]
    dented[corner, :2] *= 1.0 + 0.06 / 11.0
    again = survey_part(mend_bodies(Mesh(dented, survey.mesh.triangles))[0], max_move=0.1)
    with pytest.raises(TruingRefused, match=r"0\.060 mm.*at most 0\.050 mm.*--max-move 0\.0[67]"):
        true_up(again, Settings((1.0, 1.0, 1.0), max_move=0.05))
