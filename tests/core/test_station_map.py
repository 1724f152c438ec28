"""The station map: all of the part, once, and reasons that hold."""

from __future__ import annotations

from functools import cache
from itertools import pairwise

import numpy as np
import pytest
from borewright.core.jointing.joint_design import LEAST_ENGAGEMENT
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.plan_survey import survey_plans
from borewright.core.planning.seam_stretches import RULES, Rule, seam_stretches
from borewright.core.planning.station_map import MapStretch, StationMap, map_stations
from borewright.core.values import Ornament, Plan, RoundSurface, Settings, Survey

from tests.exhaustive_plans import random_case
from tests.round_parts import BED, a_part, chanter, fife
from tests.surveys import with_surfaces

THIN = (18.0, 18.0)
RECESSED = (
    "ornament 2 from 130.00 to 140.00 mm, 9.20 mm from the axis where 10.29 are needed, with "
    "2.00 mm of guard"
)
TALL = (180.0, 180.0, 400.0)

PARTS: dict[str, tuple[Survey, Settings]] = {
    "fife": (fife(), Settings(BED)),
    "fife, avoiding": (fife(), Settings(BED, avoid=((100.0, 130.0), (50.0, 60.0)), pieces=3)),
    "taper": (chanter(), Settings((180.0, 180.0, 100.0))),
    "thin at one end": (
        a_part(352.0, [(60.0, 8.0)], outside=(18.0, 20.0)),
        Settings(BED, avoid=((150.0, 200.0),)),
    ),
    "ornate": (
        a_part(
            300.0,
            ornaments=[
                Ornament(84.0, 112.0, 10.7, 14.0),
                Ornament(130.0, 140.0, 9.2, 10.7),
                Ornament(160.0, 163.0, 7.5, 7.5, "bore"),
            ],
        ),
        Settings(BED),
    ),
    "thick": (a_part(200.0, bore=(2.0, 2.0), outside=(24.0, 40.0)), Settings(TALL)),
    **{f"random {seed}": (case.survey, case.settings) for seed, case in
       ((seed, random_case(seed)) for seed in range(12))},
}  # fmt: skip

every_part = pytest.mark.parametrize("name", PARTS)


@cache
def mapped(name: str) -> StationMap:
    return map_stations(*PARTS[name], ())


def is_open(survey: Survey, settings: Settings, station: float, *dropped: Rule) -> bool:
    stretches = seam_stretches(survey, settings, LEAST_ENGAGEMENT, frozenset(dropped))
    return any(stretch.low <= station <= stretch.high for stretch in stretches)


@every_part
def test_the_map_tiles_the_part_exactly(name: str) -> None:
    stretches = mapped(name).stretches
    assert (stretches[0].low, stretches[-1].high) == (0.0, PARTS[name][0].length)
    for below, above in pairwise(stretches):
        assert below.high == above.low
    assert all(stretch.low < stretch.high for stretch in stretches if not stretch.is_open)


@every_part
def test_a_seam_may_lie_where_the_map_says_and_nowhere_else(name: str) -> None:
    survey, settings = PARTS[name]
    for stretch in mapped(name).stretches:
        for share in (0.02, 0.5, 0.98):
            station = stretch.low + share * (stretch.high - stretch.low)
            assert is_open(survey, settings, station) == stretch.is_open


@every_part
def test_all_rules_told_have_to_go_and_no_others(name: str) -> None:
    survey, settings = PARTS[name]
    for stretch in mapped(name).stretches:
        if stretch.is_open:
            continue
        station = (stretch.low + stretch.high) / 2.0
        if not stretch.rules:
            assert not is_open(survey, settings, station, *RULES)
            continue
        assert is_open(survey, settings, station, *stretch.rules)
        for rule in stretch.rules:
            fewer = [other for other in stretch.rules if other != rule]
            assert not is_open(survey, settings, station, *fewer)


@every_part
def test_neighbours_have_different_reasons(name: str) -> None:
    stretches = mapped(name).stretches
    for below, above in pairwise(stretches):
        told = [(one.kinds, one.cuts, one.reason) for one in (below, above)]
        assert told[0] != told[1]


def stretch_at(name: str, station: float) -> MapStretch:
    return next(s for s in mapped(name).stretches if s.low <= station <= s.high)


@pytest.mark.parametrize(
    ("name", "station", "low", "high", "reason"),
    [
        # zone 7.5 and guard 2 around the hole from 92.5 to 99.5
        ("fife", 96.0, 83.0, 101.5, "side hole 1 at 96.00 mm, with 2.00 mm of guard"),
        ("fife", 0.5, 0.0, 1.0, "within 1.00 mm of the low end"),
        ("fife", 350.0, 343.5, 352.0, "within 8.50 mm of the high end"),
        ("fife, avoiding", 55.0, 50.0, 60.0, "--avoid 50-60"),
        (
            "fife, avoiding",
            122.0,
            108.5,
            128.0,
            "side hole 2 at 122.00 mm, with 2.00 mm of guard; --avoid 100-130",
        ),
        (
            "taper",
            117.0,
            101.5,
            125.3,
            "side holes 3 at 114.00 and 4 at 121.00 mm, with 2.00 mm of guard",
        ),
        (
            "ornate",
            100.0,
            83.0,
            113.0,
            "ornament 1 from 84.00 to 112.00 mm on the outside, with 1.00 mm beside it",
        ),
        (
            # tenon and gap out to 8.975, rib 0.5, least wall 0.8, facets 0.02
            "ornate",
            125.0,
            120.5,
            129.0,
            RECESSED,
        ),
        (
            "ornate",
            160.0,
            150.5,
            165.0,
            "ornament 3 from 160.00 to 163.00 mm in the bore, with 2.00 mm of guard",
        ),
    ],
)
def test_the_reason_names_what_is_in_the_way(
    name: str, station: float, low: float, high: float, reason: str
) -> None:
    found = stretch_at(name, station)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.05)
    assert found.reason == reason


