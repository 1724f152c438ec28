"""Where a seam may lie: the exact stretches of stations that every rule leaves.

Nothing is sampled. On a part of a span where the joint's sizes are linear in
the station each rule is solved in closed form, so a stretch of a single point
is found as surely as a wide one.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..jointing.collar_line import CollarLine
from ..jointing.joint_design import ENGAGEMENT_STEP
from ..jointing.joint_line import where_kept
from ..jointing.wall_run import WallRun
from ..values import Ornament, Settings, Survey
from .engagements import EngagementStrip, capped_strips
from .intervals import GRAIN, Span, common, merge, outside_of, subtract
from .ways import Line, Way, engagements_on, line_on, ways_on

Rule = Literal["wall", "tip", "holes", "bore ornaments", "recesses", "rings", "avoid"]
RULES: tuple[Rule, ...] = ("wall", "tip", "holes", "bore ornaments", "recesses", "rings", "avoid")

END_MARGIN = 1.0
"""Least distance, mm, of a joint's zone from the ends of its run of wall, and of the part."""

RING_MARGIN = 1.0
"""Least distance, mm, of a seam plane from an ornament of the outside."""

NO_RULES: frozenset[Rule] = frozenset()


@dataclass(frozen=True, slots=True)
class Stretch:
    """Stations at which a seam may lie, all of one kind of joint and one engagement.

    zone_low, zone_high : mm, height of the joint's zone over the seam at either end, linear
        between
    way : number of the kind of joint, and of the run of wall that it is made on
    below : mm, how far the zone reaches under the seam
    stands : mm, how far the lower piece stands over the seam
    """

    low: float
    high: float
    engagement: float
    zone_low: float
    zone_high: float
    way: int
    below: float
    stands: float

    def zone_at(self, station: float) -> float:
        """Height of the joint's zone, mm, for a seam at a station."""
        return self.zone_low + self.zone_slope * (station - self.low)

    @property
    def zone_slope(self) -> float:
        """Growth of the zone's height with the station."""
        width = self.high - self.low
        return (self.zone_high - self.zone_low) / width if width > 0.0 else 0.0

    def part(self, low: float, high: float) -> Stretch:
        """The part of it between two of its stations."""
        if (low, high) == (self.low, self.high):
            return self
        low_zone, high_zone = self.zone_at(low), self.zone_at(high)
        return replace(self, low=low, high=high, zone_low=low_zone, zone_high=high_zone)


@dataclass(frozen=True, slots=True)
class _Kept:
    """One run of wall with one engagement: where the tip holds, and where every rule does."""

    tip: list[Span]
    stretches: list[Stretch]


