"""The station map and the best plans as a record and as lines of a table."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.plan_survey import PlanSurvey, survey_plans
from borewright.core.recording.plan_record import (
    plan_lines,
    plans_entry,
    station_lines,
    stations_entry,
)
from borewright.core.values import Lean, Ornament, Plan, Settings

from tests.round_parts import BED, a_part, fife


def surveyed(settings: Settings) -> PlanSurvey:
    return survey_plans(fife(), settings, plan_cuts(fife(), settings))


AVOIDING = Settings(BED, engagement=10.0, avoid=((100.0, 130.0),))


def test_the_entry_of_stations_is_the_whole_part_in_order() -> None:
    entry = stations_entry(surveyed(AVOIDING).stations)
    assert json.loads(json.dumps(entry)) == entry
    ends = [(stretch["from"], stretch["to"]) for stretch in entry]
    assert (ends[0][0], ends[-1][1]) == (0.0, 352.0)
    assert [high for _, high in ends[:-1]] == [low for low, _ in ends[1:]]
    assert entry[0] == {
        "from": 0.0,
        "to": 1.0,
        "open": False,
        "kinds": [],
        "engagement": None,
        "cuts": [],
        "rules": [],
        "why_not": "within 1.00 mm of the low end",
    }
    assert entry[2] == {
        "from": 2.0,
        "to": 79.5,
        "open": True,
        "kinds": ["tenon"],
        "engagement": [10.0, 10.0],
        "cuts": [0],
        "rules": [],
        "why_not": None,
    }


def test_the_entry_of_plans_has_every_term_of_the_score() -> None:
    plans = surveyed(AVOIDING).plans
    entry = plans_entry(plans)
    assert json.loads(json.dumps(entry)) == entry
    assert len(entry) == 3
    score = entry[0]["score"]
    assert isinstance(score, dict)
    terms = ["distance", "wall", "hidden", "preferred", "collars", "evenness"]
    assert list(score) == ["total", *terms]
    assert score["total"] == pytest.approx(sum(score[term] for term in terms))
    lengths = entry[0]["lengths"]
    assert isinstance(lengths, list)
    assert sum(lengths) == pytest.approx(352.0)


def test_the_lines_tell_joints_and_reasons_stretch_by_stretch() -> None:
    lines = station_lines(surveyed(AVOIDING).stations)
    assert lines[:4] == [
        "    from      to  a seam",
        "    0.00    1.00  none: within 1.00 mm of the low end",
        "    1.00    2.00  tenon, engagement 10 mm",
        "    2.00   79.50  tenon, engagement 10 mm; seam 1 can lie here",
    ]
    assert "  101.50  105.00  none: --avoid 100-130" in lines
    assert max(map(len, "\n".join(lines).split("\n"))) <= 96


def test_long_reasons_go_on_under_their_own_beginning() -> None:
    survey = a_part(300.0, ornaments=[Ornament(130.0, 140.0, 9.2, 10.7)])
    settings = Settings((180.0, 180.0, 400.0))
    found = survey_plans(survey, settings, plan_cuts(survey, settings)).stations
    wrapped = next(line for line in station_lines(found) if "\n" in line)
    assert all(line.startswith(" " * 18) for line in wrapped.split("\n")[1:])


def test_the_lines_of_plans_leave_out_terms_that_none_has() -> None:
    lines = plan_lines(surveyed(AVOIDING).plans)
    assert lines[0] == "  plan  score  distance  wall  uneven"
    assert [line.split()[0] for line in lines[1:4]] == ["1", "2", "3"]
    assert lines[4].startswith("  plan 1 has seams at ")
    assert "The first is the one made." in lines[-1]
    preferring = plan_lines(surveyed(Settings(BED, engagement=10.0, prefer=(110.0,))).plans)
    assert "preferred" in preferring[0]


def test_a_lone_plan_is_told_to_be_the_only_one() -> None:
    lines = plan_lines(surveyed(Settings(BED)).plans)
    assert lines[1].split()[0] == "1"
    assert "No other plan of as many pieces" in lines[-1].replace("\n  ", " ")


def test_a_part_that_fits_has_one_plan_without_cuts() -> None:
    found = surveyed(Settings((180.0, 180.0, 400.0)))
    assert plan_lines(found.plans) == ["  one only: no seams"]
    assert [plan.stations for plan in found.plans] == [()]
    assert plans_entry(found.plans)[0]["lengths"] == [352.0]


def test_a_part_that_leans_has_a_map_and_no_plans() -> None:
    leaning = Plan((), (), lean=Lean(0.3, 0.0, 0.0))
    found = survey_plans(fife(), Settings(BED), leaning)
    assert found.plans == ()
    assert found.stations.stretches[-1].high == 352.0
    assert plan_lines(found.plans) == ["  one only: no seams"]


def test_a_part_without_any_wall_has_a_map_all_the_same() -> None:
    survey = replace(a_part(100.0), walls=())
    settings = Settings(BED)
    found = survey_plans(survey, settings, plan_cuts(survey, settings))
    assert station_lines(found.stations)[1:] == [
        "  0.00  100.00  none: no wall there, and nothing solid, that a joint could be made in"
    ]
