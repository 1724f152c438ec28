"""The score of cuts against its formula, term by term, and what the weights are there for."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.cut_score import PlanScore, hiding_places
from borewright.core.planning.plan_survey import survey_plans
from borewright.core.values import Ornament, RoundSurface, Settings, Survey

from tests.round_parts import BED, a_part, fife, stations
from tests.surveys import with_surfaces

ONE_CUT = Settings((180.0, 180.0, 120.0), engagement=8.0)
"""Of a part of 200: seams from 80 to 112, zones of 9."""

THIN = (18.0, 18.0)


def score_at(survey: Survey, settings: Settings, *cuts: float) -> PlanScore:
    """The score of the plan with just these cuts."""
    asked = replace(settings, cuts=cuts)
    return survey_plans(survey, asked, plan_cuts(survey, asked)).plans[0].score


@pytest.mark.parametrize("station", [92.5, 95.0, 100.0, 108.0])
def test_distance_is_that_of_the_zone_from_the_nearest_hole(station: float) -> None:
    # holes end at 90 and start at 130
    survey = a_part(200.0, [(85.0, 10.0), (135.0, 10.0)])
    d = min(station - 90.0, 130.0 - (station + 9.0))
    score = score_at(survey, ONE_CUT, station)
    assert score.distance == pytest.approx(8.0 * d / (d + 10.0))


def test_distance_counts_no_further_than_25_mm() -> None:
    assert score_at(a_part(200.0), ONE_CUT, 90.0).distance == pytest.approx(8.0 * 25.0 / 35.0)


def test_wall_counts_against_what_the_joint_needs() -> None:
    # 3.6 mm where two walls of 0.82, 0.15 of clearance and 0.5 for a rib are needed
    score = score_at(a_part(200.0), ONE_CUT, 90.0)
    assert score.wall == pytest.approx(2.0 * 3.6 / (3.6 + 2.29))
    assert score.collars == 0.0


def test_a_collar_costs_four() -> None:
    score = score_at(a_part(200.0, outside=THIN), ONE_CUT, 90.0)
    assert score.collars == -4.0
    assert score.wall == pytest.approx(2.0 * 1.9 / (1.9 + 0.8))


def test_lengths_count_by_their_squares_off_the_mean() -> None:
    score = score_at(a_part(200.0), ONE_CUT, 90.0)
    assert score.evenness == pytest.approx(-8.0 * (0.1**2 + 0.1**2))
    assert score.total == pytest.approx(
        score.distance + score.wall + score.hidden + score.preferred + score.evenness
    )


@pytest.mark.parametrize(("off", "worth"), [(0.0, 0.5), (0.5, 0.375), (2.0, 0.0), (9.0, 0.0)])
def test_a_ring_hides_a_seam_at_its_foot(off: float, worth: float) -> None:
    # the nearest that a seam may come is 1 mm
    ring = Ornament(110.0, 112.0, 10.7, 14.0)
    score = score_at(a_part(200.0, ornaments=[ring]), ONE_CUT, 109.0 - off)
    assert score.hidden == pytest.approx(worth)


def test_a_ring_that_hardly_stands_out_hides_nothing() -> None:
    ring = Ornament(110.0, 112.0, 10.7, 11.1)
    assert score_at(a_part(200.0, ornaments=[ring]), ONE_CUT, 109.0).hidden == 0.0


@pytest.mark.parametrize(
    ("low_radius", "high_radius", "hidden"),
    [(14.0, 12.0, [101.0]), (12.0, 14.0, [99.0]), (12.0, 12.3, []), (12.0, 12.0, [])],
)
def test_a_step_hides_a_seam_at_its_foot_on_the_narrower_side(
    low_radius: float, high_radius: float, hidden: list[float]
) -> None:
    # a step is told as an ornament: its floor, which a seam keeps 1 mm off
    radii = sorted((low_radius, high_radius))
    below = RoundSurface(low_radius, 0.0, 0.0, 100.0)
    above = RoundSurface(high_radius, 0.0, 100.0, 200.0)
    survey = with_surfaces(a_part(200.0, ornaments=[Ornament(100.0, 100.0, *radii)]), outside=below)
    assert hiding_places(replace(survey, outsides=(below, above))).tolist() == hidden


@pytest.mark.parametrize(("off", "worth"), [(0.0, 16.0), (10.0, 64.0 / 7.0), (30.0, 32.0 / 11.0)])
def test_a_preferred_station_counts_by_the_distance_from_it(off: float, worth: float) -> None:
    settings = replace(ONE_CUT, prefer=(80.0, 500.0))
    score = score_at(a_part(200.0), settings, 80.0 + off)
    assert score.preferred == pytest.approx(worth)


def test_from_50_mm_on_a_preferred_station_is_not_felt() -> None:
    settings = replace(ONE_CUT, prefer=(30.0,))
    assert score_at(a_part(200.0), settings, 80.0).preferred == 0.0
    far = replace(ONE_CUT, prefer=(500.0,))
    assert stations(plan_cuts(a_part(200.0), far)) == stations(plan_cuts(a_part(200.0), ONE_CUT))


@pytest.mark.parametrize("at", [153.0, 160.0, 180.25])
def test_a_seam_lies_on_a_preferred_station_where_it_may(at: float) -> None:
    # also hard by a hole: the fife's ends at 150.75 and starts at 192.5, guard 2
    settings = Settings((180.0, 180.0, 200.0), prefer=(at,))
    assert stations(plan_cuts(fife(), settings)) == [at]


def test_a_preferred_station_in_a_hole_draws_the_seam_to_its_side() -> None:
    settings = Settings((180.0, 180.0, 200.0), prefer=(196.0,), engagement=9.0)
    (station,) = stations(plan_cuts(fife(), settings))
    (free,) = stations(plan_cuts(fife(), replace(settings, prefer=())))
    assert free < station


def test_preferred_stations_never_make_for_more_pieces() -> None:
    rng = np.random.default_rng(3)
    for _ in range(20):
        prefer = tuple(rng.uniform(0.0, 352.0, 3).tolist())
        plan = plan_cuts(fife(), Settings(BED, prefer=prefer))
        assert len(plan.cuts) == 1


def test_a_seam_goes_a_sixth_of_a_length_for_a_ring_and_no_farther() -> None:
    # two pieces of mean 100 off by x: 16 (x / 100)^2 is 0.5 at x = 17.7
    for start, moved in ((117.0, True), (120.0, False)):
        ring = Ornament(start, start + 3.0, 10.7, 14.0)
        settings = Settings((180.0, 180.0, 140.0), engagement=8.0)
        (station,) = stations(plan_cuts(a_part(200.0, ornaments=[ring]), settings))
        assert (abs(station - (start - 1.0)) < 1e-3) == moved
        assert math.sqrt(0.5 / 16.0) * 100.0 == pytest.approx(17.7, abs=0.03)