class SeamField:
    """Where joints can be made on a part, whatever the heights of the pieces.

    Each engagement is worked out once, on the whole of a way.

    Parameters
    ----------
    dropped : rules to be passed over, to learn which of them binds
    """

    def __init__(
        self, survey: Survey, settings: Settings, dropped: frozenset[Rule] = NO_RULES
    ) -> None:
        self.survey = survey
        self.settings = settings
        self.ways = ways_on(survey, settings)
        self._limits = [self._limits_on(way) for way in self.ways]
        self._dropped = dropped
        self._blocked = keep_away(survey, settings, dropped)
        self._outside = [o for o in survey.ornaments if o.place == "outside"]
        self._kept: dict[tuple[int, float], _Kept] = {}

    def _limits_on(self, way: Way) -> list[EngagementStrip]:
        """Engagements by station, where the way may be."""
        given = self.settings.engagement
        if given is not None:
            return [EngagementStrip(*span, given, given) for span in way.spans]
        return [
            replace(strip, low=low, high=high)
            for strip in engagements_on(way, self.settings)
            for low, high in common([(strip.low, strip.high)], way.spans)
        ]

    def line(self, way: int, engagement: float) -> Line:
        """The sizes of a joint of one engagement along a way."""
        return line_on(self.ways[way], engagement, self.survey, self.settings)

    def shortest_lines(self, span: Span) -> list[Line]:
        """The joint of the shortest engagement on each way in a span, or on the nearest.

        Of ways on one run those whose wall holds them somewhere, or all.
        """
        lines: dict[int, list[Line]] = {}
        for number in self._near(span):
            run = self.ways[number].run
            lines.setdefault(id(run.edges), []).append(self._line_near(number, span))
        return [line for same in lines.values() for line in _walled(same, span)]

    def lines_near(self, span: Span, *, longest: bool = False) -> list[Line]:
        """The joint of the shortest engagement, or the longest, on each way that a span meets."""
        near = self._near(span)
        met = [n for n in near if common(self.ways[n].spans, [span])] or near
        return [self._line_near(number, span, longest=longest) for number in met]

    def _near(self, span: Span) -> list[int]:
        """The ways on runs that a span meets, or that on the nearest."""
        low, high = span
        order = range(len(self.ways))
        near = [n for n in order if self.ways[n].run.start <= high and low <= self.ways[n].run.stop]
        return near or sorted(order, key=lambda n: _beside(self.ways[n].run, span))[:1]

    def _line_near(self, number: int, span: Span, *, longest: bool = False) -> Line:
        start, stop = within(self.ways[number].run, span)
        middle = (start + stop) / 2.0
        limits = self._limits[number]
        here = min(limits, key=lambda limit: max(limit.low - middle, middle - limit.high))
        return self.line(number, here.most if longest else here.least)

    def strips(self, cap: float | None) -> list[EngagementStrip]:
        """The engagements that may be taken along every run.

        cap : mm, shorten them down to this, but no further than the trade bears; None:
            the usual engagement. Of no effect where the user gave one.
        """
        return [strip for limits in self._limits for strip in capped_strips(limits, cap)]

    def stretches(self, cap: float | None) -> list[Stretch]:
        """Seams with the shortest engagement that `cap` and the tenon's tip leave at each."""
        found: list[Stretch] = []
        for number, limits in enumerate(self._limits):
            for strip in capped_strips(limits, cap):
                found += self._on_strip(number, strip)
        return sorted(found, key=lambda stretch: (stretch.low, stretch.high))

    def every_stretch(self) -> list[Stretch]:
        """Seams with each engagement that may be taken at all, not the shortest only."""
        found: list[Stretch] = []
        for number, limits in enumerate(self._limits):
            for strip in limits:
                steps = round((strip.most - strip.least) / ENGAGEMENT_STEP)
                for step in range(steps + 1):
                    engagement = strip.least + step * ENGAGEMENT_STEP
                    here = self._at(number, engagement).stretches
                    found += _parts_in(here, [(strip.low, strip.high)])
        return found

    def _on_strip(self, number: int, strip: EngagementStrip) -> list[Stretch]:
        found: list[Stretch] = []
        left = [(strip.low, strip.high)]
        engagement = strip.least
        while left and engagement <= strip.most:
            kept = self._at(number, engagement)
            found += _parts_in(kept.stretches, common(left, kept.tip))
            for span in kept.tip:
                left = subtract(left, span)
            engagement += ENGAGEMENT_STEP
        return found

    def _at(self, number: int, engagement: float) -> _Kept:
        key = number, engagement
        if key not in self._kept:
            self._kept[key] = self._worked_out(number, self.line(number, engagement))
        return self._kept[key]

    def _worked_out(self, number: int, line: Line) -> _Kept:
        parts = [part for span in self.ways[number].spans for part in line.linear_parts(*span)]
        tip = parts if "tip" in self._dropped else where_kept(parts, line.parallel_spare)
        walled = tip if "wall" in self._dropped else where_kept(tip, line.wall_spare)
        found: list[Stretch] = []
        zones = line.zone(np.array(walled).reshape(-1, 2).T).T.tolist()
        for (low, high), (zone_low, zone_high) in zip(walled, zones, strict=True):
            whole = Stretch(
                low, high, line.engagement, zone_low, zone_high, number, line.below, line.stands
            )
            found += [whole.part(*span) for span in self._clear_spans(whole, line)]
        return _Kept(merge(tip), _joined(found))

    def _clear_spans(self, whole: Stretch, line: Line) -> list[Span]:
        """Stations of a stretch whose zone is clear of ends, holes and ornaments."""
        run = line.run
        bottom = run.start + END_MARGIN + line.below
        top = last_seam_under(whole, run.stop - END_MARGIN)
        spans = common([(whole.low, whole.high)], [(bottom, top)]) if bottom <= top else []
        spans = common(spans, clear_of(whole, self._blocked))
        guard = self.settings.guard
        margin = max(guard, RING_MARGIN)
        reach = whole.high + max(whole.zone_low, whole.zone_high) + margin
        for ornament in self._outside:
            if ornament.start <= reach and ornament.stop >= whole.low - line.below - margin:
                spans = _clear_of_ornament(spans, ornament, whole, line, guard, self._dropped)
        if "avoid" not in self._dropped:
            spans = common(spans, outside_of(avoided(self.settings, line)))
        return spans


