"""Why no seam may lie over a stretch of stations, in words with numbers, for the station map."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from ..jointing.collar_line import CollarLine
from ..jointing.joint_line import Limit
from ..jointing.wall_run import WallRun
from ..values import FloatArray, Ornament
from .intervals import GRAIN, Span
from .rule_words import avoid_words, collar_hindrance, tip_words, told_apart
from .seam_stretches import END_MARGIN, RING_MARGIN, Rule, SeamField, avoided_reach, within
from .ways import Line, kind_word

_SHOWN = 0.005
"""Half of the last digit that words show, mm."""

_TOUCH = 1e-5


def closing_words(field: SeamField, rules: Sequence[Rule], span: Span) -> str:
    """What closes a stretch; where no rules do, what else keeps joints out of it."""
    if not rules:
        return _ends_words(field, span)
    return "; ".join(dict.fromkeys(_rule_words(field, rule, span) for rule in rules))


def _rule_words(field: SeamField, rule: Rule, span: Span) -> str:
    lines = field.lines_near(span)
    if rule == "wall":
        told = [_wall_words(line, span) for line in lines if _fails(line, span, line.wall_spare)]
        told += [
            f"a {line.word} has no room for the {line.engagement:.2f} mm that it covers each side"
            for line in lines
            if isinstance(line, CollarLine) and _passes_ends(line, span)
        ]
        return "; ".join(dict.fromkeys(told)) or "the wall"
    if rule == "tip":
        longest = field.lines_near(span, longest=True)
        told = [
            _tip_words(line, span) for line in longest if _fails(line, span, line.parallel_spare)
        ]
        return "; ".join(dict.fromkeys(told)) or "the joint's tip"
    if rule == "avoid":
        return _avoid_words(field, lines, span)
    if rule == "holes":
        return _hole_words(field, lines, span)
    return _ornament_words(field, rule, lines, span)


def _passes_ends(line: CollarLine, span: Span) -> bool:
    """Whether a collar in the middle of a span would reach past the wall."""
    middle, reach = (span[0] + span[1]) / 2.0, line.engagement + END_MARGIN
    return not line.run.start + reach <= middle <= line.run.stop - reach


def _fails(line: Line, span: Span, spare: Limit) -> bool:
    return bool(spare(_stations(line, span)).min() < 0.0)


def _stations(line: Line, span: Span) -> FloatArray:
    """Where a line's sizes may be greatest or least over a span; its ends, off the wall."""
    inner = within(line.run, span)
    stations: FloatArray = np.unique(line.linear_parts(*inner) or [inner])
    return stations


def _wall_words(line: Line, span: Span) -> str:
    hindrance = collar_hindrance(line)
    if hindrance is not None:
        return hindrance
    walls = line.wall(_stations(line, span))
    least, most = float(walls.min()), float(walls.max())
    around = " around both bores" if len(line.run.bores) > 1 else ""
    found, needed = told_apart(most, line.wall_needed)
    if most - least > _SHOWN:
        found, needed = f"{least:.2f} to {most:.2f}", f"{line.wall_needed:.2f}"
    return f"the wall{around}, {found} mm, holds no {kind_word(line)}: {needed} needed"


def _tip_words(line: Line, span: Span) -> str:
    spare = float(line.parallel_spare(_stations(line, span)).max())
    found, needed = tip_words(line, spare)
    return f"{found}: {needed} needed"


def _avoid_words(field: SeamField, lines: list[Line], span: Span) -> str:
    reach = max(avoided_reach(line) for line in lines)
    near = _reaching(field.settings.avoid, span, reach, reach)
    told = ", ".join(avoid_words(stretch) for stretch in near)
    return f"{told}, {reach:.2f} mm off it for a collar" if reach else told


