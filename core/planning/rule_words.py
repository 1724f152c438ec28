"""Each rule of `seam_stretches` in words: what was found over a span, and what is needed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..jointing.collar_line import CollarLine
from ..jointing.joint_line import Limit, where_kept
from ..values import Ornament, Settings, Survey
from .intervals import GRAIN, Span, merge
from .seam_stretches import END_MARGIN, RING_MARGIN, Rule, avoided_reach, within
from .ways import Line

_MOST_TOLD = 3
"""Of how many runs of wall a refusal tells."""

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
    rule: Rule, survey: Survey, settings: Settings, lines: list[Line], span: Span
) -> Telling:
    """How a rule keeps seams out of a span of stations, for the joints of `lines`, one a run."""
    if rule in ("wall", "tip"):
        held = [line for line in lines if _is_told(rule, line, span)]
        if not held:
            return tell_ends(survey, lines)
        return _tell_wall(held, span) if rule == "wall" else _tell_tip(held, span)
    if rule == "rings":
        return _tell_rings(survey, span)
    if rule == "avoid":
        return _tell_avoided(settings, lines, span)
    obstacles, name = _obstacles_of(rule, survey, lines), _OBSTACLES[rule]
    if rule == "recesses" and any(avoided_reach(line) for line in lines):
        name = f"rings or {name}"
    if span[0] == span[1]:
        return _tell_distance(name, obstacles, settings, lines[0], span[0])
    return _tell_gap(name, obstacles, settings, lines, span)


def tell_ends(survey: Survey, lines: list[Line]) -> Telling:
    """How the runs of wall around a bore are too short, or lie elsewhere."""
    whole = f"on a part from 0 to {survey.length:.2f} mm"
    off_ends = f"{END_MARGIN:.1f} mm off the part's ends and the stretch's"
    if not lines:
        return Telling(
            f"nowhere a round bore with a wall around it, {whole}",
            f"a stretch of such wall that holds a joint, {off_ends}",
        )
    told = (f"from {line.run.start:.2f} to {line.run.stop:.2f} mm" for line in lines)
    runs = ", ".join(dict.fromkeys(told))
    zone = min(float(line.zone(np.array([line.run.start]))[0]) for line in lines)
    return Telling(
        f"a bore and the wall around it {runs}, {whole}",
        f"a seam and {zone:.2f} mm above it within one such stretch, {off_ends}",
    )


def _tell_wall(lines: list[Line], span: Span) -> Telling:
    told: list[tuple[float, str, Line]] = []
    for line in lines:
        hindrance = collar_hindrance(line)
        if hindrance is not None:
            told.append((-1.0, hindrance, line))
            continue
        wall, station = _greatest(line, span, line.wall)
        around = "wall around both bores" if len(line.run.bores) > 1 else "wall"
        found = f"{around} {wall:.2f} mm{_at_most(span)} at station {station:.2f} mm"
        told.append((wall, found + _only(line, span, line.wall_spare), line))
    return Telling(_each_run(told), _unlike(line.need() for line in lines))


def _tell_tip(lines: list[Line], span: Span) -> Telling:
    told, needs = [], []
    for line in lines:
        spare, station = _greatest(line, span, line.parallel_spare)
        found, needed = tip_words(line, spare)
        found += f"{_at_most(span)} at station {station:.2f} mm"
        told.append((spare, found + _only(line, span, line.parallel_spare), line))
        needs.append(needed)
    return Telling(_each_run(told), _unlike(needs))


def tip_words(line: Line, spare: float) -> tuple[str, str]:
    """What an engagement leaves a joint that asks for more, and what is needed, in words."""
    if isinstance(line, CollarLine):
        return (
            f"an engagement of {line.engagement:.2f} mm of a {line.word}",
            f"{line.engagement - spare:.2f} mm for its lugs and bevels",
        )
    ridge = " and the ridge between both bores" if len(line.run.bores) > 1 else ""
    parallel = line.least_parallel
    found = (
        f"an engagement of {line.engagement:.2f} mm leaves {spare + parallel:.2f} mm parallel "
        f"under the 45 degree tip{ridge}"
    )
    return found, f"{parallel:.2f} mm parallel"


def _is_told(rule: Rule, line: Line, span: Span) -> bool:
    """Whether zones of a line lie within its walls anywhere in a span; of a wall also why not."""
    if rule == "wall" and collar_hindrance(line) is not None:
        return True
    return bool(line.linear_parts(*within(line.run, span)))


def has_obstacles(rule: Rule, survey: Survey, settings: Settings, lines: list[Line]) -> bool:
    """Whether there is anything that a rule keeps seams off."""
    if rule == "avoid":
        return bool(settings.avoid)
    return rule in ("wall", "tip", "rings") or bool(_obstacles_of(rule, survey, lines))


def collar_hindrance(line: Line) -> str | None:
    """Why a collar lies on none of its walls, whatever their thickness, in words."""
    return line.hindrance() if isinstance(line, CollarLine) else None


def _greatest(line: Line, span: Span, size: Limit) -> tuple[float, float]:
    """The greatest value of a size over the part of a span in a run, and its station."""
    stations = np.unique(line.linear_parts(*within(line.run, span)))
    values = size(stations)
    best = int(values.argmax())
    return float(values[best]), float(stations[best])


def _only(line: Line, span: Span, spare: Limit) -> str:
    """Where a limit is kept within a span, if anywhere: then something else is in the way there."""
    kept = merge(where_kept(line.linear_parts(*within(line.run, span)), spare))
    stretches = ", ".join(f"from {low:.2f} to {high:.2f}" for low, high in kept)
    return f", enough only {stretches} mm" if kept else ""


def _each_run(told: list[tuple[float, str, Line]]) -> str:
    """What was found on the runs of wall, best first; which run it was where there are several."""
    best = sorted(told, key=lambda one: -one[0])
    if len(best) == 1:
        return best[0][1]
    named = [
        f"{found}, on the stretch from {line.run.start:.2f} to {line.run.stop:.2f} mm"
        for _, found, line in best[:_MOST_TOLD]
    ]
    more = [f"less on the other {len(best) - _MOST_TOLD}"] if len(best) > _MOST_TOLD else []
    return "; ".join(named + more)


def _unlike(told: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(told))


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
    return Telling(
        f"{_where(span)}rings or blocks on the outside from {stretches} mm",
        f"a seam {RING_MARGIN:.2f} mm off them",
    )


def _where(span: Span) -> str:
    """The opening of what lies in a span of stations; of a single station none is needed."""
    if span[0] == span[1]:
        return ""
    return f"between {span[0]:.2f} and {span[1]:.2f} mm, where a seam has to lie, are "


def _tell_avoided(settings: Settings, lines: list[Line], span: Span) -> Telling:
    reach = max((avoided_reach(line) for line in lines), default=0.0)
    near = [
        avoid_words(stretch)
        for stretch in settings.avoid
        if stretch[0] - reach < span[1] + GRAIN and stretch[1] + reach > span[0] - GRAIN
    ]
    apart = f"a seam {reach:.2f} mm off it, as far as its collar reaches" if reach else ""
    return Telling(
        f"{_where(span)}stations to be avoided, {', '.join(near)}",
        apart or "a seam outside of it",
    )


def cutting_words(settings: Settings) -> list[str]:
    """What is asked for that a part in one piece cannot have."""
    asked = [f"--cut {cut:g}" for cut in settings.cuts]
    return asked + ([f"--pieces {settings.pieces}"] if (settings.pieces or 1) > 1 else [])


def avoid_words(stretch: Span) -> str:
    """A stretch to be avoided, as the person asked for it."""
    return f"--avoid {stretch[0]:g}-{stretch[1]:g}"


def _obstacles_of(rule: Rule, survey: Survey, lines: list[Line]) -> list[Span]:
    if rule == "holes":
        return [(hole.low, hole.high) for hole in survey.side_holes]
    if rule == "bore ornaments":
        return [(o.start, o.stop) for o in survey.ornaments if o.place == "bore"]
    return [
        (o.start, o.stop)
        for o in survey.ornaments
        if o.place == "outside" and any(_is_deep(o, line) for line in lines)
    ]


def _is_deep(ornament: Ornament, line: Line) -> bool:
    """Whether an ornament leaves less outside than some zone over it needs."""
    ends = within(line.run, (ornament.start - line.engagement, ornament.stop))
    needed = [float(line.radius_needed(np.array([end]))[0]) for end in ends]
    return ornament.least_radius - line.run.off_axis < max(needed)


def _tell_distance(
    name: str, obstacles: list[Span], settings: Settings, line: Line, cut: float
) -> Telling:
    foot, top = cut - line.below, cut + float(line.zone(np.array([cut]))[0])
    low, high = min(obstacles, key=lambda span: max(span[0] - top, foot - span[1]))
    distance = max(low - top, foot - high)
    lies = f"lies {distance:.2f} mm from" if distance >= 0.0 else "overlaps"
    by = "" if distance >= 0.0 else f" by {-distance:.2f} mm"
    return Telling(
        f"the joint's zone from {foot:.2f} to {top:.2f} mm {lies} the {name} at {low:.2f} to "
        f"{high:.2f} mm{by}",
        f"a guard of {settings.guard:.2f} mm",
    )


def _tell_gap(
    name: str,
    obstacles: list[Span],
    settings: Settings,
    lines: list[Line],
    span: Span,
) -> Telling:
    guard = settings.guard
    gaps, near = [], []
    for line in lines:
        low, high = (station - line.below for station in within(line.run, span))
        zone = float(line.zone(np.array([low]))[0]) + line.below
        here = [o for o in obstacles if o[1] + guard > low and o[0] - guard < high + zone]
        blocked = [(o[0] - guard, o[1] + guard) for o in here]
        blocked.append((line.run.stop - END_MARGIN, line.run.stop))
        gap = _widest_gap(blocked, low, high)
        gaps += [(gap[1] - gap[0] - zone, gap, zone, line)] if gap is not None else []
        near += here
    low, high = within(lines[0].run, span)[0], within(lines[-1].run, span)[1]
    clear, line = "no clear stretch at all", lines[0]
    needed = f"{float(line.zone(np.array([low]))[0]) + line.below:.2f}"
    if gaps:
        spare, gap, zone, line = max(gaps, key=lambda one: one[0])
        widest, needed = told_apart(gap[1] - gap[0], zone)
        whose = "no clear stretch wider than" if spare < 0.0 else "a clear stretch of"
        clear = f"{whose} {widest} mm, from {gap[0]:.2f} to {gap[1]:.2f} mm"
    return Telling(
        f"a seam has to lie between {low:.2f} and {high:.2f} mm, where {name} from "
        f"{min(o[0] for o in near):.2f} to {max(o[1] for o in near):.2f} mm leave {clear}, "
        f"with {guard:.2f} mm of guard at each edge",
        f"{needed} mm for a joint of {line.engagement:.2f} mm engagement",
    )


def told_apart(found: float, needed: float) -> tuple[str, str]:
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
