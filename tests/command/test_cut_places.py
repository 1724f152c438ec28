"""Where a cut that a person moves may lie: what is said there is what the planner then does."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from borewright.addon.surveys.cut_places import CutPlaces, places_for_another, places_of
from borewright.core.errors import CoreError, TooWide
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.values import Plan, Settings, Survey

from tests.exhaustive_plans import random_case
from tests.round_parts import a_part, fife, stations

TALL = (180.0, 180.0, 250.0)


def cut_plans(count: int) -> Iterator[tuple[Survey, Settings, Plan]]:
    """Random parts that are cut, with their plans."""
    for seed in range(count):
        case = random_case(seed)
        try:
            plan = plan_cuts(case.survey, case.settings)
        except CoreError:
            continue
        if plan.cuts:
            yield case.survey, case.settings, plan


def planned_with(survey: Survey, settings: Settings, station: float) -> Plan | None:
    """The plan with a cut insisted on; None: there is none."""
    cuts = tuple(sorted({*settings.cuts, station}))
    try:
        return plan_cuts(survey, replace(settings, cuts=cuts))
    except TooWide:
        pytest.skip("not a matter of stations")
    except CoreError:
        return None


def rest_of(settings: Settings, plan: Plan, number: int) -> Settings:
    """The settings without a word on one cut of the plan."""
    moved = plan.cuts[number].station
    return replace(settings, cuts=tuple(cut for cut in settings.cuts if cut != moved))


def test_a_cut_may_lie_just_where_the_planner_makes_as_many_pieces_with_it() -> None:
    """Of parts with one cut that is all there is to it: no other cut could take its place."""
    asked = free = 0
    for survey, settings, plan in cut_plans(60):
        if len(plan.cuts) != 1:
            continue
        places = places_of(survey, settings, plan, 0)
        rest = rest_of(settings, plan, 0)
        for station in np.linspace(1.0, survey.length - 1.0, 9).tolist():
            made = planned_with(survey, rest, station)
            holds = made is not None and len(made.cuts) == 1
            assert places.is_free(station) == holds, (station, places.spans)
            assert (places.reason(station) is None) == holds
            asked, free = asked + 1, free + holds
    assert free > 15
    assert asked - free > 15


def test_where_any_cut_is_brought_the_planner_keeps_it_and_its_pieces() -> None:
    moved = 0
    for survey, settings, plan in cut_plans(20):
        for number in range(len(plan.cuts)):
            places = places_of(survey, settings, plan, number)
            for wished in np.linspace(0.0, survey.length, 4).tolist():
                station = places.snap(wished)
                assert station is not None  # where it is now it may stay
                assert station == float(np.float32(station))  # a property of Blender's holds it
                made = planned_with(survey, rest_of(settings, plan, number), station)
                assert made is not None, (station, places.spans)
                assert station in stations(made)
                assert len(made.cuts) <= len(plan.cuts)
                moved += 1
    assert moved > 30


def test_a_station_that_is_free_is_taken_as_it_is_and_any_other_nearest() -> None:
    survey, settings = fife(), Settings(TALL)
    places = places_of(survey, settings, plan_cuts(survey, settings), 0)
    (low, high), *_ = places.spans
    assert high - low > 1.0
    middle = (low + high) / 2.0
    assert places.snap(middle) == pytest.approx(middle, abs=1.0 / 2048.0)
    assert places.snap(0.0) == pytest.approx(low, abs=1.0 / 1024.0)
    for wished in np.arange(0.0, 352.0, 0.73).tolist():
        snapped = places.snap(wished)
        nearest = min((min(max(wished, low), high) for low, high in places.spans),
                      key=lambda one, wished=wished: abs(one - wished))  # fmt: skip
        assert snapped == pytest.approx(nearest, abs=1.0 / 1024.0)
        assert places.is_free(snapped)


def test_reasons_name_the_hole_the_height_and_the_cut_that_are_in_the_way() -> None:
    survey, settings = fife(), Settings(TALL)
    places = places_of(survey, settings, plan_cuts(survey, settings), 0)
    # the third hole of seven, at 147 and 7.5 wide
    assert "Side hole 3 at 147.00 mm" in str(places.reason(147.0))
    # 352 less 250 leaves 102: any cut lower and the piece above is too tall
    assert str(places.reason(60.0)) == "The piece above would be taller than 250.00 mm"
    assert str(places.reason(280.0)) == "The piece below would be taller than 250.00 mm"
    assert str(places.reason(-3.0)) == "The part ends at 0 and at 352.00 mm"
    kept = replace(settings, cuts=(172.5,), pieces=3)
    plan = plan_cuts(survey, kept)
    number = 1 - stations(plan).index(172.5)
    beyond = 180.0 if number == 0 else 165.0
    told = str(places_of(survey, kept, plan, number).reason(beyond))
    assert told == "The seam at 172.50 mm is insisted on and keeps its place"


def test_cuts_insisted_on_stay_and_are_not_passed() -> None:
    survey = a_part(600.0)
    settings = Settings((180.0, 180.0, 200.0), cuts=(300.0,))
    plan = plan_cuts(survey, settings)
    middle = stations(plan).index(300.0)
    assert 0 < middle < len(plan.cuts) - 1
    for number in range(len(plan.cuts)):
        places = places_of(survey, settings, plan, number)
        low, high = places.spans[0][0], places.spans[-1][1]
        if number < middle:
            assert high < 300.0
        elif number > middle:
            assert low > 300.0
        else:
            assert low < 300.0 < high


def test_a_cut_keeps_its_place_in_the_order() -> None:
    """Three cuts of a part that needs none, the first insisted on: the second stays above it."""
    survey = a_part(900.0)
    settings = Settings((180.0, 180.0, 950.0), cuts=(150.0,), pieces=4)
    plan = plan_cuts(survey, settings)
    assert stations(plan)[0] == 150.0
    assert len(plan.cuts) == 3
    assert places_of(survey, settings, plan, 1).spans[0][0] > 150.0


def test_every_cut_has_places_of_its_own() -> None:
    """600 mm in three pieces of 220: the first cut is under 220, the second over 600 - 220."""
    survey, settings = a_part(600.0), Settings((180.0, 180.0, 220.0))
    plan = plan_cuts(survey, settings)
    first, second = (places_of(survey, settings, plan, number).spans for number in (0, 1))
    assert first[-1][1] < 220.0
    assert second[0][0] > 600.0 - 220.0 - 1e-2


def test_a_further_cut_goes_to_the_middle_of_the_widest_stretch_left() -> None:
    survey = a_part(300.0)
    tall = Settings((180.0, 180.0, 400.0))
    places = places_for_another(survey, tall)
    (only,) = places.spans
    assert places.widest_middle() == pytest.approx(sum(only) / 2.0, abs=1.0 / 1024.0)
    beside = places_for_another(survey, replace(tall, cuts=(100.0,)))
    assert len(beside.spans) == 2  # below the cut that stays, and above it
    middle = beside.widest_middle()
    assert middle is not None
    assert 150.0 < middle < 250.0
    assert not beside.is_free(100.0)


def test_where_no_cut_can_lie_the_refusal_has_the_reason() -> None:
    survey = a_part(300.0, outside=(15.0, 15.0))  # a wall of 0.4 mm
    places = CutPlaces(survey, Settings(TALL), None, 2, None, None)
    assert places.spans == ()
    assert places.snap(150.0) is None
    assert places.widest_middle() is None
    refused = places.refusal(150.0)
    assert "no seam can lie at 150.00 mm: The wall" in refused.found
    assert refused.needed and refused.remedy