def _hole_words(field: SeamField, lines: list[Line], span: Span) -> str:
    numbered = dict(enumerate(field.survey.side_holes, 1))
    spans = [(hole.low, hole.high) for hole in numbered.values()]
    near = set(_reaching(spans, span, *_zone(field, lines, span)))
    told = [
        f"{number} at {hole.station:.2f}"
        for number, hole in numbered.items()
        if (hole.low, hole.high) in near
    ]
    noun = "side hole" if len(told) == 1 else "side holes"
    return f"{noun} {' and '.join(told)} mm, with {field.settings.guard:.2f} mm of guard"


def _ornament_words(field: SeamField, rule: Rule, lines: list[Line], span: Span) -> str:
    place = "bore" if rule == "bore ornaments" else "outside"
    numbered = [
        (number, ornament)
        for number, ornament in enumerate(field.survey.ornaments, 1)
        if ornament.place == place
    ]
    reach = (RING_MARGIN, RING_MARGIN) if rule == "rings" else _zone(field, lines, span)
    near = set(_reaching([(o.start, o.stop) for _, o in numbered], span, *reach))
    told = [
        f"ornament {number} from {ornament.start:.2f} to {ornament.stop:.2f} mm"
        f"{_what(rule, ornament, lines)}"
        for number, ornament in numbered
        if (ornament.start, ornament.stop) in near
    ]
    beside = (
        f"with {RING_MARGIN:.2f} mm beside it"
        if rule == "rings"
        else f"with {field.settings.guard:.2f} mm of guard"
    )
    return f"{' and '.join(told)}, {beside}"


def _what(rule: Rule, ornament: Ornament, lines: list[Line]) -> str:
    """How an ornament is in the way."""
    if rule == "bore ornaments":
        return " in the bore"
    if rule == "rings":
        return " on the outside"
    needed = max(
        float(line.radius_needed(np.array([ornament.start]))[0]) + line.run.off_axis
        for line in lines
    )
    if not np.isfinite(needed):
        return ", where nothing may lie beside a collar"
    return f", {ornament.least_radius:.2f} mm from the axis where {needed:.2f} are needed"


def _zone(field: SeamField, lines: list[Line], span: Span) -> tuple[float, float]:
    """How far under a seam and over it an obstacle closes stations, mm, the guard with it."""
    guard = field.settings.guard
    zones = [float(line.zone(np.array(within(line.run, span))).max()) for line in lines]
    return guard + max(line.below for line in lines), guard + max(zones)


def _reaching(obstacles: Iterable[Span], span: Span, under: float, over: float) -> list[Span]:
    """Obstacles that close some station of a span, else the nearest one."""
    apart = {one: max(one[0] - over - span[1], span[0] - one[1] - under) for one in obstacles}
    near = [one for one, distance in apart.items() if distance < -GRAIN]
    return near or sorted(apart, key=lambda one: apart[one])[:1]


def _ends_words(field: SeamField, span: Span) -> str:
    """How near a stretch lies to an end, where no joint has room whatever the rules."""
    runs = [way.run for way in field.ways if way.run.start < span[1] and span[0] < way.run.stop]
    if not runs:
        return "no wall there, and nothing solid, that a joint could be made in"
    ends = [_near_end(field, run, span) for run in runs]
    return next((words for words in ends if words), "no room there for a joint of this kind")


def _near_end(field: SeamField, run: WallRun, span: Span) -> str:
    at_start, at_stop = span[0] - run.start < _TOUCH, run.stop - span[1] < _TOUCH
    if at_start and at_stop:
        return f"its wall, from {run.start:.2f} to {run.stop:.2f} mm, is too short for a joint"
    if at_start:
        end = "the low end" if run.start <= GRAIN else f"the wall's start at {run.start:.2f} mm"
        return f"within {span[1] - run.start:.2f} mm of {end}"
    if at_stop:
        whole = run.stop >= field.survey.length - GRAIN
        end = "the high end" if whole else f"the wall's end at {run.stop:.2f} mm"
        return f"within {run.stop - span[0]:.2f} mm of {end}"
    return ""
