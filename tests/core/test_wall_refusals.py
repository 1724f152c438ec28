"""Refusals that speak of several walls, and whether what they tell to try works."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.errors import BadSetting, CoreError, NoPlan, WallTooThin
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.values import Mesh, Settings, SideHole, Survey

from tests.families.odd_outside import oval_tube
from tests.jobs import plan_surveyed
from tests.surveys import a_walled_survey
from tests.walled_parts import BED, cone, ledged, random_walls, stepped

# --- refusals --------------------------------------------------------------------------


def refused(survey: Survey, settings: Settings) -> CoreError:
    with pytest.raises(CoreError) as caught:
        plan_cuts(survey, settings)
    return caught.value


def test_walls_too_thin_are_told_stretch_by_stretch_the_thickest_first() -> None:
    survey = stepped(1.5, 1.7, 1.2, 1.6, steps=(50.0, 100.0, 150.0))
    problem = refused(survey, Settings((180.0, 180.0, 120.0)))
    assert isinstance(problem, WallTooThin)
    told = problem.found.split("; ")
    assert re.fullmatch(
        r"wall 1\.70 mm at the most, at station [\d.]+ mm, "
        r"on the stretch from 50\.00 to 100\.00 mm",
        told[0],
    )
    assert "wall 1.60 mm" in told[1]
    assert "wall 1.50 mm" in told[2]
    assert told[3] == "less on the other 1"
    assert "2.29 mm of wall for" in problem.needed


def test_the_thickest_wall_is_found_in_the_middle_of_a_run() -> None:
    problem = refused(ledged(1.5, 1.7, 1.4, steps=(50.0, 150.0)), Settings((180.0, 180.0, 120.0)))
    assert "wall 1.70 mm at the most" in problem.found
    station = float(re.search(r"station ([\d.]+)", problem.found)[1])  # type: ignore[index]
    assert 50.0 <= station <= 142.0


def test_a_part_without_any_wall_is_refused_and_fits_whole_if_it_fits() -> None:
    bore = cone(7.0, 7.0, 0.0, 200.0)
    survey = a_walled_survey([bore], [], 200.0)
    problem = refused(survey, Settings((180.0, 180.0, 120.0)))
    assert "nowhere a round bore with a wall around it" in problem.found
    assert "an envelope 200.0 mm high" in problem.remedy
    assert plan_cuts(survey, Settings((180.0, 180.0, 200.0))).cuts == ()


def test_stretches_too_short_for_a_joint_are_all_told() -> None:
    survey = stepped(4.0, 4.0, 4.0, steps=(8.0, 14.0), length=20.0)
    problem = refused(survey, Settings((180.0, 180.0, 15.0)))
    assert "from 0.00 to 8.00 mm, from 8.00 to 14.00 mm, from 14.00 to 20.00 mm" in problem.found
    assert isinstance(problem, NoPlan)


def test_a_cut_over_a_step_names_the_nearest_station_that_is_fine() -> None:
    problem = refused(stepped(4.0, 4.0), Settings(BED, engagement=8.0, cuts=(95.0,)))
    assert "from 0.00 to 100.00 mm" in problem.found
    assert "--cut 90," in problem.remedy


def test_holes_up_to_a_step_leave_a_gap_that_ends_there() -> None:
    # holes to 90 with the guard, then 9 up to 1 mm under the step; above it holes again
    survey = stepped(4.0, 4.0)
    holes = [(2.0, 88.0), (103.0, 198.0)]
    sides = tuple(
        SideHole((low + high) / 2.0, 0.0, high - low, high - low, low, high) for low, high in holes
    )
    blocked = replace(survey, side_holes=sides)
    settings = Settings((180.0, 180.0, 150.0), engagement=11.0)
    problem = refused(blocked, settings)
    assert "wider than 9.00 mm, from 90.00 to 99.00 mm" in problem.found
    assert "12.00 mm for a joint of 11.00 mm engagement" in problem.needed
    assert plan_cuts(blocked, replace(settings, engagement=8.0)).cuts


def test_rules_that_keep_seams_out_together_are_told_with_what_each_leaves() -> None:
    # seams up to 91 have wall enough, the hole leaves those from 92 on
    hole = SideHole(84.0, 0.0, 12.0, 12.0, 78.0, 90.0)
    survey = replace(ledged(4.0, 1.5), side_holes=(hole,))
    problem = refused(survey, Settings((180.0, 180.0, 120.0), engagement=8.0))
    # the highest seam under the hole is 67: the next is 10 above it or higher
    assert "wall 4.00 mm at the most" in problem.found
    assert "enough only from 77.00 to 91.00 mm" in problem.found
    assert "a clear stretch of 107.00 mm, from 92.00 to 199.00 mm" in problem.found


@pytest.mark.parametrize("height", [12.0, 14.0, 16.3])
@pytest.mark.parametrize("seed", range(6))
def test_the_height_that_is_needed_is_the_one_to_try_and_does(height: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    holes = tuple(
        SideHole(z, 0.0, 4.0, 4.0, z - 2.0, z + 2.0) for z in rng.uniform(10.0, 190.0, 2).tolist()
    )
    survey = replace(ledged(4.0, 3.0), side_holes=holes)
    settings = Settings((180.0, 180.0, height), engagement=9.0)
    problem = refused(survey, settings)
    needed = re.search(r"at least ([\d.]+) mm of height", problem.needed)
    tried = re.search(r"an envelope ([\d.]+) mm high", problem.remedy)
    assert tried
    assert plan_cuts(survey, replace(settings, envelope=(180.0, 180.0, float(tried[1])))).cuts
    if needed:
        assert float(needed[1]) == float(tried[1])


def test_an_envelope_for_the_whole_part_is_named_high_enough() -> None:
    bore = cone(7.0, 7.0, 0.0, 200.04)
    problem = refused(a_walled_survey([bore], [], 200.04), Settings(BED))
    assert "an envelope 200.1 mm high" in problem.remedy


def test_a_kind_that_the_section_cannot_have_is_refused_with_what_the_section_is() -> None:
    part = oval_tube()
    told = "--joint collar, where the part is a wall around one bore, its outside not round; needed"
    with pytest.raises(BadSetting, match=told):
        plan_surveyed(
            Mesh(part.vertices, part.triangles), "oval", Settings((*BED[:2], 100.0), joint="collar")
        )


# --- remedies --------------------------------------------------------------------------


def changed_by(remedy: str, settings: Settings) -> list[Settings]:
    """What a refusal tells to try, as settings."""
    dropped = {float(cut) for cut in re.findall(r"no --cut ([\d.]+)", remedy)}
    moved = re.search(r"(?<!no )--cut ([\d.]+), the nearest", remedy)
    alone = re.fullmatch(r"no --cut [\d.]+(, together with (.*))?", remedy)
    if moved:
        return []  # which of the cuts it stands for is in the words before it
    if alone:
        left = tuple(cut for cut in settings.cuts if float(f"{cut:g}") not in dropped)
        rest = replace(settings, cuts=left)
        return changed_by(alone[2], rest) if alone[2] else [rest]
    found = []
    for name in ("guard", "engagement", "clearance", "least_wall"):
        value = re.search(rf"--{name.replace('_', '-')} ([\d.]+)", remedy)
        found += [replace(settings, **{name: float(value[1])})] if value else []
    height = re.search(r"an envelope ([\d.]+) mm high(, without)?", remedy)
    if height:
        tall = replace(settings, envelope=(180.0, 180.0, float(height[1])))
        found.append(replace(tall, cuts=(), pieces=None) if height[2] else tall)
    return found


@pytest.mark.parametrize("seed", range(60))
def test_a_part_is_planned_or_refused_with_remedies_that_work(seed: int) -> None:
    rng = np.random.default_rng(seed)
    survey, settings = random_walls(seed)
    cuts = rng.uniform(1.0, survey.length - 1.0, rng.integers(1, 3)) if seed % 2 else ()
    settings = replace(
        settings,
        envelope=(180.0, 180.0, float(rng.uniform(20.0, 160.0))),
        cuts=tuple(float(cut) for cut in cuts),
    )
    try:
        plan_cuts(survey, settings)
    except CoreError as problem:
        for eased in changed_by(problem.remedy, settings):
            assert plan_cuts(survey, eased) is not None


def test_the_remedies_tried_are_many() -> None:
    tried = 0
    for seed in range(0, 60, 2):
        survey, settings = random_walls(seed)
        height = float(np.random.default_rng(seed).uniform(20.0, 160.0))
        try:
            plan_cuts(survey, replace(settings, envelope=(180.0, 180.0, height)))
        except CoreError as problem:
            tried += len(changed_by(problem.remedy, settings))
    assert tried >= 10
