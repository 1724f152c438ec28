"""Truing of meshes that are not as they should be, and of openings that crowd each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from borewright.core.errors import TruingRefused
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.mesh_checks import check_closed, triangle_normals
from borewright.core.surveying.survey import survey_part
from borewright.core.truing.rebuild import check_facing, check_joined
from borewright.core.truing.true_up import true_up
from borewright.core.values import (
    BORE,
    CHORD_TOLERANCE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    Mesh,
    RoundSurface,
    Settings,
    Survey,
    TruedPart,
)

from tests.families.gallery import scanned
from tests.families.round_outside import odd_holes
from tests.parts import Hole, tube
from tests.true_surveys import drilled, off_round, true_survey

ASKED = Settings((200.0, 200.0, 200.0))


def surveyed(**part: object) -> Survey:
    made = tube(**part).mesh  # type: ignore[arg-type]
    vertices = np.asarray(made.vertices).astype(np.float32).astype(np.float64)
    return survey_part(mend_bodies(Mesh(vertices, made.faces))[0], max_move=0.1)


def without_walls(survey: Survey) -> Survey:
    """Hole walls are kept as they are when nobody knows their cylinders."""
    holes = tuple(replace(hole, wall=None) for hole in survey.side_holes)
    return replace(survey, side_holes=holes)


def is_sound(survey: Survey, result: TruedPart) -> None:
    check_closed(result.mesh)
    before, after = (
        trimesh.Trimesh(mesh.vertices, mesh.triangles, process=False)
        for mesh in (survey.mesh, result.mesh)
    )
    assert after.euler_number == before.euler_number
    normals, areas = triangle_normals(result.mesh)
    corners = result.mesh.vertices[result.mesh.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    told = 2.0 * areas > 0.01 * sides
    for label, surface, turn in ((BORE, survey.bores[0], -1.0), (OUTSIDE, survey.outsides[0], 1.0)):
        here = result.labels == label
        off = off_round(surface, corners[here].reshape(-1, 3))
        assert np.abs(off).max() < 1e-9
        off = off_round(surface, corners[here].mean(axis=1))
        assert off.min() > -CHORD_TOLERANCE * 1.001
        arms = corners[here & told].mean(axis=1)[:, :2] - np.array(surface.offset)
        assert (turn * (normals[here & told, :2] * arms).sum(axis=1)).min() > 0.0


@pytest.mark.parametrize("kept", [False, True])
@pytest.mark.parametrize("rims", ["true", "facets"])
@pytest.mark.parametrize("gap", [0.02, 0.05, 0.2])
def test_a_hole_close_to_an_end_of_a_coarse_tube(gap: float, rims: str, kept: bool) -> None:  # noqa: FBT001
    survey = surveyed(
        length=80.0, bore=14.0, outside=22.0, facets=24, rims=rims,
        holes=[Hole(3.0 + gap, 40.0, 6.0), Hole(80.0 - 2.5 - gap, 200.0, 5.0)],
    )  # fmt: skip
    survey = without_walls(survey) if kept else survey
    is_sound(survey, true_up(survey, ASKED))


@pytest.mark.parametrize("kept", [False, True])
@pytest.mark.parametrize("apart", [0.03, 0.1, 0.5])
def test_two_holes_close_to_each_other(apart: float, kept: bool) -> None:  # noqa: FBT001
    survey = surveyed(
        length=80.0, bore=14.0, outside=22.0, facets=40,
        holes=[Hole(30.0, 40.0, 6.0), Hole(36.0 + apart, 40.0, 6.0)],
    )  # fmt: skip
    survey = without_walls(survey) if kept else survey
    is_sound(survey, true_up(survey, ASKED))


@pytest.mark.parametrize("kept", [False, True])
def test_a_hole_almost_as_wide_as_the_bore(kept: bool) -> None:  # noqa: FBT001
    survey = surveyed(
        length=60.0, bore=12.0, outside=20.0, facets=63, holes=[Hole(30.0, 10.0, 11.7)]
    )
    survey = without_walls(survey) if kept else survey
    is_sound(survey, true_up(survey, ASKED))


@pytest.mark.parametrize("label", [OTHER, LOW_END])
@pytest.mark.parametrize("count", [1, 2])
def test_loose_slivers_with_another_label_join_their_surface(label: int, count: int) -> None:
    survey = true_survey(odd_holes(), [drilled(12.0, 130.0, 45.0, 6.0, lean_deg=25.0)])
    corners = survey.mesh.vertices[survey.mesh.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    height = 2.0 * triangle_normals(survey.mesh)[1] / sides
    at_other = np.isin(survey.mesh.triangles, survey.mesh.triangles[survey.labels == OTHER])
    loose = ~at_other.any(axis=1)
    low = np.flatnonzero((survey.labels == OUTSIDE) & (height < 0.05) & loose)
    shared = [np.intersect1d(*survey.mesh.triangles[[low[0], other]]) for other in low]
    beside = [other for other, edge in zip(low, shared, strict=True) if len(edge) == 2]
    labels = survey.labels.copy()
    labels[[low[0], *beside[: count - 1]]] = label
    assert (labels != survey.labels).sum() == count
    strayed = true_up(replace(survey, labels=labels), ASKED)
    assert np.array_equal(strayed.labels, true_up(survey, ASKED).labels)


def test_a_surface_turned_inside_out_is_seen() -> None:
    target = RoundSurface(5.0, 0.0, 0.0, 10.0)
    fair = np.array([[[5.0, 0.0, 2.0], [4.9, 1.0, 2.0], [4.9, 1.0, 3.0]]])
    check_facing(fair, target, 1)
    check_facing(fair[:, ::-1], target, -1)
    with pytest.raises(
        TruingRefused, match=r"folded over itself near station [23]\.00 mm, \d+ deg"
    ):
        check_facing(fair[:, ::-1], target, 1)
    low = np.array([[[5.0, 0.0, 2.0], [5.0, 0.02, 3.0], [5.0, 0.02, 2.0]]])
    check_facing(low, target, 1)  # turned over too, but so low that it tells nothing


def test_an_edge_with_one_or_three_triangles_is_seen() -> None:
    points = np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [0, 0, 1], [0, 0, 7]])
    whole = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    check_joined(points, whole)
    for broken in (whole[1:], np.vstack([whole, [[0, 1, 4]]]), whole * 1):
        if len(broken) == 4:
            broken[0] = broken[0][::-1]
        with pytest.raises(TruingRefused, match=r"edges without just two triangles.*0 such edges"):
            check_joined(points, broken)


@pytest.mark.parametrize("name", ["taper", "two bores"])
def test_a_scan_whose_ends_are_full_of_specks_ends_up_exact(name: str) -> None:
    """Noise of 0.02 mm on edges of 0.3 mm tilts many a triangle out of its label."""
    part = scanned(name)
    vertices = part.vertices.astype(np.float32).astype(np.float64)
    survey = survey_part(mend_bodies(Mesh(vertices, part.triangles))[0], max_move=0.1)
    result = true_up(survey, ASKED)
    check_closed(result.mesh)
    for number, bore in enumerate(survey.bores):
        chosen = (result.labels == BORE) & (result.numbers == number)
        corners = result.mesh.vertices[result.mesh.triangles[chosen]]
        assert np.abs(off_round(bore, corners.reshape(-1, 3))).max() < 1e-9
        assert off_round(bore, corners.mean(axis=1)).min() > -CHORD_TOLERANCE * 1.001
    for label, station in ((LOW_END, 0.0), (HIGH_END, survey.length)):
        flat = result.mesh.vertices[result.mesh.triangles[result.labels == label]]
        assert len(flat) > 0
        assert np.abs(flat[:, :, 2] - station).max() == 0.0
