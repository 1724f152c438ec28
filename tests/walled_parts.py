"""Parts of several walls, or of two bores, and the planner's rules in plain loops.

The plain rules take one station at a time and know nothing of runs, parts or limits
that are linear; those of a joint around two bores are for cylinders and equal tapers,
where a tenon's ridge is known exactly.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from borewright.core.jointing.hull import least_parameter
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
        crest = radii[0] - least_parameter(centres, radii - 0.005)  # facets lie inside by that
        crest = (crest + slope * engagement) / (1.0 + slope)
    tip = station + engagement - crest
    bore = max(first.radius_at(station), first.radius_at(tip))
    outer = narrowest(walls, station, station + engagement + 0.2 + settings.least_wall)
    lw, gap = settings.least_wall + 0.02, settings.clearance
    relief = max(0.5, gap + 0.3)
    if outer - bore < 2.0 * lw + gap + relief:
        return None
    tenon = (bore + outer - gap) / 2.0
    if outer - tenon - gap < relief + lw:
        tenon = outer - gap - relief - lw
    at_tip = first.radius_at(tip)
    land = min(max(tenon - 0.5 - at_tip, 0.1), settings.least_wall)
    if tip - (tenon - at_tip - land) - station < 2.0:
        return None
    rise = (0.2 + land) / (1.0 if two else 1.0 + first.slope)
    axial = max(math.hypot(*b.offset) + b.radius_at(0) - first.radius_at(0) for b in bores)
    return PlainJoint(station + engagement + rise, axial + tenon + gap + relief + lw)


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
    guard = float(rng.uniform(0.0, 3.0))
    return survey, Settings(BED, engagement=engagement, guard=guard, joint="tenon")


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
