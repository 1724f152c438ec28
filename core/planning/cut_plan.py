"""Where to cut: the fewest pieces, proven, then the best-placed seams among those."""

from __future__ import annotations

import contextlib
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..errors import NoPlan, TooWide
from ..jointing.collar_design import bore_left
from ..jointing.joint_design import (
    ENGAGEMENT_STEP,
    LEAST_ENGAGEMENT,
    MOST_ENGAGEMENT,
    CutPlace,
    usual_engagement,
)
from ..jointing.wall_run import WallRun
from ..values import FIT_SLACK, Cut, Joint, Plan, Settings, SideHole, Survey
from .cut_refusal import check_demands, refusal
from .cut_score import PREFER_REACH, Seams
from .cut_search import Search, search_cuts
from .floor_fit import check_floor
from .intervals import GRAIN, Span, merge
from .rule_words import avoid_words
from .seal_remarks import seal_remarks
from .seam_choice import SeamChoice
from .seam_reach import Runs, seam_windows
from .seam_stretches import SeamField
from .ways import Line, joint_at, reason

_MORE_PIECES = 2
_NO_DIRECTION = 1e-6


def plan_cuts(survey: Survey, settings: Settings) -> Plan:
    """Cuts and joints of the fewest pieces that keep every rule.

    Where a piece of that plan does not fit the envelope's floor, up to two pieces more
    are tried.

    Raises
    ------
    BadSetting : cuts beyond the part, or fewer than one piece
    TooWide : a piece does not fit the envelope's floor, however turned
    WallTooThin : the wall holds no joint anywhere
    NoPlan : no set of cuts keeps every rule; says which rule binds, and what would do
    """
    check_demands(survey, settings)
    search = search_cuts(survey, settings)
    if search is None:
        check_floor(survey, (), settings.envelope[:2])
        raise refusal(survey, settings)
    plan = _planned(search)
    _check_collars(plan.joints, settings)
    try:
        check_floor(survey, plan.joints, settings.envelope[:2])
    except TooWide as problem:
        narrower = _narrower_plan(search)
        if narrower is None:
            raise
        told = f"{len(narrower.cuts) + 1} pieces, as {search.pieces} would not all fit the floor"
        return replace(narrower, remarks=(*narrower.remarks, f"{told}: {problem.found}."))
    return plan


def _check_collars(joints: tuple[Joint, ...], settings: Settings) -> None:
    """A collar is a piece, too, and has to stand in the envelope."""
    height = settings.envelope[2]
    for joint in joints:
        if joint.collar is not None and 2.0 * joint.collar.reach > height + FIT_SLACK:
            most = math.floor(height * 5.0) / 10.0
            raise NoPlan(
                f"a {joint.kind} {2.0 * joint.collar.reach:.2f} mm high at station "
                f"{joint.station:.2f} mm",
                f"at most {height:.2f} mm of height",
                f"--engagement {most:.1f} or less",
            )


def _narrower_plan(search: Search) -> Plan | None:
    """The plan of one or two pieces more whose pieces all fit the envelope's floor."""
    field = search.field
    for more in range(1, _MORE_PIECES + 1):
        asked = replace(field.settings, pieces=search.pieces + more)
        found = search_cuts(field.survey, asked)
        if found is None:
            return None
        plan = _planned(found)
        with contextlib.suppress(TooWide):
            check_floor(field.survey, plan.joints, asked.envelope[:2])
            return plan
    return None


def _planned(search: Search) -> Plan:
    """The best-placed seams of the fewest pieces, with their joints and reasons."""
    field = search.field
    windows = seam_windows(search.ground, search.levels, search.height)
    seams = SeamChoice(search, windows).best()
    assert seams is not None
    lines = _lines_of(search, seams)
    joints = joints_of(search, seams)
    cuts = tuple(
        Cut(joint.station, _window(windows[number], seams, number), why)
        for number, (joint, why) in enumerate(
            zip(joints, _reasons(field, lines, joints), strict=True), start=1
        )
    )
    return Plan(cuts, joints, _remarks(search, joints))


