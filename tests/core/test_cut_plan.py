"""The planner against closed forms, an exhaustive search and rules written a second time.

The exhaustive search is exact, not a sample: where every length of a case is a
multiple of half a millimetre, so is every end of every feasible stretch, and a
plan exists if and only if one exists on that grid.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from borewright.core.errors import BadSetting, CoreError, NoPlan, TooWide, WallTooThin
from borewright.core.jointing.joint_design import (
    shortest_engagement,
    usual_engagement,
)
from borewright.core.planning.cut_plan import key_angle, plan_cuts
from borewright.core.planning.cut_score import some_chain
from borewright.core.planning.cut_search import search_cuts
from borewright.core.planning.floor_fit import points_between
from borewright.core.planning.seam_reach import seam_windows
from borewright.core.values import (
    FIT_SLACK,
    OTHER,
    Cut,
    Frame,
    Joint,
    Mesh,
    Ornament,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
)
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.surveys import a_box, a_survey, design_joint, with_surfaces

ROUND_OFF = 1e-6
LAND_AND_GAP = 1.0
"""Zone over the engagement, mm, of a straight bore: 0.2 of axial gap and 0.8 of land."""

FIFE_HOLES = (
    (96.0, 7.0),
    (122.0, 8.0),
    (147.0, 7.5),
    (196.0, 7.0),
    (221.0, 8.5),
    (247.0, 6.5),
    (312.0, 10.0),
)
BED = (180.0, 180.0, 180.0)


def a_part(
    length: float = 352.0,
    holes: Sequence[tuple[float, float]] = (),
    *,
    bore: tuple[float, float] = (14.2, 14.2),
    outside: tuple[float, float] = (21.4, 21.4),
    ornaments: Sequence[Ornament] = (),
    section: tuple[float, float] = (21.4, 21.4),
) -> Survey:
    """A part as the survey tells it: diameters at the low and high end, holes all at 0 degrees."""
    return a_survey(
        mesh=a_box(*section, length),
        labels=np.full(12, OTHER),
        frame=Frame(np.zeros(3), np.eye(3)),
        length=length,
        bore=_cone(bore, length),
        outside=_cone(outside, length),
        side_holes=tuple(a_hole(station, width) for station, width in holes),
        ornaments=tuple(ornaments),
        wall_least=(min(outside) - max(bore)) / 2.0,
        wall_median=(sum(outside) - sum(bore)) / 4.0,
    )


def _cone(diameters: tuple[float, float], length: float) -> RoundSurface:
    low, high = diameters
    return RoundSurface(low / 2.0, (high - low) / 2.0 / length, 0.0, length)


def a_hole(station: float, width: float, angle: float = 0.0) -> SideHole:
    half = width / 2.0
    return SideHole(station, angle, width, width, station - half, station + half)


def fife() -> Survey:
    return a_part(352.0, FIFE_HOLES)


def stations(plan: Plan) -> list[float]:
    return [cut.station for cut in plan.cuts]


# --- the rules, written a second time --------------------------------------------------


def broken_rules(survey: Survey, settings: Settings, joints: Sequence[Joint]) -> list[str]:
    """Every rule that a chain of joints breaks, checked joint by joint and piece by piece."""
    broken = []
    for joint in joints:
        low, top = joint.station, joint.roof_top
        design_joint(  # raises where the wall or the tip forbids the joint
            survey.bore,
            survey.outside,
            low,
            joint.engagement,
            settings.clearance,
            settings.least_wall,
            joint.key.angle,
        )
        start = max(survey.bore.start, survey.outside.start, 0.0) + 1.0
        stop = min(survey.bore.stop, survey.outside.stop, survey.length) - 1.0
        if low < start - ROUND_OFF or top > stop + ROUND_OFF:
            broken.append(f"end at {low}")
        broken += [
            f"hole {hole.station} at {low}"
            for hole in survey.side_holes
            if max(hole.low - top, low - hole.high) < settings.guard - ROUND_OFF
        ]
        broken += [
            f"ornament {ornament.start} at {low}"
            for ornament in survey.ornaments
            if _is_disturbed(ornament, joint, settings)
        ]
    lows = [0.0, *(joint.station for joint in joints)]
    tops = [*(joint.tip for joint in joints), survey.length]
    for low, top in zip(lows, tops, strict=True):
        if top - low > settings.envelope[2] + FIT_SLACK + ROUND_OFF:
            broken.append(f"height {top - low} at {low}")
    for below, above in pairwise(joints):
        if above.station < below.roof_top + 1.0 - ROUND_OFF:
            broken.append(f"joints meet at {above.station}")
    return broken


def _is_disturbed(ornament: Ornament, joint: Joint, settings: Settings) -> bool:
    apart = max(ornament.start - joint.roof_top, joint.station - ornament.stop)
    near = apart < settings.guard - ROUND_OFF
    if ornament.place == "bore":
        return near
    seam_apart = max(ornament.start - joint.station, joint.station - ornament.stop)
    needed = joint.socket_radius + joint.key.relief + settings.least_wall + 0.02
    too_deep = ornament.least_radius < needed - ROUND_OFF
    return seam_apart < 1.0 - ROUND_OFF or (near and too_deep)


# --- closed forms ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("length", "height", "engagement"),
    [
        (180.0, 180.0, 9.0),
        (181.0, 180.0, 9.0),
        (351.0, 180.0, 9.0),
        (351.5, 180.0, 9.0),
        (1000.0, 120.0, 10.0),
        (1110.0, 120.0, 10.0),
        (1110.5, 120.0, 10.0),
        (2000.0, 65.0, 12.5),
    ],
)
def test_plain_tube_needs_as_many_pieces_as_the_heights_less_tenons_say(
    length: float, height: float, engagement: float
) -> None:
    # n pieces reach (n - 1) (height - engagement) + height at the most
    pieces = max(1, math.ceil((length - engagement) / (height - engagement)))
    survey = a_part(length)
    plan = plan_cuts(survey, Settings((180.0, 180.0, height), engagement=engagement))
    assert len(plan.cuts) == pieces - 1
    gain, pitch = height - engagement, engagement + LAND_AND_GAP + 1.0
    for number, cut in enumerate(plan.cuts, start=1):
        left = pieces - 1 - number
        lowest = max(length - height - left * gain, 1.0 + (number - 1) * pitch)
        highest = min(number * gain, length - 1.0 - (pitch - 1.0) - left * pitch)
        assert cut.window == pytest.approx((lowest, highest), abs=1e-9)
        assert lowest - 1e-9 <= cut.station <= highest + 1e-9


def test_a_part_that_fits_is_not_cut_and_says_so() -> None:
    plan = plan_cuts(fife(), Settings((30.0, 30.0, 352.0)))
    assert plan.cuts == ()
    assert "352.00" in plan.remarks[0]
    assert "1 piece" in plan.remarks[0]


def test_lower_piece_of_the_long_tube_stands_159_47() -> None:
    # common practice, no source: a tube 204.47 long for a printer 200 high, seam 55
    # from its high end, 10 of engagement, bore 15.8 and outside 23.2
    survey = a_part(204.47, bore=(15.8, 15.8), outside=(23.2, 23.2))
    settings = Settings((200.0, 200.0, 200.0), engagement=10.0, cuts=(204.47 - 55.0,))
    plan = plan_cuts(survey, settings)
    assert stations(plan) == [204.47 - 55.0]
    assert plan.joints[0].tip == pytest.approx(159.47, abs=1e-9)
    assert "159.47" in plan.cuts[0].why
    middle = plan.joints[0].tenon_radius + plan.joints[0].socket_radius
    assert middle == pytest.approx(19.5, abs=1e-9)


def test_fife_needs_3_pieces_at_10_of_engagement_and_2_at_8() -> None:
    long = plan_cuts(fife(), Settings(BED, engagement=10.0))
    short = plan_cuts(fife(), Settings(BED, engagement=8.0))
    assert len(long.cuts) == 2
    # 352 - 180 = 172 = 180 - 8: one single station will do
    assert stations(short) == [172.0]
    assert short.cuts[0].window == (172.0, 172.0)
    assert {joint.engagement for joint in long.joints} == {10.0}


def test_fife_is_shortened_to_the_longest_engagement_that_saves_a_piece() -> None:
    plan = plan_cuts(fife(), Settings(BED))
    assert stations(plan) == [172.0]
    assert plan.joints[0].engagement == 8.0
    assert plan.remarks == (
        "Engagement shortened from 9.0 to 8.0 mm: 2 pieces instead of 3 pieces.",
    )


def test_engagement_is_not_shortened_where_it_saves_nothing() -> None:
    plan = plan_cuts(a_part(300.0), Settings(BED))
    assert plan.joints[0].engagement == usual_engagement(17.8) == 9.0
    assert plan.remarks == ()


def test_engagement_is_not_shortened_where_only_holes_ask_for_a_piece_more() -> None:
    # seams from 166 to 174 would make 2 pieces of 345, but a hole takes all of them
    plan = plan_cuts(a_part(345.0, [(171.0, 20.0)]), Settings(BED))
    assert {joint.engagement for joint in plan.joints} == {9.0}
    assert len(plan.cuts) == 2
    assert plan.remarks == ()


def test_engagement_is_shortened_no_further_than_the_trade_bears() -> None:
    # 353.5 in 180 asks for 6.5 = shortest_engagement(17.8); half a millimetre more is too much
    assert shortest_engagement(17.8) == 6.5
    assert len(plan_cuts(a_part(353.5), Settings(BED)).cuts) == 1
    assert len(plan_cuts(a_part(354.0), Settings(BED)).cuts) == 2


def test_a_single_station_between_two_holes_is_found() -> None:
    # zone 10 + 1, guard 2 on both sides: 15 between the edges leaves just one station
    edges = [(100.0, 20.0), (220.0, 190.0)]
    survey = a_part(352.0, edges)
    settings = Settings(BED, engagement=10.0)
    plan = plan_cuts(survey, replace(settings, envelope=(180.0, 180.0, 240.0)))
    assert stations(plan) == pytest.approx([112.0], abs=1e-9)
    assert plan.cuts[0].window == pytest.approx((112.0, 112.0), abs=1e-9)
    closed = replace(survey, side_holes=(a_hole(100.0, 20.002), survey.side_holes[1]))
    with pytest.raises(NoPlan):
        plan_cuts(closed, replace(settings, envelope=(180.0, 180.0, 240.0)))


@pytest.mark.parametrize("excess", [1e-9, 0.0004, 0.0019])
def test_slack_is_shared_by_both_pieces(excess: float) -> None:
    plan = plan_cuts(a_part(352.0 + 2.0 * excess), Settings(BED, engagement=8.0))
    assert stations(plan) == pytest.approx([172.0 + excess], abs=1e-6)
    below = plan.joints[0].tip
    above = 352.0 + 2.0 * excess - plan.cuts[0].station
    assert max(below, above) <= 180.0 + FIT_SLACK
    assert below == pytest.approx(above, abs=2e-6)


def test_more_than_the_slack_takes_another_piece() -> None:
    plan = plan_cuts(a_part(352.0 + 2.0 * FIT_SLACK + 1e-5), Settings(BED, engagement=8.0))
    assert len(plan.cuts) == 2


def test_slack_is_no_reason_to_pass_the_envelope_where_it_saves_no_piece() -> None:
    plan = plan_cuts(a_part(352.003, FIFE_HOLES), Settings(BED, engagement=10.0))
    assert len(plan.cuts) == 2
    assert all("envelope" not in remark for remark in plan.remarks)
    assert plan.cuts[0].window[1] == 170.0


# --- tapers ----------------------------------------------------------------------------


def chanter() -> Survey:
    """A tapered part: mid-wall diameter from 21 down to 11.5, usual engagement 10.5 to 6."""
    holes = [(70, 7), (92, 7), (114, 6), (121, 4.5), (150, 6), (172, 5.5), (194, 5)]
    return a_part(276.0, holes, bore=(16.0, 6.0), outside=(26.0, 17.0))


@pytest.mark.parametrize("height", [70.0, 80.0, 100.0, 150.0])
def test_each_joint_of_a_taper_has_the_usual_engagement_of_its_station(height: float) -> None:
    survey = chanter()
    settings = Settings((180.0, 180.0, height))
    plan = plan_cuts(survey, settings)
    assert broken_rules(survey, settings, plan.joints) == []
    if any("shortened" in remark for remark in plan.remarks):
        return
    for joint in plan.joints:
        diameter = survey.bore.radius_at(joint.station) + survey.outside.radius_at(joint.station)
        assert joint.engagement == usual_engagement(diameter)


def test_a_window_runs_on_where_the_engagement_changes() -> None:
    # mid-wall diameter 18.5 - z / 40: 13.5 to 18.5, so engagements from 9.5 to 7 by half a step
    survey = a_part(200.0, bore=(14.0, 9.0), outside=(23.0, 18.0))
    (cut,) = plan_cuts(survey, Settings((180.0, 180.0, 150.0))).cuts
    assert usual_engagement(18.5 - 142.5 / 40.0) == 7.5
    assert cut.window == pytest.approx((50.0, 142.5), abs=1e-9)


def test_wall_limit_on_a_taper_is_solved_not_sampled() -> None:
    # Bore 14.2, outside radius 8.0 + z / 100. The narrowest outside of a zone is at its
    # seam, so the wall, 0.9 + z / 100, reaches 2 (0.8 + 0.02) + 0.15 = 1.79 at z = 89.
    survey = a_part(200.0, outside=(16.0, 20.0))
    plan = plan_cuts(survey, Settings((180.0, 180.0, 190.0), engagement=8.0))
    assert plan.cuts[0].window[0] == pytest.approx(89.0, abs=1e-6)
    thin = Settings((180.0, 180.0, 190.0), engagement=8.0, cuts=(88.9,))
    with pytest.raises(NoPlan, match=r"wall 1\.79 mm at station 88\.90 mm.*--cut 89\b"):
        plan_cuts(survey, thin)


# --- ornaments -------------------------------------------------------------------------


def planned(survey: Survey, height: float, engagement: float = 8.0) -> Cut:
    """The one cut that a part needs, with its plan checked against the rules."""
    settings = Settings((180.0, 180.0, height), engagement=engagement)
    plan = plan_cuts(survey, settings)
    assert broken_rules(survey, settings, plan.joints) == []
    (cut,) = plan.cuts
    return cut


def test_zone_may_lie_under_a_ring_but_the_seam_keeps_1_mm_off_it() -> None:
    # 200 in 120 leaves seams from 80 to 112; the ring takes all from 84 - 1 to 112 + 1
    ring = Ornament(84.0, 112.0, 10.7, 14.0)
    assert planned(a_part(200.0, ornaments=[ring]), 120.0).window == pytest.approx((80.0, 83.0))


def test_zone_keeps_the_guard_from_a_recess_too_deep_for_the_socket() -> None:
    # a zone of 9 below a recess at 96 with a guard of 2 starts at 85 or lower
    deep = Ornament(96.0, 130.0, 9.2, 10.7)
    assert planned(a_part(200.0, ornaments=[deep]), 120.0).window == pytest.approx((80.0, 85.0))


def test_zone_may_lie_under_a_recess_that_leaves_the_socket_enough() -> None:
    # socket 8.975, key 0.5, least wall 0.8, facets 0.02: 10.295 is enough and 10.294 is not
    shallow = Ornament(96.0, 130.0, 10.295 + 1e-9, 10.7)
    assert planned(a_part(200.0, ornaments=[shallow]), 120.0).window == pytest.approx((80.0, 95.0))
    deeper = replace(shallow, least_radius=10.294)
    assert planned(a_part(200.0, ornaments=[deeper]), 120.0).window == pytest.approx((80.0, 85.0))


def test_zone_keeps_the_guard_from_a_step_in_the_bore() -> None:
    step = Ornament(96.0, 130.0, 7.5, 7.5, "bore")
    assert planned(a_part(200.0, ornaments=[step]), 120.0).window == pytest.approx((80.0, 85.0))


def test_zone_stays_within_the_round_bore_and_outside() -> None:
    survey = a_part(200.0)
    stopped = with_surfaces(survey, bore=RoundSurface(7.1, 0.0, 0.0, 100.0))
    # a zone of 9 ends 1 mm under the bore's end, or starts 1 mm over the outside's start
    assert planned(stopped, 120.0).window == pytest.approx((80.0, 90.0))
    blocked = with_surfaces(survey, outside=RoundSurface(10.7, 0.0, 90.0, 200.0))
    assert planned(blocked, 120.0).window == pytest.approx((91.0, 112.0))


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
        diameter = survey.bore.radius_at(station) + survey.outside.radius_at(station)
        usual, shortest = usual_engagement(diameter), shortest_engagement(diameter)
        for engagement in np.arange(min(usual, shortest), usual + 0.1, 0.5).tolist():
            joint = design_joint(survey.bore, survey.outside, station, engagement, 0.15, 0.8, 0.0)
            tall = replace(settings, envelope=(180.0, 180.0, survey.length))
            if not broken_rules(survey, tall, [joint]):
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


def pieces_of(survey: Survey, settings: Settings) -> float:
    """How many pieces; infinite where no plan exists. Every plan is checked."""
    try:
        plan = plan_cuts(survey, settings)
    except (NoPlan, WallTooThin):
        return math.inf
    assert broken_rules(survey, settings, plan.joints) == []
    for cut in plan.cuts:
        assert cut.window[0] <= cut.station <= cut.window[1]
    return len(plan.cuts) + 1


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


# --- what the user asks for ------------------------------------------------------------


def test_a_cut_insisted_on_is_made_though_the_part_fits() -> None:
    plan = plan_cuts(fife(), Settings((180.0, 180.0, 400.0), cuts=(166.123456789,)))
    assert stations(plan) == [166.123456789]
    assert plan.cuts[0].why.startswith("As asked")


def test_pieces_asked_for_are_made() -> None:
    for pieces in (1, 2, 3, 4, 5, 6):
        plan = plan_cuts(fife(), Settings(BED, pieces=pieces))
        assert len(plan.cuts) + 1 == max(2, pieces)
        assert broken_rules(fife(), Settings(BED), plan.joints) == []


def test_more_pieces_than_can_be_made_are_refused_with_the_number_that_can() -> None:
    # a plain tube of 100: seams from 1, each 6 + 1 + 1 over the last, the last zone ends at 99
    survey, settings = a_part(100.0), Settings(BED, engagement=6.0)
    most = math.floor((99.0 - 7.0 - 1.0) / 8.0) + 2
    assert len(plan_cuts(survey, replace(settings, pieces=most)).cuts) + 1 == most
    with pytest.raises(NoPlan, match=rf"{most} pieces at the most.*--pieces {most} or fewer"):
        plan_cuts(survey, replace(settings, pieces=most + 1))
    with pytest.raises(NoPlan, match=rf"{most} pieces at the most"):
        plan_cuts(survey, replace(settings, pieces=10**9))


@pytest.mark.parametrize("pieces", [0, -3])
def test_fewer_than_one_piece_is_refused(pieces: int) -> None:
    with pytest.raises(BadSetting, match=f"--pieces {pieces}"):
        plan_cuts(fife(), Settings(BED, pieces=pieces))


@pytest.mark.parametrize("cut", [-1.0, 0.0, 352.0, 400.0])
def test_a_cut_beyond_the_part_is_refused(cut: float) -> None:
    with pytest.raises(BadSetting, match=r"0 and 352\.00 mm"):
        plan_cuts(fife(), Settings(BED, cuts=(cut,)))


@pytest.mark.parametrize(
    ("cut", "told"),
    [
        # hole 147 has edges at 143.25 and 150.75; a zone of 6.5 + 1
        (147.0, r"overlaps the side holes at 143\.25 to 150\.75 mm by 3\.75 mm.*--cut 152\.75"),
        (151.25, r"lies 0\.50 mm from the side holes at 143\.25.*guard of 2\.00 mm.*--cut 152\.75"),
        (183.5, r"183\.50 to 191\.00 mm lies 1\.50 mm from the side holes.*--cut 183,"),
        (0.5, r"0\.00 to 352\.00.*1\.0 mm off the part's ends.*--cut 1,"),
        (351.0, r"1\.0 mm off the part's ends.*--cut 343\.5,"),
    ],
)
def test_an_impossible_cut_names_rule_amount_and_nearest_station(cut: float, told: str) -> None:
    with pytest.raises(NoPlan, match=told):
        plan_cuts(fife(), Settings(BED, cuts=(cut,)))


def test_a_cut_in_a_ring_names_it_and_the_nearest_station() -> None:
    ring = Ornament(84.0, 112.0, 10.7, 14.0)
    with pytest.raises(NoPlan, match=r"from 84\.00 to 112\.00 mm.*1\.00 mm off.*--cut 83,"):
        plan_cuts(a_part(200.0, ornaments=[ring]), Settings(BED, cuts=(90.0,)))


def test_two_cuts_whose_joints_would_meet_are_refused() -> None:
    # shortest engagement 6.5: zone 7.5, and 1 mm between joints
    settings = Settings(BED, cuts=(160.0, 168.0))
    with pytest.raises(NoPlan, match=r"8\.00 mm apart.*8\.50 mm.*--cut 168\.5,"):
        plan_cuts(fife(), settings)
    assert stations(plan_cuts(fife(), Settings(BED, cuts=(160.0, 168.5))))[:2] == [160.0, 168.5]


def test_the_same_cut_twice_is_one_cut() -> None:
    plan = plan_cuts(fife(), Settings(BED, cuts=(166.0, 166.0), engagement=10.0))
    assert stations(plan).count(166.0) == 1


# --- refusals --------------------------------------------------------------------------


def refused(survey: Survey, settings: Settings) -> CoreError:
    with pytest.raises(CoreError) as caught:
        plan_cuts(survey, settings)
    return caught.value


def holed_through() -> Survey:
    """Holes 10 wide every 20 mm from 45 to 305: 10 between edges, 6 with the guard off."""
    return a_part(352.0, [(45.0 + 20.0 * number, 10.0) for number in range(14)])


def test_holes_all_the_way_are_named_with_gap_and_need() -> None:
    problem = refused(holed_through(), Settings(BED))
    assert isinstance(problem, NoPlan)
    # the last seam that can be reached is 30.5: its zone of 7.5 ends 2 under the hole at 40
    assert "between 39.00 and 204.00 mm" in problem.found
    assert "side holes" in problem.found
    assert "wider than 6.00 mm" in problem.found
    assert "7.50 mm" in problem.needed
    assert "6.50 mm engagement" in problem.needed


def test_each_remedy_for_holes_works_and_half_of_it_does_not() -> None:
    survey, settings = holed_through(), Settings(BED)
    problem = refused(survey, settings)
    guard = re.search(r"--guard ([\d.]+)", problem.remedy)
    height = re.search(r"an envelope ([\d.]+) mm high", problem.remedy)
    assert guard and height
    # 10 between edges less a zone of 7.5 leaves 1.25 of guard; 352 - 310 - 2 = 40 over the holes
    assert float(guard[1]) == 1.2
    assert pieces_of(survey, replace(settings, guard=1.2)) < math.inf
    assert pieces_of(survey, replace(settings, guard=1.3)) == math.inf
    assert (
        pieces_of(survey, replace(settings, envelope=(180.0, 180.0, float(height[1])))) < math.inf
    )
    lower = float(height[1]) - 0.1
    assert pieces_of(survey, replace(settings, envelope=(180.0, 180.0, lower))) == math.inf


def test_shorter_engagement_is_named_where_it_would_do() -> None:
    # 8.5 of engagement and a guard of 2 ask for 13.5 between edges; 13 are there
    holes = [(45.0 + 20.0 * number, 7.0) for number in range(15)]
    problem = refused(a_part(352.0, holes), Settings(BED, engagement=8.5))
    assert "--engagement 8.0" in problem.remedy
    assert "13" not in problem.found.split("wider than")[1][:4]
    assert pieces_of(a_part(352.0, holes), Settings(BED, engagement=8.0)) < math.inf


def test_a_wall_too_thin_everywhere_is_refused_with_wall_need_and_remedies() -> None:
    # bore 14.2, outside 17.7: wall 1.75 where 2 (0.8 + 0.02) + 0.15 = 1.79 is needed
    survey, settings = a_part(352.0, outside=(17.7, 17.7)), Settings(BED)
    problem = refused(survey, settings)
    assert isinstance(problem, WallTooThin)
    assert "wall 1.75 mm" in problem.found
    assert "1.79 mm" in problem.needed
    # 1.75 - 1.64 = 0.11 of clearance, and (1.75 - 0.15) / 2 - 0.02 = 0.78 of least wall, are
    # the limits; the first lies on one, so round-off may ask for a hundredth less
    clearance = re.search(r"--clearance ([\d.]+)", problem.remedy)
    least_wall = re.search(r"--least-wall ([\d.]+)", problem.remedy)
    assert clearance and float(clearance[1]) in {0.10, 0.11}
    assert least_wall and float(least_wall[1]) in {0.77, 0.78}
    assert pieces_of(survey, replace(settings, clearance=float(clearance[1]))) < math.inf
    assert pieces_of(survey, replace(settings, least_wall=float(least_wall[1]))) < math.inf


def test_a_tenon_too_short_for_its_tip_is_refused_with_the_length_that_would_do() -> None:
    # bore 2, outside 40: tenon radius 10.425, land 0.8, cone 8.625, and 2 parallel
    survey = a_part(352.0, bore=(2.0, 2.0), outside=(40.0, 40.0))
    problem = refused(survey, Settings(BED, engagement=8.0))
    assert isinstance(problem, WallTooThin)
    assert "-0.62 mm parallel" in problem.found
    assert "2.00 mm parallel" in problem.needed
    assert "--engagement 11.0" in problem.remedy
    assert pieces_of(survey, Settings(BED, engagement=11.0)) < math.inf
    assert pieces_of(survey, Settings(BED, engagement=10.5)) == math.inf


def test_an_envelope_lower_than_two_joints_is_refused_with_a_height_that_would_do() -> None:
    problem = refused(a_part(100.0), Settings((180.0, 180.0, 12.0), engagement=9.0))
    assert isinstance(problem, NoPlan)
    # seams 11 apart at the least, and 9 of tenon
    assert "20.00 mm" in problem.needed
    height = re.search(r"an envelope ([\d.]+) mm high", problem.remedy)
    assert height and float(height[1]) == 20.0


def test_a_ring_from_end_to_end_is_named() -> None:
    ring = Ornament(5.0, 195.0, 10.7, 14.0)
    problem = refused(a_part(200.0, ornaments=[ring]), Settings((180.0, 180.0, 120.0)))
    assert isinstance(problem, NoPlan)
    # the highest seam under the ring is at 4: zone 7.5 and 1 mm over it, 120 - 6.5 at the most
    assert "between 12.50 and 117.50 mm" in problem.found
    assert "from 5.00 to 195.00 mm" in problem.found
    assert "an envelope 196.0 mm high" in problem.remedy


def test_a_round_stretch_too_short_for_a_joint_is_named() -> None:
    survey = with_surfaces(a_part(200.0), outside=RoundSurface(10.7, 0.0, 100.0, 105.0))
    problem = refused(survey, Settings((180.0, 180.0, 120.0)))
    assert isinstance(problem, NoPlan)
    assert "from 100.00 to 105.00 mm" in problem.found


def test_a_section_wider_than_the_floor_is_refused() -> None:
    with pytest.raises(TooWide, match=r"200\.00 x 21\.40 mm"):
        plan_cuts(a_part(section=(200.0, 21.4)), Settings((120.0, 120.0, 180.0)))


def test_a_section_that_fits_when_turned_is_taken() -> None:
    # 160 x 10 turned by 45 degrees is (160 + 10) / sqrt(2) = 120.2 both ways
    survey = a_part(section=(160.0, 10.0))
    assert plan_cuts(survey, Settings((120.3, 120.3, 180.0))).cuts
    with pytest.raises(TooWide):
        plan_cuts(survey, Settings((120.1, 120.1, 180.0)))


# --- which of the feasible seams -------------------------------------------------------


def test_a_seam_between_two_holes_lies_in_the_middle() -> None:
    # holes end at 90 and start at 130: a zone of 10 is farthest from both at 105
    survey = a_part(220.0, [(85.0, 10.0), (135.0, 10.0)])
    plan = plan_cuts(survey, Settings((180.0, 180.0, 120.0), engagement=9.0))
    assert stations(plan) == [105.0]


def test_a_plain_tube_is_cut_into_even_lengths() -> None:
    plan = plan_cuts(a_part(500.0), Settings(BED))
    assert np.diff([0.0, *stations(plan), 500.0]) == pytest.approx(500.0 / 3.0, abs=0.7)


def test_a_seam_is_hidden_at_the_foot_of_a_ring_that_is_near() -> None:
    # even lengths would have it at 100; at 1 to 2 mm from the ring it does not show
    ring = Ornament(106.0, 112.0, 10.7, 14.0)
    assert 104.0 <= planned(a_part(200.0, ornaments=[ring]), 120.0).station <= 105.0


@pytest.mark.parametrize("height", [45.0, 70.0, 80.0, 100.0])
def test_the_chain_that_every_choice_starts_from_holds_together(height: float) -> None:
    search = search_cuts(chanter(), Settings((180.0, 180.0, height)))
    assert search is not None
    windows = seam_windows(search.ground, search.levels, search.height)
    chain = some_chain(search.ground, windows, search.height)
    tips = chain.stations + search.ground.engagement[chain.home]
    tops = chain.stations + search.ground.zone_at(chain.stations, chain.home)
    assert (tips[1:] - chain.stations[:-1] <= height + FIT_SLACK).all()
    assert (chain.stations[1:] >= tops[:-1] + 1.0 - ROUND_OFF).all()
    assert (chain.stations[0], chain.stations[-1]) == (0.0, 276.0)


@pytest.mark.parametrize("height", [63.0, 97.3, 151.0])
def test_free_seams_lie_on_1024ths_of_a_millimetre(height: float) -> None:
    plan = plan_cuts(fife(), Settings((180.0, 180.0, height), engagement=7.3))
    assert len(plan.cuts) >= 2
    for cut in plan.cuts:
        if cut.window[1] - cut.window[0] > 1.0 / 1024.0:
            assert (cut.station * 1024.0).is_integer()


def test_the_reason_tells_distances_heights_and_wall() -> None:
    (cut,) = plan_cuts(fife(), Settings(BED)).cuts
    for words in (
        "21.25 mm above the hole at 147.00",
        "11.50 mm below the hole at 196.00",
        "180.00 of 180.00 mm",
        "wall is 3.60 mm",
    ):
        assert words in cut.why


def test_the_same_part_gives_the_same_plan() -> None:
    settings = Settings((180.0, 180.0, 70.0))
    assert plan_cuts(chanter(), settings) == plan_cuts(chanter(), settings)


# --- the key ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("angles_deg", "key_deg"),
    [
        ([], 0.0),
        ([0.0], 180.0),
        ([90.0], -90.0),
        ([0.0, 90.0], -135.0),
        ([170.0, -170.0], 0.0),
        ([0.0, 180.0], 90.0),
        ([0.0, 0.0, 90.0], 180.0),
    ],
)
def test_key_lies_opposite_the_two_nearest_holes(angles_deg: list[float], key_deg: float) -> None:
    holes = [
        a_hole(90.0 + 20.0 * number, 5.0, math.radians(angle))
        for number, angle in enumerate(angles_deg)
    ]
    turn = key_angle(tuple(holes), 100.0) - math.radians(key_deg)
    assert math.cos(turn) == pytest.approx(1.0, abs=1e-9)


def test_every_joint_of_a_plan_has_its_key_opposite_the_holes() -> None:
    for joint in plan_cuts(fife(), Settings(BED, engagement=10.0)).joints:
        assert joint.key.angle == math.pi


def test_a_gap_that_is_barely_too_narrow_is_told_with_enough_digits() -> None:
    from borewright.core.planning.rule_words import _told_apart

    assert _told_apart(9.4, 13.0) == ("9.40", "13.00")
    assert _told_apart(14.4997, 14.5002) == ("14.4997", "14.5002")
    assert _told_apart(14.499, 14.502) == ("14.499", "14.502")


# --- the floor, piece by piece ---------------------------------------------------------


def winged(gap: tuple[float, float], length: float = 352.0) -> Survey:
    """A block 100 x 20 up to the gap and one 20 x 100 above it, on a neck 20 x 20."""
    low, high = gap
    blocks = [(100.0, 20.0, 0.0, low), (20.0, 20.0, low, high), (20.0, 100.0, high, length)]
    meshes = [a_box(x, y, stop - start) for x, y, start, stop in blocks]
    moved = [
        mesh.vertices + np.array([0.0, 0.0, start])
        for mesh, (_, _, start, _) in zip(meshes, blocks, strict=True)
    ]
    mesh = Mesh(np.vstack(moved), np.vstack([m.triangles + 8 * k for k, m in enumerate(meshes)]))
    return replace(
        a_part(length), mesh=mesh, labels=np.full(36, OTHER), numbers=np.zeros(36, np.int64)
    )


def test_pieces_that_fit_the_floor_are_made_though_the_whole_part_would_not() -> None:
    # 352 in 180 is cut at 172 and nowhere else
    plan = plan_cuts(winged((171.0, 173.0)), Settings((110.0, 30.0, 180.0), engagement=8.0))
    assert stations(plan) == [172.0]
    # not the other way round: with the seam within the lower block the upper piece has both
    with pytest.raises(TooWide, match=r"piece 2, stations 172\.00 to 352\.00 mm, of 100\.00 x 100"):
        plan_cuts(winged((173.0, 175.0)), Settings((110.0, 30.0, 180.0), engagement=8.0))


def test_more_pieces_are_tried_where_that_makes_them_fit_the_floor() -> None:
    # one cut has to lie from 172 to 172 for 2 pieces; the neck is at 120
    survey, settings = winged((115.0, 125.0)), Settings((110.0, 30.0, 180.0), engagement=8.0)
    plan = plan_cuts(survey, settings)
    assert len(plan.cuts) == 2
    assert any(115.0 <= station <= 125.0 for station in stations(plan))
    assert "3 pieces, as 2 would not all fit the floor" in plan.remarks[-1]
    assert broken_rules(survey, settings, plan.joints) == []


def test_the_floor_that_a_refusal_names_does_for_all_pieces() -> None:
    survey, settings = winged((173.0, 175.0)), Settings((30.0, 60.0, 180.0), engagement=8.0)
    problem = refused(survey, settings)
    assert isinstance(problem, TooWide)
    words = problem.remedy.split()
    floor = float(words[3]), float(words[5])
    assert plan_cuts(survey, replace(settings, envelope=(*floor, 180.0))).cuts


@pytest.mark.parametrize("up", [1.0, -1.0])
@pytest.mark.parametrize(("low", "high"), [(-math.inf, 50.0), (50.0, 60.0), (60.0, math.inf)])
def test_a_piece_is_as_wide_as_the_part_between_its_stations(
    low: float, high: float, up: float
) -> None:
    # a pyramid on its base or its tip: how wide the square is grows evenly from 0 to 2
    foot = 50.0 - 50.0 * up
    corners = [[-1, -1, foot], [1, -1, foot], [1, 1, foot], [-1, 1, foot], [0, 0, 100.0 - foot]]
    faces = [[0, 2, 1], [0, 3, 2], [0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]]
    points = points_between(Mesh(np.array(corners), np.array(faces)), low, high)
    widest = 2.0 - 2.0 * (max(low, 0.0) if up > 0.0 else 100.0 - min(high, 100.0)) / 100.0
    assert np.ptp(points, axis=0) == pytest.approx([widest, widest])
