"""Seams over several walls and around two bores, against the rules in plain loops.

The plain rules take one station at a time and know nothing of runs, parts or limits
that are linear; those of a joint around two bores are for cylinders and equal tapers,
where a tenon's ridge is known exactly.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import pytest
from borewright.core.errors import CoreError, NoPlan, WallTooThin
from borewright.core.jointing.hull import least_parameter
from borewright.core.jointing.joint_design import joint_on, usual_engagement
from borewright.core.jointing.wall_run import wall_runs
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.planning.seam_stretches import SeamField, Stretch, seam_stretches
from borewright.core.values import Ornament, RoundSurface, Settings, SideHole, Survey, WallStretch

from tests.surveys import a_walled_survey

BED = (180.0, 180.0, 180.0)


def cone(
    low: float, high: float, start: float, stop: float, offset: tuple[float, float] = (0.0, 0.0)
) -> RoundSurface:
    """A surface of these radii at its start and stop."""
    slope = (high - low) / (stop - start)
    return RoundSurface(low - slope * start, slope, start, stop, offset)


# --- the rules in plain loops ----------------------------------------------------------


@dataclass(frozen=True)
class PlainJoint:
    """A joint by the rules of one station: top of its zone, and radius that must be wall."""

    top: float
    needed: float


def walls_at(survey: Survey, station: float) -> list[WallStretch]:
    """The walls that a zone at a station may lie over: around the same bores, end to end."""
    here = [k for k, wall in enumerate(survey.walls) if wall.start <= station <= wall.stop]
    if not here:
        return []
    joined = [survey.walls[here[-1]]]
    for wall in survey.walls[here[-1] + 1 :]:
        last = joined[-1]
        if wall.bores != last.bores or wall.inner != last.inner or wall.start != last.stop:
            break
        joined.append(wall)
    return joined


def narrowest(walls: list[WallStretch], low: float, high: float) -> float:
    """Least outer radius about the bore from one station to another."""
    least = math.inf
    for number, wall in enumerate(walls):
        start = low if number == 0 else max(low, wall.start)
        stop = high if number == len(walls) - 1 else min(high, wall.stop)
        if start <= stop:
            apart = math.dist(wall.inner.offset, wall.outer.offset)
            ends = wall.outer.radius_at(start), wall.outer.radius_at(stop)
            least = min(least, min(ends) - apart)
    return least


def plain_joint(
    survey: Survey, settings: Settings, station: float, engagement: float
) -> PlainJoint | None:
    walls = walls_at(survey, station)
    if not walls:
        return None
    bores = [survey.bores[number] for number in walls[0].bores]
    first, two = bores[0], len(bores) == 2
    crest = 0.0
    if two:  # tapers of two bores are alike here, and unequal bores are cylinders
        slope = first.slope
        radii = np.array([bore.radius_at(station) for bore in bores])
        centres = np.array([bore.offset for bore in bores])
        crest = radii[0] - least_parameter(centres, radii)
        crest = (crest + slope * engagement) / (1.0 + slope)
    tip = station + engagement - crest
    bore = max(first.radius_at(station), first.radius_at(tip))
    outer = narrowest(walls, station, station + engagement + 0.2 + settings.least_wall)
    lw, gap = settings.least_wall + 0.02, settings.clearance
    relief = max(0.5, gap + 0.3)
    if outer - bore < 2.0 * lw + gap + (relief if two else 0.0):
        return None
    tenon = (bore + outer - gap) / 2.0
    has_rib = outer - tenon - gap >= relief + lw
    if two and not has_rib:
        tenon, has_rib = outer - gap - relief - lw, True
    at_tip = first.radius_at(tip)
    land = min(max(tenon - 0.5 - at_tip, 0.1), settings.least_wall)
    if tip - (tenon - at_tip - land) - station < 2.0:
        return None
    rise = (0.2 + land) / (1.0 if two else 1.0 + first.slope)
    axial = max(math.hypot(*b.offset) + b.radius_at(0) - first.radius_at(0) for b in bores)
    return PlainJoint(
        station + engagement + rise, axial + tenon + gap + (relief if has_rib else 0.0) + lw
    )


def is_fine(survey: Survey, settings: Settings, station: float, engagement: float) -> bool:
    joint = plain_joint(survey, settings, station, engagement)
    if joint is None:
        return False
    walls = walls_at(survey, station)
    first = survey.walls.index(walls[0])
    while first and survey.walls[first] in walls_at(survey, survey.walls[first - 1].start):
        first -= 1
    fine = station >= survey.walls[first].start + 1.0 and joint.top <= walls[-1].stop - 1.0
    for hole in survey.side_holes:
        fine &= max(hole.low - joint.top, station - hole.high) >= settings.guard
    for ornament in survey.ornaments:
        clear = max(ornament.start - joint.top, station - ornament.stop) >= settings.guard
        seam_apart = max(ornament.start - station, station - ornament.stop)
        fine &= seam_apart >= 1.0 and (clear or ornament.least_radius >= joint.needed)
    return fine


def diameter_at(survey: Survey, station: float) -> float:
    """Across the joint in mid wall, the long way."""
    wall = walls_at(survey, station)[0]
    bores = [survey.bores[number] for number in wall.bores]
    radii = [bore.radius_at(station) for bore in bores]
    outer = wall.outer.radius_at(station) - math.dist(wall.inner.offset, wall.outer.offset)
    long = math.dist(bores[0].offset, bores[-1].offset)
    return radii[0] + outer + long + radii[-1] - radii[0]


# --- random parts ----------------------------------------------------------------------


def random_walls(seed: int) -> tuple[Survey, Settings]:
    """Stepped bores, each with an outer surface of several cones, or two bores side by side."""
    rng = np.random.default_rng(seed)
    length, two = float(rng.uniform(100.0, 260.0)), seed % 3 == 0
    offset = (0.0, 0.0) if rng.random() < 0.4 else (float(rng.uniform(-4.0, 4.0)), 2.0)
    steps = np.sort(rng.uniform(20.0, length - 20.0, 0 if two else rng.integers(0, 3)))
    ends = [0.0, *steps.tolist(), length]
    bores = [
        cone(rng.uniform(5.0, 9.0), rng.uniform(5.0, 9.0), low, high, offset)
        for low, high in pairwise(ends)
    ]
    numbers: tuple[int, ...] = (0,)
    if two:
        first, numbers = bores[0], (0, 1)
        beside = (offset[0] + 19.0, offset[1] - 1.0)
        if rng.random() < 0.5:
            bores = [first, replace(first, offset=beside)]
        else:
            radii = rng.uniform(5.0, 9.0, 2).tolist()
            bores = [
                RoundSurface(r, 0.0, 0.0, length, at)
                for r, at in zip(radii, (offset, beside), strict=True)
            ]
    walls = []
    for number, (low, high) in enumerate(pairwise(ends)):
        cuts = np.sort(rng.uniform(low, high, rng.integers(0, 5))).tolist()
        for start, stop in pairwise([low, *cuts, high]):
            inner = bores[0 if two else number]
            thick = rng.uniform(0.8, 5.0, 2)
            apart = (inner.offset[0] + float(rng.uniform(0.0, 0.3)), inner.offset[1])
            outer = cone(
                inner.radius_at(start) + thick[0],
                inner.radius_at(stop) + thick[1],
                start,
                stop,
                apart,
            )
            walls.append(WallStretch(numbers if two else (number,), inner, outer, start, stop))
    holes = tuple(
        SideHole(z, 0.0, 2.0 * r, 2.0 * r, z - r, z + r)
        for z, r in zip(rng.uniform(5.0, length - 5.0, 3), rng.uniform(1.0, 3.0, 3), strict=True)
    )
    ornaments = tuple(
        Ornament(z, z + 6.0, float(rng.uniform(8.0, 40.0)), 45.0)
        for z in rng.uniform(5.0, length - 10.0, 2).tolist()
    )
    survey = a_walled_survey(bores, walls, length, side_holes=holes, ornaments=ornaments)
    engagement = float(rng.uniform(5.0, 20.0)) if rng.random() < 0.5 else None
    return survey, Settings(BED, engagement=engagement, guard=float(rng.uniform(0.0, 3.0)))


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
            run = field.runs[int(field.runs_at(np.array([end]))[0])]
            joint_on(field.line(run, stretch.engagement), end, 0.0)
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


def stepped(*widths: float, steps: Sequence[float] = (100.0,), length: float = 200.0) -> Survey:
    """Bores of radius 7, 8 ... from step to step, in walls of these widths."""
    ends = [0.0, *steps, length]
    bores = [cone(7.0 + k, 7.0 + k, low, high) for k, (low, high) in enumerate(pairwise(ends))]
    walls = [
        WallStretch((k,), bore, cone(*(bore.radius_at(0.0) + width,) * 2, low, high), low, high)
        for k, (bore, width, (low, high)) in enumerate(
            zip(bores, widths, pairwise(ends), strict=True)
        )
    ]
    return a_walled_survey(bores, walls, length)


def ledged(*widths: float, steps: Sequence[float] = (100.0,)) -> Survey:
    """One bore of radius 7 in walls of these widths, from ledge to ledge outside."""
    bore, ends = cone(7.0, 7.0, 0.0, 200.0), [0.0, *steps, 200.0]
    walls = [
        WallStretch((0,), bore, cone(7.0 + width, 7.0 + width, low, high), low, high)
        for width, (low, high) in zip(widths, pairwise(ends), strict=True)
    ]
    return a_walled_survey([bore], walls, 200.0)


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
    walls = field.line(run, 8.0).wall(np.array([90.999, 91.001, 99.0, 101.0]))
    assert walls == pytest.approx([4.0, 3.0, 3.0, 3.0])


def test_a_ledge_onto_too_thin_a_wall_is_an_obstacle_from_both_sides() -> None:
    # 1.79 is needed, over 9 above the seam
    assert spans_of(ledged(4.0, 1.7, 3.0, steps=(80.0, 120.0))) == [(1.0, 71.0), (120.0, 190.0)]


def test_walls_with_a_gap_between_them_are_kept_apart() -> None:
    survey = ledged(4.0, 3.0)
    first, second = survey.walls
    apart = replace(survey, walls=(replace(first, stop=95.0), second))
    assert len(wall_runs(apart)) == 2
    assert spans_of(apart) == [(1.0, 85.0), (101.0, 190.0)]


def test_the_joint_tells_its_wall_and_its_bore() -> None:
    plan = plan_cuts(stepped(4.0, 3.0), Settings(BED, engagement=8.0, cuts=(50.0, 150.0)))
    below, above = plan.joints
    assert (below.wall, below.bores, below.bore_radius_at_tip) == (0, (0,), 7.0)
    assert (above.wall, above.bores, above.bore_radius_at_tip) == (1, (1,), 8.0)
    assert "50.00 mm above the low end" in plan.cuts[0].why
    assert "41.00 mm below the end of its stretch of wall at 100.00" in plan.cuts[0].why
    assert "50.00 mm above the start of its stretch of wall at 100.00" in plan.cuts[1].why
    assert "41.00 mm below the high end" in plan.cuts[1].why
    assert "the wall is 4.00 mm" in plan.cuts[0].why
    assert "the wall is 3.00 mm" in plan.cuts[1].why
    ledge = plan_cuts(ledged(4.0, 3.0), Settings(BED, engagement=8.0, cuts=(50.0, 150.0)))
    assert [joint.wall for joint in ledge.joints] == [0, 1]


def test_a_seam_keeps_off_a_step_as_off_an_end() -> None:
    # windows from 80 to 112; zones of 9 end or start 25 from the ends and the step, or farther
    plan = plan_cuts(
        stepped(4.0, 4.0, steps=(96.0,)), Settings((180.0, 180.0, 120.0), engagement=8.0)
    )
    (joint,) = plan.joints
    assert joint.roof_top <= 96.0 - 5.0 or joint.station >= 96.0 + 5.0


def test_an_eccentric_bore_off_the_axis_has_the_wall_between_the_two_centre_lines() -> None:
    # bore 7 about (3, 0), outside 12 about (3, 0.4): the wall is thinnest by 0.4, wherever the axis
    bore = cone(7.0, 7.0, 0.0, 200.0, (3.0, 0.0))
    outer = cone(12.0, 12.0, 0.0, 200.0, (3.0, 0.4))
    survey = a_walled_survey([bore], [WallStretch((0,), bore, outer, 0.0, 200.0)], 200.0)
    plan = plan_cuts(survey, Settings((180.0, 180.0, 120.0), engagement=8.0))
    assert "the wall is 4.60 mm" in plan.cuts[0].why
    assert plan.joints[0].centres == ((3.0, 0.0),)
    assert plan.joints[0].tenon_radius == pytest.approx((7.0 + 11.6 - 0.15) / 2.0)


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
    assert "1.79 mm of wall for" in problem.needed


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
