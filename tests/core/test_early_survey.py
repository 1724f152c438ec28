"""The survey of a mesh that is still being checked: the same, or nothing."""

from __future__ import annotations

import numpy as np
import pytest
from borewright.core.meshes.mend import mend_bodies
from borewright.core.surveying.early_survey import survey_early
from borewright.core.surveying.survey import survey_part
from borewright.core.values import Mesh, Settings, Survey

from tests.families.round_outside import odd_holes
from tests.families.truth import Part
from tests.jobs import plan_surveyed


@pytest.fixture(scope="module")
def part() -> Part:
    return odd_holes()


def test_a_sound_mesh_is_seen_as_it_is_after_the_check(part: Part) -> None:
    mesh = Mesh(part.vertices, part.triangles)
    early = survey_early(mesh, max_move=0.1, flip=True)
    later = survey_part(mend_bodies(mesh)[0], max_move=0.1, flip=True)
    assert isinstance(early, Survey)
    assert np.array_equal(early.frame.rows, later.frame.rows)
    assert np.array_equal(early.labels, later.labels)
    assert np.array_equal(early.numbers, later.numbers)
    assert (early.bores, early.outsides, early.walls) == (later.bores, later.outsides, later.walls)
    assert (early.side_holes, early.remarks) == (later.side_holes, later.remarks)


@pytest.mark.parametrize("kind", ["soup", "not finite", "no vertices there", "nothing", "one"])
def test_no_survey_comes_of_an_unsound_one_and_nothing_breaks(part: Part, kind: str) -> None:
    vertices, triangles = part.vertices.copy(), part.triangles.copy()
    if kind == "soup":
        vertices, triangles = vertices[triangles].reshape(-1, 3), np.arange(triangles.size)
    elif kind == "not finite":
        vertices[5, 1] = np.nan
    elif kind == "no vertices there":
        triangles[7, 2] = len(vertices) + 3
    else:
        triangles = triangles[: 0 if kind == "nothing" else 1]
    mesh = Mesh(vertices, triangles.reshape(-1, 3))
    assert not isinstance(survey_early(mesh, max_move=0.1, flip=False), Survey)


def test_what_was_seen_of_a_mesh_that_is_mended_is_forgotten(part: Part) -> None:
    """A far speck widens the part that is looked at; dropped, it must leave no trace."""
    speck = np.array([[0, 0, 500.0], [0.1, 0, 500], [0, 0.1, 500], [0, 0, 500.1]])
    faces = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]) + len(part.vertices)
    dirty = Mesh(np.vstack([part.vertices, speck]), np.vstack([part.triangles, faces]))
    settings = Settings((180.0, 180.0, 150.0))
    (one,) = plan_surveyed(Mesh(part.vertices, part.triangles), "x", settings)
    (other,) = plan_surveyed(dirty, "x", settings)
    assert other.survey.bores == one.survey.bores
    assert np.array_equal(other.survey.frame.origin, one.survey.frame.origin)
