"""All that a plan was chosen from: where seams may lie and why not elsewhere, the best plans."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

from ..errors import TooWide
from ..values import JointKind, Plan, Settings, Survey
from .cut_plan import joints_of
from .cut_score import PlanScore, Seams
from .cut_search import Search, search_cuts
from .floor_fit import check_floor
from .seam_choice import SeamChoice
from .seam_reach import Runs, seam_windows
from .station_map import StationMap, map_stations

MOST_PLANS = 3
_MOST_TRIED = 5


@dataclass(frozen=True, slots=True)
class RankedPlan:
    """One of the best plans of the fewest pieces.

    stations, kinds, engagements : of its joints, from the low end up
    lengths : mm, of its pieces seam to seam
    """

    stations: tuple[float, ...]
    kinds: tuple[JointKind, ...]
    engagements: tuple[float, ...]
    lengths: tuple[float, ...]
    score: PlanScore


@dataclass(frozen=True, slots=True)
class PlanSurvey:
    """The station map of a part, and its best plans, best first: the first is the one made."""

    stations: StationMap
    plans: tuple[RankedPlan, ...]


def survey_plans(survey: Survey, settings: Settings, plan: Plan) -> PlanSurvey:
    """Where seams may lie on a part that was planned, and the best plans of as many pieces.

    A plan is another one where at least one seam lies 5 mm or more from its counterpart in
    each better one. Plans with a piece that does not fit the envelope's floor do not count. Of a
    part that leans there are none.

    Parameters
    ----------
    survey, settings, plan : what `plan_cuts` was given, and what it gave
    """
    if plan.lean is not None:
        return PlanSurvey(map_stations(survey, settings, ()), ())
    search, windows = _searched(survey, settings, plan)
    return PlanSurvey(
        map_stations(survey, settings, windows[1:-1]),
        _ranked(search, SeamChoice(search, windows)),
    )


def map_planned(survey: Survey, settings: Settings, plan: Plan) -> StationMap:
    """The station map alone, as `survey_plans` has it."""
    if plan.lean is not None:
        return map_stations(survey, settings, ())
    _, windows = _searched(survey, settings, plan)
    return map_stations(survey, settings, windows[1:-1])


def _searched(survey: Survey, settings: Settings, plan: Plan) -> tuple[Search, list[Runs]]:
    """The search that a plan came from, and where each of its seams can lie, the ends too."""
    pieces = len(plan.cuts) + 1
    search = search_cuts(survey, replace(settings, pieces=max(pieces, settings.pieces or 1)))
    assert search is not None
    assert search.pieces == pieces
    return search, seam_windows(search.ground, search.levels, search.height)


def _ranked(search: Search, choice: SeamChoice) -> tuple[RankedPlan, ...]:
    tried: list[Seams] = []
    ranked: list[RankedPlan] = []
    while len(ranked) < MOST_PLANS and len(tried) < _MOST_TRIED:
        seams = choice.best(tried)
        if seams is None:
            break
        tried.append(seams)
        ranked += _as_ranked(search, seams, choice.scorer.score(seams))
    return tuple(ranked)


def _as_ranked(search: Search, seams: Seams, score: PlanScore) -> list[RankedPlan]:
    """The plan of a chain of seams; none where a piece does not fit the floor."""
    joints = joints_of(search, seams)
    try:
        check_floor(search.field.survey, joints, search.field.settings.envelope[:2])
    except TooWide:
        return []
    ends = seams.stations.tolist()
    return [
        RankedPlan(
            stations=tuple(joint.station for joint in joints),
            kinds=tuple(joint.kind for joint in joints),
            engagements=tuple(joint.engagement for joint in joints),
            lengths=tuple(high - low for low, high in pairwise(ends)),
            score=score,
        )
    ]
