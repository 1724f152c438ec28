"""What the survey hands on to truing: triangles at borders, and the widest facets."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from borewright.core.meshes.mend import mend_bodies
from borewright.core.surveying.survey import survey_part
from borewright.core.values import BORE, HOLE, OTHER, OUTSIDE, Mesh, Survey

from tests.families.dense import dense_tube
from tests.families.odd_outside import many_sided_tube, two_bores
from tests.families.round_outside import bell, milled, odd_holes, stepped
from tests.families.truth import Part, noisy
from tests.true_surveys import widest_facet

PARTS: dict[str, Callable[[], Part]] = {
    "dense": lambda: dense_tube(30_000),
    "bell": bell,
    "milled": milled,
    "octagon": many_sided_tube,
    "odd holes": odd_holes,
    "stepped": stepped,
    "two bores": two_bores,
    "noisy": lambda: noisy(odd_holes(), 0.02, np.random.default_rng(3)),
}


@pytest.fixture(scope="module", params=PARTS)
def survey(request: pytest.FixtureRequest) -> Survey:
    part = PARTS[request.param]()
    return survey_part(mend_bodies(Mesh(part.vertices, part.triangles))[0], max_move=0.15)


def test_all_that_meets_another_surface_is_among_the_triangles_at_borders(survey: Survey) -> None:
    triangles = survey.mesh.triangles
    kind = survey.labels.astype(int) * 1000 + survey.numbers
    least, most = np.full((2, len(survey.mesh.vertices)), [[10**9], [-1]])
    for corner in triangles.T:
        np.minimum.at(least, corner, kind)
        np.maximum.at(most, corner, kind)
    meets = (least < most)[triangles].any(axis=1)
    assert meets.any()
    assert survey.at_borders is not None
    missed = np.setdiff1d(
        np.flatnonzero(meets | np.isin(survey.labels, (OTHER, HOLE))), survey.at_borders
    )
    assert len(missed) == 0
    assert (np.diff(survey.at_borders) > 0).all()


def test_the_widest_facet_of_each_surface_is_told(survey: Survey) -> None:
    for label, surfaces in ((BORE, survey.bores), (OUTSIDE, survey.outsides)):
        for number, surface in enumerate(surfaces):
            own = survey.mesh.triangles[(survey.labels == label) & (survey.numbers == number)]
            angle = widest_facet(survey.mesh.vertices, own, surface.offset)
            assert surface.widest == pytest.approx(angle, rel=0.02)
