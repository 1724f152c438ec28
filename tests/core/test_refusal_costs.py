"""What a refusal costs: counted in passes over the whole mesh, for times depend on the machine."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from borewright.core import stages
from borewright.core.errors import CoreError, NotTubular, TruingRefused
from borewright.core.job import plan_parts
from borewright.core.planning import leaning
from borewright.core.surveying import early_survey, hole_passages, part_view, survey
from borewright.core.values import Mesh, Settings
from manifold3d import Manifold

from tests.bent import bent
from tests.families.dense import dense_tube
from tests.loose_parts import mesh_of

SMALL = Settings((100.0, 100.0, 100.0))


def refused(mesh: Mesh, settings: Settings = SMALL) -> CoreError:
    with pytest.raises(NotTubular) as caught:
        plan_parts(mesh, "bent", lambda _: settings, 1.0, lambda _: None)
    return caught.value


@pytest.fixture(scope="module")
def tube() -> Mesh:
    part = dense_tube(20_000)
    return Mesh(part.vertices, part.triangles)


def test_a_part_that_is_refused_is_surveyed_once(
    tube: Mesh, monkeypatch: pytest.MonkeyPatch
) -> None:
    surveyed = []

    def counting(*given: object, **more: object) -> object:
        surveyed.append(given)
        return survey.survey_part(*given, **more)  # type: ignore[arg-type]

    for place in (stages, early_survey):
        monkeypatch.setattr(place, "survey_part", counting)
    refused(bent(tube, 5.0))
    assert len(surveyed) == 1


@pytest.fixture(scope="module")
def rod() -> Mesh:
    return mesh_of(Manifold.cylinder(352.0, 10.0, circular_segments=48).refine_to_length(5.0))


def counted(monkeypatch: pytest.MonkeyPatch, place: object, name: str) -> list[Any]:
    """What a function gives, each time that it is called."""
    given: list[Any] = []
    real = getattr(place, name)

    def counting(*arguments: object) -> object:
        given.append(real(*arguments))
        return given[-1]

    monkeypatch.setattr(place, name, counting)
    return given


@pytest.mark.parametrize("sagitta", [0.5, 5.0])
def test_a_tube_that_bends_little_is_cut_in_planes_once(
    tube: Mesh, sagitta: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    cuts = counted(monkeypatch, part_view, "cut_sections")
    assert f"an axis that bends: it lies up to {sagitta:.1f}" in refused(bent(tube, sagitta)).found
    assert len(cuts) == 1


@pytest.mark.parametrize("sagitta", [5.0, 60.0])
def test_what_is_cut_to_find_a_solids_axis_is_not_asked_for_circles(
    rod: Mesh, sagitta: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    cuts = counted(monkeypatch, part_view, "cut_sections")
    circles = counted(monkeypatch, part_view, "fit_circles")
    assert "as a solid part it is one with an axis that bends" in refused(bent(rod, sagitta)).found
    assert len(circles) < len(cuts) <= 6


def test_a_tilt_at_which_few_points_do_not_fit_is_not_asked_of_all(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An egg of 130 by 60 by 40 mm, in an envelope that is too low for it."""
    egg = mesh_of(Manifold.sphere(1.0, 200).scale((30.0, 20.0, 65.0)))
    seen = counted(monkeypatch, leaning, "_along")
    rolls = 25
    assert leaning.find_lean(egg, (50.0, 70.0, 120.0), 0.0) is None
    assert sum(len(points) > 1000 for points in seen) <= 2 * rolls
    assert len(seen) > 10 * rolls


def test_of_a_noisy_part_each_triangle_is_asked_once_whether_it_is_rough(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With too little room to move most of it is one patch, which opens in many places."""
    part = dense_tube(60_000)
    noise = np.random.default_rng(7).normal(scale=0.02, size=part.vertices.shape)
    noisy = Mesh(part.vertices + noise, part.triangles)
    opened = counted(monkeypatch, hole_passages, "_aim")
    rough = counted(monkeypatch, hole_passages, "_rough_triangles")
    outward = counted(monkeypatch, hole_passages, "outward_excess")
    settings = Settings((200.0, 200.0, 200.0), max_move=0.01)
    with pytest.raises(TruingRefused):
        plan_parts(noisy, "noisy", lambda _: settings, 1.0, lambda _: None)
    assert len(opened) > 5
    assert sum(map(len, rough)) < 2 * len(noisy.triangles)
    assert sum(map(len, outward)) < 2 * len(noisy.vertices)
