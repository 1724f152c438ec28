"""The planner against closed forms: how many pieces, which windows, which seams, which key."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.errors import NoPlan
from borewright.core.jointing.joint_design import shortest_engagement, usual_engagement
from borewright.core.planning.cut_plan import key_angle, plan_cuts
from borewright.core.planning.cut_search import search_cuts
from borewright.core.planning.seam_choice import some_chain
from borewright.core.planning.seam_reach import seam_windows
from borewright.core.values import FIT_SLACK, Ornament, RoundSurface, Settings

from tests.round_parts import (
    BED,
    FIFE_HOLES,
    LAND_AND_GAP,
    ROUND_OFF,
    a_hole,
    a_part,
    broken_rules,
    chanter,
    fife,
    planned,
    stations,
)
from tests.surveys import with_surfaces

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
    assert plan.joints[0].highest == pytest.approx(159.47, abs=1e-9)
    assert "159.47" in plan.cuts[0].why
    middle = plan.joints[0].tenon.tenon_radius + plan.joints[0].tenon.socket_radius
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
    below = plan.joints[0].highest
    above = 352.0 + 2.0 * excess - plan.cuts[0].station
    assert max(below, above) <= 180.0 + FIT_SLACK
    assert below == pytest.approx(above, abs=2e-6)
    told = [remark for remark in plan.remarks if "by up to" in remark]
    assert len(told) == (excess > 1e-4)  # what would read as 0.0000 mm is not worth a word
    assert all(f"by up to {excess:.4f} mm" in remark for remark in told)


def test_more_than_the_slack_takes_another_piece() -> None:
    plan = plan_cuts(a_part(352.0 + 2.0 * FIT_SLACK + 1e-5), Settings(BED, engagement=8.0))
    assert len(plan.cuts) == 2


def test_slack_is_no_reason_to_pass_the_envelope_where_it_saves_no_piece() -> None:
    plan = plan_cuts(a_part(352.003, FIFE_HOLES), Settings(BED, engagement=10.0))
    assert len(plan.cuts) == 2
    assert all("envelope" not in remark for remark in plan.remarks)
    assert plan.cuts[0].window[1] == 170.0


# --- tapers ----------------------------------------------------------------------------


@pytest.mark.parametrize("height", [70.0, 80.0, 100.0, 150.0])
def test_each_joint_of_a_taper_has_the_usual_engagement_of_its_station(height: float) -> None:
    survey = chanter()
    settings = Settings((180.0, 180.0, height))
    plan = plan_cuts(survey, settings)
    assert broken_rules(survey, settings, plan.joints) == []
    if any("shortened" in remark for remark in plan.remarks):
        return
    for joint in plan.joints:
        diameter = survey.bore.radius_at(joint.station) + survey.outsides[0].radius_at(
            joint.station
        )
        assert joint.engagement == usual_engagement(diameter)


def test_a_window_runs_on_where_the_engagement_changes() -> None:
    # mid-wall diameter 18.5 - z / 40: 13.5 to 18.5, so engagements from 9.5 to 7 by half a step
    survey = a_part(200.0, bore=(14.0, 9.0), outside=(23.0, 18.0))
    (cut,) = plan_cuts(survey, Settings((180.0, 180.0, 150.0))).cuts
    assert usual_engagement(18.5 - 142.5 / 40.0) == 7.5
    assert cut.window == pytest.approx((50.0, 142.5), abs=1e-9)


def test_wall_limit_on_a_taper_is_solved_not_sampled() -> None:
    # Bore 14.2, outside radius 8.5 + z / 100. The narrowest outside of a zone is at its
    # seam, so the wall, 1.4 + z / 100, reaches 2 (0.8 + 0.02) + 0.15 + 0.5 = 2.29 at z = 89.
    survey = a_part(200.0, outside=(17.0, 21.0))
    settings = Settings((180.0, 180.0, 190.0), engagement=8.0, joint="tenon")
    plan = plan_cuts(survey, settings)
    assert plan.cuts[0].window[0] == pytest.approx(89.0, abs=1e-6)
    thin = replace(settings, cuts=(88.9,))
    with pytest.raises(NoPlan, match=r"wall 2\.29 mm at station 88\.90 mm.*--cut 89\b"):
        plan_cuts(survey, thin)


# --- ornaments -------------------------------------------------------------------------


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
        "3.60 mm of it where 2.29 are needed",
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
        assert joint.tenon.keys[0].angle == math.pi


def test_a_gap_that_is_barely_too_narrow_is_told_with_enough_digits() -> None:
    from borewright.core.planning.rule_words import told_apart

    assert told_apart(9.4, 13.0) == ("9.40", "13.00")
    assert told_apart(14.4997, 14.5002) == ("14.4997", "14.5002")
    assert told_apart(14.499, 14.502) == ("14.499", "14.502")
