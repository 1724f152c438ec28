"""Seams over several walls, stepped, ledged and eccentric ones, against rules in plain loops."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.errors import NoPlan, WallTooThin
from borewright.core.jointing.joint_design import CutPlace, usual_engagement
from borewright.core.jointing.wall_run import wall_runs
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.seam_stretches import SeamField, Stretch, seam_stretches
from borewright.core.planning.ways import joint_at
from borewright.core.values import Settings, Survey, WallStretch

from tests.surveys import a_walled_survey
from tests.walled_parts import (
    BED,
    cone,
    diameter_at,
    is_fine,
    ledged,
    plain_joint,
    random_walls,
    stepped,
    walls_at,
)


def home_of(stretches: list[Stretch], station: float) -> Stretch | None:
    return next((s for s in stretches if s.low <= station <= s.high), None)


@pytest.mark.parametrize("seed", range(120))
def test_a_station_lies_in_a_stretch_if_and_only_if_every_rule_holds_there(seed: int) -> None:
    survey, settings = random_walls(seed)
    stretches = seam_stretches(survey, settings)
    ends = [end for stretch in stretches for end in (stretch.low, stretch.high)]
    for station in np.random.default_rng(seed).uniform(0.0, survey.length, 300).tolist():
        if any(abs(station - end) < 1e-6 for end in ends):
            continue
        home = home_of(stretches, station)
        engagement = settings.engagement or usual_engagement(diameter_at(survey, station))
        assert (home is not None) == is_fine(survey, settings, station, engagement), station
        if home is not None:
            assert home.engagement == engagement
            joint = plain_joint(survey, settings, station, engagement)
            assert joint is not None
            assert station + home.zone_at(station) == pytest.approx(joint.top, abs=1e-9)


@pytest.mark.parametrize("seed", range(120))
def test_a_stretch_ends_where_a_rule_begins_to_break(seed: int) -> None:
    survey, settings = random_walls(seed)
    stretches = seam_stretches(survey, settings)
    field = SeamField(survey, settings)
    for stretch in stretches:
        for end in (stretch.low, stretch.high):
            line = field.line(stretch.way, stretch.engagement)
            joint_at(line, end, CutPlace(0, 1, 0.0))
        for station in (stretch.low - 1e-6, stretch.high + 1e-6):
            if home_of(stretches, station) is None and walls_at(survey, station):
                engagement = settings.engagement or usual_engagement(diameter_at(survey, station))
                assert not is_fine(survey, settings, station, engagement)


def test_the_random_parts_have_and_lack_stretches() -> None:
    counts = {kind: [0, 0] for kind in ("two", "one")}
    for seed in range(120):
        found = seam_stretches(*random_walls(seed))
        counts["two" if seed % 3 == 0 else "one"][min(len(found), 1)] += 1
    assert min(*counts["two"], *counts["one"]) >= 3
    assert counts["two"][1] >= 10


# --- closed forms ----------------------------------------------------------------------


def spans_of(survey: Survey, engagement: float = 8.0) -> list[tuple[float, float]]:
    found = seam_stretches(survey, Settings(BED, engagement=engagement))
    return [(pytest.approx(s.low, abs=1e-6), pytest.approx(s.high, abs=1e-6)) for s in found]


def test_no_zone_lies_over_a_step_of_the_bore() -> None:
    # zones of 8 + 0.2 + 0.8 end 1 mm under the step at 100, and 1 mm under the high end
    assert spans_of(stepped(4.0, 4.0)) == [(1.0, 90.0), (101.0, 190.0)]


def test_a_zone_over_a_ledge_outside_counts_the_thinner_wall() -> None:
    # both are thick enough, so the ledge is no obstacle; one joint line runs over it
    (run,) = wall_runs(ledged(4.0, 3.0))
    assert run.walls == (0, 1)
    assert spans_of(ledged(4.0, 3.0)) == [(1.0, 190.0)]
    field = SeamField(ledged(4.0, 3.0), Settings(BED))
    walls = field.line(0, 8.0).wall(np.array([90.999, 91.001, 99.0, 101.0]))
    assert walls == pytest.approx([4.0, 3.0, 3.0, 3.0])


def test_a_ledge_onto_too_thin_a_wall_is_an_obstacle_from_both_sides() -> None:
    # 2.29 is needed, over 9 above the seam
    assert spans_of(ledged(4.0, 2.2, 3.0, steps=(80.0, 120.0))) == [(1.0, 71.0), (120.0, 190.0)]


def test_walls_with_a_gap_between_them_are_kept_apart() -> None:
    survey = ledged(4.0, 3.0)
    first, second = survey.walls
    apart = replace(survey, walls=(replace(first, stop=95.0), second))
    assert len(wall_runs(apart)) == 2
    assert spans_of(apart) == [(1.0, 85.0), (101.0, 190.0)]


def test_the_joint_tells_its_wall_and_its_bore() -> None:
    plan = plan_cuts(stepped(4.0, 3.0), Settings(BED, engagement=8.0, cuts=(50.0, 150.0)))
    below, above = (joint.tenon for joint in plan.joints)
    assert (below.wall, below.bores, below.bore_radius_at_tip) == (0, (0,), 7.0)
    assert (above.wall, above.bores, above.bore_radius_at_tip) == (1, (1,), 8.0)
    assert "50.00 mm above the low end" in plan.cuts[0].why
    assert "41.00 mm below the end of its stretch of wall at 100.00" in plan.cuts[0].why
    assert "50.00 mm above the start of its stretch of wall at 100.00" in plan.cuts[1].why
    assert "41.00 mm below the high end" in plan.cuts[1].why
    assert "4.00 mm of it where 2.29 are needed" in plan.cuts[0].why
    assert "3.00 mm of it where 2.29 are needed" in plan.cuts[1].why
    ledge = plan_cuts(ledged(4.0, 3.0), Settings(BED, engagement=8.0, cuts=(50.0, 150.0)))
    assert [joint.tenon.wall for joint in ledge.joints] == [0, 1]


def test_a_seam_keeps_off_a_step_as_off_an_end() -> None:
    # windows from 80 to 112; zones of 9 end or start 25 from the ends and the step, or farther
    plan = plan_cuts(
        stepped(4.0, 4.0, steps=(96.0,)), Settings((180.0, 180.0, 120.0), engagement=8.0)
    )
    (joint,) = plan.joints
    assert joint.zone[1] <= 96.0 - 5.0 or joint.station >= 96.0 + 5.0


def test_an_eccentric_bore_off_the_axis_has_the_wall_between_the_two_centre_lines() -> None:
    # bore 7 about (3, 0), outside 12 about (3, 0.4): the wall is thinnest by 0.4, wherever the axis
    bore = cone(7.0, 7.0, 0.0, 200.0, (3.0, 0.0))
    outer = cone(12.0, 12.0, 0.0, 200.0, (3.0, 0.4))
    survey = a_walled_survey([bore], [WallStretch((0,), bore, outer, 0.0, 200.0)], 200.0)
    plan = plan_cuts(survey, Settings((180.0, 180.0, 120.0), engagement=8.0))
    assert "4.60 mm of it where 2.29 are needed" in plan.cuts[0].why
    assert plan.joints[0].tenon.centres == ((3.0, 0.0),)
    assert plan.joints[0].tenon.tenon_radius == pytest.approx((7.0 + 11.6 - 0.15) / 2.0)


# --- fewest pieces ---------------------------------------------------------------------


def fewest_on_a_grid(survey: Survey, settings: Settings) -> float:
    """Fewest pieces with seams on a grid of 0.5 mm, by the plain rules."""
    assert settings.engagement is not None
    tenon, height = settings.engagement, settings.envelope[2]
    grid = [
        (station, joint.top)
        for station in np.arange(0.5, survey.length, 0.5).tolist()
        if (joint := plain_joint(survey, settings, station, tenon))
        and is_fine(survey, settings, station, tenon)
    ]
    low, top = np.array(grid).reshape(-1, 2).T
    follow = (low[None] + tenon - low[:, None] <= height) & (low[None] >= top[:, None] + 1.0)
    level, pieces = low + tenon <= height, 2
    if survey.length <= height:
        return 1
    while level.any():
        if (level & (survey.length - low <= height)).any():
            return pieces
        level, pieces = follow[level].any(axis=0), pieces + 1
    return math.inf


def test_no_grid_finds_fewer_pieces_over_several_walls() -> None:
    equal, finite = 0, 0
    for seed in range(40):
        survey, settings = random_walls(seed)
        height = float(np.random.default_rng(seed).uniform(40.0, 120.0))
        tenon = settings.engagement or 9.0
        settings = replace(settings, envelope=(180.0, 180.0, height), engagement=tenon)
        try:
            pieces: float = len(plan_cuts(survey, settings).cuts) + 1
        except (NoPlan, WallTooThin):
            pieces = math.inf
        on_grid = fewest_on_a_grid(survey, settings)
        assert pieces <= on_grid
        equal += pieces == on_grid
        finite += on_grid < math.inf
    assert equal >= 36
    assert 8 <= finite <= 36
