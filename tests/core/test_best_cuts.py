"""The best cuts against every plan of 50 random parts; `tests.bench.plans` does 500 more."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from borewright.core.errors import NoPlan
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.plan_survey import PlanSurvey, survey_plans

from tests.exhaustive_plans import EveryPlan, nudged, random_case

CASES = range(50)
ROUND_OFF = 1e-9


@cache
def every_plan(seed: int) -> EveryPlan:
    return EveryPlan(random_case(seed))


@cache
def chosen(seed: int) -> PlanSurvey:
    case = random_case(seed)
    plan = plan_cuts(case.survey, case.settings)
    found = survey_plans(case.survey, case.settings, plan)
    assert found.plans[0].stations == tuple(cut.station for cut in plan.cuts)
    return found


possible = pytest.mark.parametrize(
    "seed", [seed for seed in CASES if every_plan(seed).pieces is not None]
)


def test_the_cases_are_of_every_kind() -> None:
    pieces = [every_plan(seed).pieces for seed in CASES]
    assert {None, 1, 2, 3, 4, 5} <= set(pieces)
    assert pieces.count(None) <= 10
    cases = [random_case(seed) for seed in CASES]
    for kind in (
        [case.thin for case in cases],
        [bool(case.survey.ornaments) for case in cases],
        [bool(case.settings.avoid) for case in cases],
        [bool(case.settings.prefer) for case in cases],
        [bool(case.settings.cuts) for case in cases],
    ):
        assert 5 <= sum(kind) <= 40


@pytest.mark.parametrize("seed", CASES)
def test_the_piece_count_is_that_of_every_plan(seed: int) -> None:
    every = every_plan(seed)
    if every.pieces is None:
        with pytest.raises(NoPlan):
            plan_cuts(every.case.survey, every.case.settings)
        return
    best = chosen(seed).plans[0]
    assert len(best.stations) + 1 == every.pieces
    assert every.keeps_rules(best.stations)


@possible
def test_the_score_told_is_that_of_the_formula(seed: int) -> None:
    for ranked in chosen(seed).plans:
        assert ranked.score.total == pytest.approx(every_plan(seed).score(ranked.stations))


@possible
def test_no_plan_on_the_grid_is_better_and_ours_is_no_more_than_rounding_above_it(
    seed: int,
) -> None:
    every, best = every_plan(seed), chosen(seed).plans[0]
    on_grid = every.best()
    assert best.score.total >= on_grid - ROUND_OFF
    assert best.score.total <= on_grid + every.grid_loss(best.stations) + ROUND_OFF


@possible
def test_no_seams_are_better_1024ths_of_a_millimetre_away(seed: int) -> None:
    every, best = every_plan(seed), chosen(seed).plans[0]
    for moved in nudged(every.case, best.stations):
        if every.keeps_rules(moved):
            assert every.score(moved) <= best.score.total + ROUND_OFF


@possible
def test_the_second_and_third_plan_are_the_best_unlike_those_before(seed: int) -> None:
    every, plans = every_plan(seed), chosen(seed).plans
    stations = [plan.stations for plan in plans]
    for place, plan in enumerate(plans):
        assert every.keeps_rules(plan.stations)
        for other in stations[:place]:
            assert np.abs(np.subtract(plan.stations, other)).max() >= 5.0 - ROUND_OFF
        on_grid = every.best(stations[:place])
        assert plan.score.total >= on_grid - ROUND_OFF
    assert [plan.score.total for plan in plans] == sorted(
        (plan.score.total for plan in plans), reverse=True
    )
    assert len(plans) <= 3
    if len(plans) < 3:
        assert every.best(stations) == -np.inf