def _lines_of(search: Search, seams: Seams) -> list[Line]:
    """The sizes of the joint at each seam between the part's ends."""
    home = seams.home[1:-1]
    ways, engagements = search.ground.way[home], search.ground.engagement[home]
    return [
        search.field.line(way, engagement)
        for way, engagement in zip(ways.tolist(), engagements.tolist(), strict=True)
    ]


def joints_of(search: Search, seams: Seams) -> tuple[Joint, ...]:
    """The joints of a chain of seams, from the low end up."""
    lines, stations = _lines_of(search, seams), seams.stations[1:-1].tolist()
    return _joints_on(search.field.survey, lines, stations)


def _joints_on(
    survey: Survey, lines: Sequence[Line], stations: Sequence[float]
) -> tuple[Joint, ...]:
    """The joints from the low end up; each knows how far up the one below it reaches."""
    joints: list[Joint] = []
    reached = 0.0
    for number, (line, station) in enumerate(zip(lines, stations, strict=True)):
        angle = joint_key_angle(survey.side_holes, line.run, station)
        place = CutPlace(number, len(lines), angle, room_below=station - reached)
        joints.append(joint_at(line, station, place))
        reached = joints[-1].zone[1]
    return tuple(joints)


def joint_key_angle(holes: tuple[SideHole, ...], run: WallRun, station: float) -> float:
    """Where a joint's key goes: about two bores the middle of the flank that holes are off."""
    off_holes = key_angle(holes, station)
    if len(run.bores) < 2:
        return off_holes
    (x, y), (other_x, other_y) = run.centres
    across = math.atan2(other_x - x, y - other_y)
    opposite = across - math.pi if across > 0.0 else across + math.pi
    return max((across, opposite), key=lambda angle: round(math.cos(angle - off_holes), 9))


def key_angle(holes: tuple[SideHole, ...], station: float) -> float:
    """Opposite the mean direction of the two side holes nearest by station; 0 without holes.

    Two holes that face each other have no mean direction: the key goes square to them.
    """
    nearest = sorted(holes, key=lambda hole: (abs(hole.station - station), hole.angle))[:2]
    if not nearest:
        return 0.0
    across = sum(math.sin(hole.angle) for hole in nearest)
    along = sum(math.cos(hole.angle) for hole in nearest)
    if math.hypot(across, along) < _NO_DIRECTION:
        across, along = -math.cos(nearest[0].angle), math.sin(nearest[0].angle)
    angle = math.atan2(-across, -along)
    return angle if angle > -math.pi else math.pi


def _window(runs: Runs, seams: Seams, number: int) -> Span:
    """The stretch of feasible stations that holds a seam, whatever its engagement."""
    station = float(seams.stations[number])
    spans = merge(zip(runs.low.tolist(), runs.high.tolist(), strict=True))
    low, high = next(span for span in spans if span[0] - GRAIN <= station <= span[1] + GRAIN)
    return min(low, station), max(high, station)


def _reasons(field: SeamField, lines: list[Line], joints: tuple[Joint, ...]) -> list[str]:
    """One sentence for each cut."""
    survey, settings = field.survey, field.settings
    bottom, top = survey.ends(settings)
    lows = [bottom, *(joint.station for joint in joints)]
    highs = [*(joint.highest for joint in joints), top]
    heights = [high - low for low, high in zip(lows, highs, strict=True)]
    of_height = f"of {settings.envelope[2]:.2f} mm"
    reasons = []
    for number, (line, joint) in enumerate(zip(lines, joints, strict=True)):
        opening = "As asked: the" if joint.station in settings.cuts else "The"
        reasons.append(
            f"{opening} joint's zone lies {_place(survey, line.run, joint)}; "
            f"the piece below stands {heights[number]:.2f} and the piece above "
            f"{heights[number + 1]:.2f} {of_height}; {reason(line, joint.station)}; "
            f"{_engagement(line, joint.station, settings)}."
        )
    return reasons


def _engagement(line: Line, station: float, settings: Settings) -> str:
    """By which rule an engagement is what it is."""
    told = f"engagement {line.engagement:.2f} mm"
    if settings.engagement is not None:
        return f"{told}, as asked"
    across = float(line.run.joint_diameter(np.array(station)))
    usual = usual_engagement(across)
    if line.engagement > usual:
        return f"{told}, longer than the usual {usual:.2f} for its groove"
    if line.engagement != usual:
        return f"{told}, of the usual {usual:.2f}"
    bound = {LEAST_ENGAGEMENT: "the least", MOST_ENGAGEMENT: "the most"}.get(usual)
    rule = f"half of the joint's {across:.2f} mm, to {ENGAGEMENT_STEP:g} mm"
    return f"{told}, {bound}" if bound is not None else f"{told}, {rule}"


