"""Each rule of `seam_stretches` in words: what was found over a span, and what is needed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..jointing.joint_line import LEAST_PARALLEL, JointLine, least_joint_wall
from ..values import Ornament, Settings, Survey
from .intervals import GRAIN, Span, merge
from .seam_stretches import END_MARGIN, RING_MARGIN, Rule, round_span

_OBSTACLES: dict[Rule, str] = {
    "holes": "side holes",
    "bore ornaments": "steps or recesses of the bore",
    "recesses": "recesses of the outside",
}


@dataclass(frozen=True, slots=True)
class Telling:
    """What was found and what is needed, with numbers."""

    found: str
    needed: str


def tell_rule(
    rule: Rule, survey: Survey, settings: Settings, line: JointLine, span: Span
) -> Telling:
    """How a rule keeps seams out of a span of stations, for the joint of `line`."""
    if rule == "wall":
        return _tell_wall(survey, settings, line, span)
    if rule == "tip":
        return _tell_tip(survey, line, span)
    if rule == "rings":
        return _tell_rings(survey, span)
    obstacles = _obstacles_of(rule, survey, line)
    if span[0] == span[1]:
        return _tell_distance(_OBSTACLES[rule], obstacles, settings, line, span[0])
    return _tell_gap(_OBSTACLES[rule], obstacles, survey, settings, line, span)


def tell_ends(survey: Survey, line: JointLine) -> Telling:
    """How the stretch that is round inside and outside is too short, or lies elsewhere."""
    low, high = round_span(survey)
    zone = float(line.zone(np.array([low]))[0])
    return Telling(
        f"bore and outside are round from {low:.2f} to {high:.2f} mm, on a part from 0 to "
        f"{survey.length:.2f} mm",
        f"a seam and {zone:.2f} mm above it within both, {END_MARGIN:.1f} mm off the part's ends",
    )


def _within(survey: Survey, span: Span) -> Span:
    """The part of a span that is round inside and outside, at least its nearest station."""
    low, high = round_span(survey)
    return min(max(span[0], low), high), max(min(span[1], high), low)


def _tell_wall(survey: Survey, settings: Settings, line: JointLine, span: Span) -> Telling:
    ends = np.array(_within(survey, span))
    walls = line.wall(ends)
    best = int(walls.argmax())
    needed = least_joint_wall(settings.clearance, settings.least_wall)
    return Telling(
        f"wall {walls[best]:.2f} mm{_at_most(span)} at station {ends[best]:.2f} mm",
        f"{needed:.2f} mm of wall for a tenon and a socket of {settings.least_wall:.2f} mm each, "
        f"{settings.clearance:.2f} mm of clearance and the facets",
    )


def _tell_tip(survey: Survey, line: JointLine, span: Span) -> Telling:
    ends = np.array(_within(survey, span))
    lengths = line.parallel_spare(ends) + LEAST_PARALLEL
    best = int(lengths.argmax())
    return Telling(
        f"an engagement of {line.engagement:.2f} mm leaves {lengths[best]:.2f} mm parallel under "
        f"the 45 degree tip{_at_most(span)} at station {ends[best]:.2f} mm",
        f"{LEAST_PARALLEL:.2f} mm parallel",
    )


def _at_most(span: Span) -> str:
    return "" if span[0] == span[1] else " at the most,"


def _tell_rings(survey: Survey, span: Span) -> Telling:
    near = [
        (ornament.start, ornament.stop)
        for ornament in survey.ornaments
        if ornament.place == "outside"
        and ornament.start - RING_MARGIN < span[1] + GRAIN
        and ornament.stop + RING_MARGIN > span[0] - GRAIN
    ]
    stretches = ", ".join(f"{low:.2f} to {high:.2f}" for low, high in near)
    within = (
        ""
        if span[0] == span[1]
        else f"between {span[0]:.2f} and {span[1]:.2f} mm, where a seam has to lie, are "
    )
    return Telling(
        f"{within}rings or blocks on the outside from {stretches} mm",
        f"a seam {RING_MARGIN:.2f} mm off them",
    )


def _obstacles_of(rule: Rule, survey: Survey, line: JointLine) -> list[Span]:
    if rule == "holes":
        return [(hole.low, hole.high) for hole in survey.side_holes]
    if rule == "bore ornaments":
        return [(o.start, o.stop) for o in survey.ornaments if o.place == "bore"]
    return [
        (o.start, o.stop)
        for o in survey.ornaments
        if o.place == "outside" and _is_deep(o, survey, line)
    ]


def _is_deep(ornament: Ornament, survey: Survey, line: JointLine) -> bool:
    """Whether an ornament leaves less outside than some zone over it needs."""
    ends = np.array(_within(survey, (ornament.start - line.engagement, ornament.stop)))
    needed = [
        float(line.radius_needed(np.array([end]), line.relief(end))[0]) for end in ends.tolist()
    ]
    return ornament.least_radius < max(needed)


def _tell_distance(
    name: str, obstacles: list[Span], settings: Settings, line: JointLine, cut: float
) -> Telling:
    top = cut + float(line.zone(np.array([cut]))[0])
    low, high = min(obstacles, key=lambda span: max(span[0] - top, cut - span[1]))
    distance = max(low - top, cut - high)
    lies = f"lies {distance:.2f} mm from" if distance >= 0.0 else "overlaps"
    by = "" if distance >= 0.0 else f" by {-distance:.2f} mm"
    return Telling(
        f"the joint's zone from {cut:.2f} to {top:.2f} mm {lies} the {name} at {low:.2f} to "
        f"{high:.2f} mm{by}",
        f"a guard of {settings.guard:.2f} mm",
    )


def _tell_gap(
    name: str,
    obstacles: list[Span],
    survey: Survey,
    settings: Settings,
    line: JointLine,
    span: Span,
) -> Telling:
    low, high = _within(survey, span)
    zone = float(line.zone(np.array([low]))[0])
    guard = settings.guard
    near = [o for o in obstacles if o[1] + guard > low and o[0] - guard < high + zone]
    gap = _widest_gap([(o[0] - guard, o[1] + guard) for o in near], low, high)
    clear, needed = "no clear stretch at all", f"{zone:.2f}"
    if gap is not None:
        widest, needed = _told_apart(gap[1] - gap[0], zone)
        clear = f"no clear stretch wider than {widest} mm, from {gap[0]:.2f} to {gap[1]:.2f} mm"
    return Telling(
        f"a seam has to lie between {low:.2f} and {high:.2f} mm, where {name} from "
        f"{min(o[0] for o in near):.2f} to {max(o[1] for o in near):.2f} mm leave {clear}, "
        f"with {guard:.2f} mm of guard at each edge",
        f"{needed} mm for a joint of {line.engagement:.2f} mm engagement",
    )


def _told_apart(found: float, needed: float) -> tuple[str, str]:
    """Both lengths, mm, to two digits, or to as many as it takes to tell them apart."""
    digits = next((d for d in range(2, 7) if round(found, d) != round(needed, d)), 7)
    return f"{found:.{digits}f}", f"{needed:.{digits}f}"


def _widest_gap(blocked: list[Span], low: float, high: float) -> Span | None:
    """The widest stretch between blocked spans that a seam from low to high could start."""
    spans = merge(blocked)
    starts = [low, *(far for _, far in spans if low < far <= high)]
    gaps = []
    for start in starts:
        if any(near < start < far for near, far in spans):
            continue
        above = [near for near, _ in spans if near >= start]
        if above:
            gaps.append((start, min(above)))
    return max(gaps, key=lambda gap: gap[1] - gap[0], default=None)
