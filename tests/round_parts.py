"""Parts with a round outside as the survey tells them, and the rules that a plan of one keeps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import pytest
from borewright.core.errors import CoreError, NoPlan, WallTooThin
from borewright.core.planning.cut_plan import plan_cuts
from borewright.core.values import (
    FIT_SLACK,
    OTHER,
    Cut,
    Frame,
    Joint,
    Ornament,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
)

from tests.surveys import a_box, a_survey, design_tenon

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
        low, top = joint.zone
        for tenon in joint.tenons:
            design_tenon(  # raises where the wall or the tip forbids the joint
                survey.bore,
                survey.outsides[0],
                low,
                tenon.engagement,
                settings.clearance,
                settings.least_wall,
                tenon.keys[0].angle,
            )
        start = max(survey.bore.start, survey.outsides[0].start, 0.0) + 1.0
        stop = min(survey.bore.stop, survey.outsides[0].stop, survey.length) - 1.0
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
    tops = [*(joint.highest for joint in joints), survey.length]
    for low, top in zip(lows, tops, strict=True):
        if top - low > settings.envelope[2] + FIT_SLACK + ROUND_OFF:
            broken.append(f"height {top - low} at {low}")
    for below, above in pairwise(joints):
        if above.zone[0] < below.zone[1] + 1.0 - ROUND_OFF:
            broken.append(f"joints meet at {above.station}")
    return broken


def _is_disturbed(ornament: Ornament, joint: Joint, settings: Settings) -> bool:
    low, top = joint.zone
    apart = max(ornament.start - top, low - ornament.stop)
    near = apart < settings.guard - ROUND_OFF
    if ornament.place == "bore":
        return near
    seam_apart = max(ornament.start - joint.station, joint.station - ornament.stop)
    if joint.collar is not None:
        return near
    needed = joint.tenon.reach + settings.least_wall + 0.02
    too_deep = ornament.least_radius < needed - ROUND_OFF
    return seam_apart < 1.0 - ROUND_OFF or (near and too_deep)


def chanter() -> Survey:
    """A tapered part: mid-wall diameter from 21 down to 11.5, usual engagement 10.5 to 6."""
    holes = [(70, 7), (92, 7), (114, 6), (121, 4.5), (150, 6), (172, 5.5), (194, 5)]
    return a_part(276.0, holes, bore=(16.0, 6.0), outside=(26.0, 17.0))


def planned(survey: Survey, height: float, engagement: float = 8.0) -> Cut:
    """The one cut that a part needs, with its plan checked against the rules."""
    settings = Settings((180.0, 180.0, height), engagement=engagement)
    plan = plan_cuts(survey, settings)
    assert broken_rules(survey, settings, plan.joints) == []
    (cut,) = plan.cuts
    return cut


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


def refused(survey: Survey, settings: Settings) -> CoreError:
    with pytest.raises(CoreError) as caught:
        plan_cuts(survey, settings)
    return caught.value
