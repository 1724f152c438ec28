"""The fewest pieces against an exhaustive search, a grid, and what must follow when eased.

The exhaustive search is exact, not a sample: where every length of a case is a
multiple of half a millimetre, so is every end of every feasible stretch, and a
plan exists if and only if one exists on that grid.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.errors import NoPlan
from borewright.core.jointing.joint_design import shortest_engagement, usual_engagement
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.values import Settings, Survey
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.round_parts import LAND_AND_GAP, a_part, broken_rules, pieces_of, stations
from tests.surveys import design_tenon, joint_of

# --- exhaustive search -----------------------------------------------------------------

STEP = 0.25
"""Half of the grid on which all ends lie: what is between two ends shows, too."""


class Exhaustive:
    """Every plan of a straight part whose lengths are all multiples of 0.5 mm."""

    def __init__(self, survey: Survey, settings: Settings) -> None:
        assert settings.engagement is not None
        tenon, height, length = settings.engagement, settings.envelope[2], survey.length
        zone = tenon + LAND_AND_GAP
        grid = np.arange(1.0, length - 1.0 - zone + STEP / 2.0, STEP)
        clear = np.ones(len(grid), bool)
        for hole in survey.side_holes:
            under = grid + zone <= hole.low - settings.guard
            clear &= under | (grid >= hole.high + settings.guard)
        self.stations = grid[clear]
        low, high = self.stations[:, None], self.stations[None, :]
        self.first = self.stations + tenon <= height
        self.last = length - self.stations <= height
        self.follow = (high + tenon - low <= height) & (high >= low + zone + 1.0)
        for cut in settings.cuts:
            self.first &= self.stations <= cut
            self.last &= self.stations >= cut
            self.follow &= (low >= cut) | (high <= cut)
        self.whole = length <= height and not settings.cuts and (settings.pieces or 1) == 1
        self.levels = [] if self.whole else self._climb((settings.pieces or 1) - 1)

    def _climb(self, least: int) -> list[NDArray[np.bool_]]:
        """The stations that can be the 1st, 2nd ... cut; one of the last list is the last cut."""
        levels = [self.first]
        while levels[-1].any():
            if len(levels) >= least and (levels[-1] & self.last).any():
                return levels
            levels.append(self.follow[levels[-1]].any(axis=0))
        return []

    @property
    def pieces(self) -> int | None:
        if self.whole:
            return 1
        return len(self.levels) + 1 if self.levels else None

    def windows(self) -> list[set[float]]:
        """For each cut the stations that some plan of the fewest pieces has."""
        kept, found = self.last, []
        for level in self.levels[::-1]:
            kept = kept & level
            found.append(set(self.stations[kept].tolist()))
            kept = self.follow[:, kept].any(axis=1)
        return found[::-1]


def random_case(seed: int) -> tuple[Survey, Settings]:
    rng = np.random.default_rng(seed)
    length = float(rng.integers(120, 300)) / 2.0
    holes = [
        (float(rng.integers(2, int(length) - 2)), float(rng.integers(1, 9)))
        for _ in range(rng.integers(0, 7))
    ]
    settings = Settings(
        envelope=(180.0, 180.0, float(rng.integers(50, 220)) / 2.0),
        engagement=float(rng.integers(12, 18)) / 2.0,
        guard=float(rng.integers(0, 5)) / 2.0,
        pieces=int(rng.integers(2, 5)) if rng.random() < 0.2 else None,
        cuts=(float(rng.integers(20, int(length) - 20)),) if rng.random() < 0.25 else (),
    )
    return a_part(length, holes), settings


@pytest.mark.parametrize("seed", range(150))
def test_piece_count_and_windows_are_those_of_the_exhaustive_search(seed: int) -> None:
    survey, settings = random_case(seed)
    every = Exhaustive(survey, settings)
    if every.pieces is None:
        with pytest.raises(NoPlan):
            plan_cuts(survey, settings)
        return
    plan = plan_cuts(survey, settings)
    assert len(plan.cuts) + 1 == every.pieces
    assert broken_rules(survey, settings, plan.joints) == []
    assert set(settings.cuts) <= set(stations(plan))
    for cut, window in zip(plan.cuts, every.windows(), strict=True):
        low, high = cut.window
        inside = {station for station in window if low - STEP < station < high + STEP}
        count = round((high - low) / STEP) + 1
        assert inside == {low + STEP * number for number in range(count)}


def test_the_random_cases_are_of_every_kind() -> None:
    pieces = [Exhaustive(*random_case(seed)).pieces for seed in range(150)]
    assert {None, 1, 2, 3, 4} <= set(pieces)
    assert 15 <= pieces.count(None) <= 75


@pytest.mark.parametrize("seed", range(0, 150, 5))
def test_both_ends_of_every_window_can_be_insisted_on(seed: int) -> None:
    survey, settings = random_case(seed)
    try:
        plan = plan_cuts(survey, settings)
    except NoPlan:
        assert Exhaustive(survey, settings).pieces is None
        return
    for cut in plan.cuts:
        for end in cut.window:
            insisted = replace(settings, cuts=(*settings.cuts, end))
            other = plan_cuts(survey, insisted)
            assert end in stations(other)
            assert len(other.cuts) == len(plan.cuts)
            assert broken_rules(survey, insisted, other.joints) == []


def fewest_on_a_grid(survey: Survey, settings: Settings) -> float:
    """Fewest pieces of a taper with seams on a grid of 0.5 mm and any engagement allowed."""
    joints = []
    for station in np.arange(1.0, survey.length, 0.5).tolist():
        bore, outside = survey.bore, survey.outsides[0]
        diameter = bore.radius_at(station) + outside.radius_at(station)
        usual, shortest = usual_engagement(diameter), shortest_engagement(diameter)
        for engagement in np.arange(min(usual, shortest), usual + 0.1, 0.5).tolist():
            joint = design_tenon(
                survey.bore, survey.outsides[0], station, engagement, 0.15, 0.8, 0.0
            )
            tall = replace(settings, envelope=(180.0, 180.0, survey.length))
            if not broken_rules(survey, tall, [joint_of(joint)]):
                joints.append(joint)
    low = np.array([joint.station for joint in joints])
    tip, roof = (np.array([getattr(j, name) for j in joints]) for name in ("tip", "roof_top"))
    height = settings.envelope[2]
    follow = (tip[None, :] - low[:, None] <= height) & (low[None, :] >= roof[:, None] + 1.0)
    level, pieces = tip <= height, 2
    while level.any():
        if (level & (survey.length - low <= height)).any():
            return pieces
        level, pieces = follow[level].any(axis=0), pieces + 1
    return math.inf


def test_no_grid_finds_fewer_pieces_on_a_taper_whatever_the_engagements() -> None:
    rng, equal, finite = np.random.default_rng(7), 0, 0
    for _ in range(12):
        holes = [(float(z), 6.0) for z in rng.uniform(5.0, 155.0, 5)]
        bore, outside = ((w, w - float(rng.uniform(1.0, 7.0))) for w in (16.0, 27.0))
        survey = a_part(160.0, holes, bore=bore, outside=outside)
        settings = Settings((180.0, 180.0, float(rng.uniform(45.0, 90.0))))
        pieces, on_grid = pieces_of(survey, settings), fewest_on_a_grid(survey, settings)
        assert pieces <= on_grid
        equal += pieces == on_grid
        finite += pieces < math.inf
    assert min(equal, finite) >= 9


# --- what must follow when something is eased ------------------------------------------

HALVES = st.integers(0, 8).map(lambda steps: steps / 2.0)
HOLES = st.lists(st.tuples(st.floats(5.0, 245.0), st.floats(1.0, 12.0)), min_size=0, max_size=8)
quick = hypothesis_settings(max_examples=40, deadline=None, derandomize=True)


@quick
@given(HOLES, st.floats(60.0, 200.0), HALVES, HALVES)
def test_more_guard_never_makes_for_fewer_pieces(
    holes: list[tuple[float, float]], height: float, guard: float, more: float
) -> None:
    survey = a_part(250.0, holes)
    settings = Settings((180.0, 180.0, height), guard=guard)
    assert pieces_of(survey, settings) <= pieces_of(survey, replace(settings, guard=guard + more))


@quick
@given(HOLES, st.floats(60.0, 200.0), st.floats(0.0, 60.0))
def test_a_taller_envelope_never_makes_for_more_pieces(
    holes: list[tuple[float, float]], height: float, more: float
) -> None:
    survey = a_part(250.0, holes, bore=(16.0, 9.0), outside=(26.0, 18.0))
    low, tall = (Settings((180.0, 180.0, z)) for z in (height, height + more))
    assert pieces_of(survey, tall) <= pieces_of(survey, low)


@quick
@given(HOLES, st.floats(60.0, 200.0))
def test_one_hole_less_never_makes_for_more_pieces(
    holes: list[tuple[float, float]], height: float
) -> None:
    settings = Settings((180.0, 180.0, height))
    bored = a_part(250.0, [*holes, (125.0, 9.0)])
    assert pieces_of(a_part(250.0, holes), settings) <= pieces_of(bored, settings)


@quick
@given(HOLES, st.floats(60.0, 200.0), st.integers(12, 30), st.integers(0, 10))
def test_a_longer_tenon_never_makes_for_fewer_pieces(
    holes: list[tuple[float, float]], height: float, halves: int, more: int
) -> None:
    survey = a_part(250.0, holes)
    short = Settings((180.0, 180.0, height), engagement=halves / 2.0)
    long = replace(short, engagement=(halves + more) / 2.0)
    assert pieces_of(survey, short) <= pieces_of(survey, long)


@quick
@given(HOLES, st.floats(60.0, 200.0), st.floats(20.0, 230.0))
def test_a_cut_insisted_on_is_kept_to_the_last_digit_or_refused(
    holes: list[tuple[float, float]], height: float, cut: float
) -> None:
    survey = a_part(250.0, holes)
    settings = Settings((180.0, 180.0, height), cuts=(cut,))
    free = pieces_of(survey, replace(settings, cuts=()))
    try:
        plan = plan_cuts(survey, settings)
    except NoPlan as problem:
        named = re.search(r"--cut ([\d.]+), the nearest", problem.remedy)
        if named:
            moved = replace(settings, cuts=(float(named[1]),))
            assert free <= pieces_of(survey, moved) < math.inf
        return
    assert cut in stations(plan)
    assert free <= len(plan.cuts) + 1