def _place(survey: Survey, run: WallRun, joint: Joint) -> str:
    """How far the joint's zone lies from the nearest side hole, or end, on both sides."""
    below = [
        (hole.high, f"the hole at {hole.station:.2f}")
        for hole in survey.side_holes
        if hole.high <= joint.zone[0] + GRAIN
    ]
    above = [
        (hole.low, f"the hole at {hole.station:.2f}")
        for hole in survey.side_holes
        if hole.low >= joint.zone[1] - GRAIN
    ]
    within = f"its stretch of wall at {run.start:.2f}", f"its stretch of wall at {run.stop:.2f}"
    whole = run.start <= GRAIN, run.stop >= survey.length - GRAIN
    below.append((run.start, "the low end" if whole[0] else f"the start of {within[0]}"))
    above.append((run.stop, "the high end" if whole[1] else f"the end of {within[1]}"))
    (low, under), (high, over) = max(below), min(above)
    far = joint.zone[0] - low, high - joint.zone[1]
    return f"{far[0]:.2f} mm above {under} and {far[1]:.2f} mm below {over}"


def _remarks(search: Search, joints: tuple[Joint, ...]) -> tuple[str, ...]:
    survey, settings = search.field.survey, search.field.settings
    height = settings.envelope[2]
    remarks = []
    bottom, top = survey.ends(settings)
    if not joints:
        remarks.append(
            f"The part stands {top - bottom:.2f} mm in an envelope {height:.2f} mm high: "
            "it fits as it is, in 1 piece."
        )
    if search.cap is not None:
        remarks.append(_shortening(search, joints))
    remarks += _beyond_remarks(survey, settings)
    remarks += _sleeve_remarks(joints)
    remarks += seal_remarks(survey, settings, joints)
    beyond = f"{search.height - height:.4f}"
    if float(beyond) > 0.0:
        remarks.append(
            f"Pieces pass the envelope's height of {height:.2f} mm by up to {beyond} mm, within "
            f"the {FIT_SLACK:.3f} mm allowed for round-off."
        )
    return tuple(remarks)


def _beyond_remarks(survey: Survey, settings: Settings) -> list[str]:
    """What is asked for stretches and stations that the part does not have."""
    reach = survey.length + PREFER_REACH
    beyond = [f"--prefer {at:g}" for at in settings.prefer if at > reach]
    beyond += [avoid_words(one) for one in settings.avoid if one[0] >= survey.length]
    ends = f"the part's ends, 0 and {survey.length:.2f} mm"
    return [f"{asked} lies beyond {ends}, and changes nothing." for asked in beyond]


def _sleeve_remarks(joints: tuple[Joint, ...]) -> list[str]:
    """By how much sleeves narrow the bore."""
    return [
        f"The sleeve of joint {number} narrows the bore from "
        f"{2.0 * joint.collar.inner.radius_at(joint.station):.2f} to "
        f"{bore_left(joint.collar, joint.station):.2f} mm, over {2.0 * joint.collar.reach:.2f} mm."
        for number, joint in enumerate(joints, 1)
        if joint.collar is not None and joint.collar.place == "inside"
    ]


def _shortening(search: Search, joints: tuple[Joint, ...]) -> str:
    strips = search.field.strips(None)
    usual = [
        next(strip.most for strip in strips if strip.low <= joint.station <= strip.high)
        for joint in joints
    ]
    pairs = zip(usual, (joint.engagement for joint in joints), strict=True)
    changes = ", ".join(
        f"from {before:.1f} to {after:.1f} mm"
        for before, after in dict.fromkeys(pairs)
        if after < before
    )
    instead = "no plan at all" if search.usual_pieces is None else f"{search.usual_pieces} pieces"
    return f"Engagement shortened {changes}: {search.pieces} pieces instead of {instead}."