def seam_stretches(
    survey: Survey,
    settings: Settings,
    cap: float | None = None,
    dropped: frozenset[Rule] = NO_RULES,
) -> list[Stretch]:
    """The stretches where a joint can be made; see `SeamField`."""
    return SeamField(survey, settings, dropped).stretches(cap)


def within(run: WallRun, span: Span) -> Span:
    """The part of a span that lies in a run of wall, at least the run's nearest station."""
    return min(max(span[0], run.start), run.stop), max(min(span[1], run.stop), run.start)


def _beside(run: WallRun, span: Span) -> float:
    return max(run.start - span[1], span[0] - run.stop)


def _walled(lines: list[Line], span: Span) -> list[Line]:
    """Those of one run's lines whose wall is enough somewhere in a span, or all."""
    enough = [
        line
        for line in lines
        if where_kept(line.linear_parts(*within(line.run, span)), line.wall_spare)
    ]
    return enough or lines


def _parts_in(stretches: Iterable[Stretch], spans: list[Span]) -> list[Stretch]:
    found = []
    for stretch in stretches:
        for span in spans:
            low, high = max(stretch.low, span[0]), min(stretch.high, span[1])
            if low <= high:
                found.append(stretch.part(low, high))
    return found


def _joined(stretches: list[Stretch]) -> list[Stretch]:
    """Stretches that touch and whose zones grow alike, as one."""
    joined: list[Stretch] = []
    for stretch in stretches:
        last = joined[-1] if joined else None
        if (
            last is not None
            and stretch.way == last.way
            and stretch.low <= last.high + GRAIN
            and abs(last.zone_at(stretch.high) - stretch.zone_high) <= GRAIN
        ):
            joined[-1] = replace(last, high=stretch.high, zone_high=stretch.zone_high)
        else:
            joined.append(stretch)
    return joined


def keep_away(survey: Survey, settings: Settings, dropped: frozenset[Rule]) -> list[Span]:
    """Spans of stations, open at their ends, into which no zone may reach."""
    guard = settings.guard
    spans = []
    if "holes" not in dropped:
        spans += [(hole.low - guard, hole.high + guard) for hole in survey.side_holes]
    if "bore ornaments" not in dropped:
        spans += [
            (ornament.start - guard, ornament.stop + guard)
            for ornament in survey.ornaments
            if ornament.place == "bore"
        ]
    return spans


def avoided(settings: Settings, line: Line) -> list[Span]:
    """Spans of stations, open at their ends, where a joint would show in what is to be avoided."""
    reach = avoided_reach(line)
    return [(low - reach, high + reach) for low, high in settings.avoid]


def avoided_reach(line: Line) -> float:
    """How far around its seam, mm, a joint is seen: a collar around the outside by its reach."""
    return line.below if isinstance(line, CollarLine) and line.place == "outside" else 0.0


def last_seam_under(whole: Stretch, limit: float) -> float:
    """The highest station whose zone ends at or under a limit, the zone growing as here.

    Where the zone's top falls as the station grows, all of the stretch or none.
    """
    slope = whole.zone_slope
    if slope <= -1.0:
        return whole.high if whole.low + whole.zone_low <= limit else -math.inf
    if slope == 0.0:
        return limit - whole.zone_low
    return whole.low + (limit - whole.low - whole.zone_low) / (1.0 + slope)


def clear_of(whole: Stretch, spans: list[Span]) -> list[Span]:
    """Stations whose zone does not reach into any of the spans, open at their ends."""
    below = whole.below
    near_enough = [
        (last_seam_under(whole, near), far + below)
        for near, far in spans
        if whole.low <= far + below and near <= whole.high + max(whole.zone_low, whole.zone_high)
    ]
    return outside_of(near_enough)


def _clear_of_ornament(
    spans: list[Span],
    ornament: Ornament,
    whole: Stretch,
    line: Line,
    guard: float,
    dropped: frozenset[Rule],
) -> list[Span]:
    """The seam plane keeps off every ornament, the zone off those that leave too little wall."""
    if "recesses" not in dropped:
        least = ornament.least_radius - line.run.off_axis
        enough = where_kept(
            [(whole.low, whole.high)],
            lambda stations: least - line.radius_needed(stations),
        )
        clear = clear_of(whole, [(ornament.start - guard, ornament.stop + guard)])
        spans = common(spans, merge(enough + clear))
    if "rings" not in dropped:
        foot, head = ornament.start - RING_MARGIN, ornament.stop + RING_MARGIN
        spans = common(spans, outside_of([(foot, head)]))
    return spans