def test_a_thin_wall_is_told_with_what_is_needed() -> None:
    survey = a_part(200.0, outside=(17.0, 21.0))
    found = map_stations(survey, Settings(TALL, joint="tenon", engagement=8.0), ())
    thin = found.stretches[1]
    # 1.4 + z / 100 reaches 2.29 at 89
    assert (thin.low, thin.high) == pytest.approx((1.0, 89.0), abs=1e-6)
    assert thin.rules == ("wall",)
    assert thin.reason == "the wall, 1.41 to 2.29 mm, holds no tenon: 2.29 needed"


def test_a_tip_that_leaves_too_little_is_told_of_the_longest_engagement() -> None:
    tips = [one for one in mapped("thick").stretches if one.rules == ("tip",)]
    assert tips
    assert "parallel under the 45 degree tip: 2.00 mm parallel needed" in tips[0].reason


def test_a_collar_keeps_off_what_is_avoided() -> None:
    settings = Settings(TALL, avoid=((100.0, 120.0),), engagement=8.0)
    found = map_stations(a_part(200.0, outside=THIN), settings, ())
    closed = next(one for one in found.stretches if one.rules == ("avoid",))
    assert (closed.low, closed.high) == pytest.approx((92.0, 128.0))
    assert closed.reason == "--avoid 100-120, 8.00 mm off it for a collar"
    assert {one.kinds for one in found.stretches if one.is_open} == {("collar",)}


def test_near_an_end_of_a_thin_wall_both_tenon_and_collar_are_told() -> None:
    found = map_stations(a_part(200.0, outside=THIN), Settings(TALL, engagement=8.0), ())
    near = found.stretches[1]
    assert (near.low, near.high) == pytest.approx((1.0, 9.0))
    assert near.reason == (
        "the wall, 1.90 mm, holds no tenon: 2.29 needed; a collar has no room for the 8.00 mm that "
        "it covers each side"
    )


def test_stations_off_every_wall_are_told_as_such() -> None:
    survey = with_surfaces(a_part(200.0), outside=RoundSurface(10.7, 0.0, 50.0, 150.0))
    stretches = map_stations(survey, Settings(TALL), ()).stretches
    assert [one.reason for one in stretches if not one.is_open] == [
        "no wall there, and nothing solid, that a joint could be made in",
        "within 1.00 mm of the wall's start at 50.00 mm",
        "within 8.50 mm of the wall's end at 150.00 mm",
        "no wall there, and nothing solid, that a joint could be made in",
    ]


def test_a_wall_too_short_for_any_joint_is_told_as_such() -> None:
    survey = with_surfaces(a_part(200.0), outside=RoundSurface(10.7, 0.0, 50.0, 55.0))
    found = map_stations(survey, Settings(TALL), ()).stretches[1]
    assert found.reason == "its wall, from 50.00 to 55.00 mm, is too short for a joint"


def test_engagements_are_the_shortest_and_longest_that_may_be_taken() -> None:
    # usual for 17.8 is 9, shortest 6.5; just under a hole only the shortest has room
    (under,) = [one for one in mapped("fife").stretches if one.high == pytest.approx(83.0)]
    assert (under.kinds, under.engagement) == (("tenon",), (6.5, 9.0))
    given = map_stations(fife(), Settings(BED, engagement=8.0), ())
    assert {one.engagement for one in given.stretches} == {(8.0, 8.0), None}


@pytest.mark.parametrize("name", ["fife", "fife, avoiding", "taper", "thin at one end", "ornate"])
def test_the_map_tells_where_each_cut_can_lie(name: str) -> None:
    survey, settings = PARTS[name]
    plan: Plan = plan_cuts(survey, settings)
    found = survey_plans(survey, settings, plan).stations
    for number, cut in enumerate(plan.cuts):
        homes = [one for one in found.stretches if number in one.cuts]
        assert all(one.is_open for one in homes)
        ends = np.array([(one.low, one.high) for one in homes])
        assert (np.abs(ends[:, 0] - cut.window[0]) < 1e-6).any()
        assert (np.abs(ends[:, 1] - cut.window[1]) < 1e-6).any()
        assert any(one.low <= cut.station <= one.high for one in homes)


def test_a_cut_with_a_single_station_has_a_stretch_of_that_one() -> None:
    survey, settings = PARTS["fife"]
    found = survey_plans(survey, settings, plan_cuts(survey, settings)).stations
    homes = [(one.low, one.high) for one in found.stretches if one.cuts]
    assert homes == [(172.0, 172.0)]
