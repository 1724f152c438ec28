"""What a refusal costs: counted in passes over the whole mesh, for times depend on the machine."""

from __future__ import annotations

import pytest
from borewright.core import stages
from borewright.core.errors import CoreError, NotTubular
from borewright.core.job import plan_parts
from borewright.core.surveying import early_survey, survey
from borewright.core.values import Mesh, Settings

from tests.bent import bent
from tests.families.dense import dense_tube

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
