"""Where a seam may lie: the exact stretches of stations that every rule leaves.

Nothing is sampled. On a part of a span where the joint's sizes are linear in
the station each rule is solved in closed form, so a stretch of a single point
is found as surely as a wide one.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np

from ..jointing.joint_design import (
    ENGAGEMENT_STEP,
    ENGAGEMENT_TIE,
    LEAST_ENGAGEMENT,
    MOST_ENGAGEMENT,
    SHORT_ENGAGEMENT_SHARE,
    mid_wall_diameter,
    shortest_engagement,
    usual_engagement,
)
from ..jointing.joint_line import JointLine, where_kept
from ..values import Ornament, Settings, Survey
from .intervals import Span, common, merge, outside_of, subtract

Rule = Literal["wall", "tip", "holes", "bore ornaments", "recesses", "rings"]
RULES: tuple[Rule, ...] = ("wall", "tip", "holes", "bore ornaments", "recesses", "rings")

END_MARGIN = 1.0
"""Least distance, mm, of a joint's zone from the part's ends."""

RING_MARGIN = 1.0
"""Least distance, mm, of a seam plane from an ornament of the outside."""

NO_RULES: frozenset[Rule] = frozenset()


@dataclass(frozen=True, slots=True)
class Stretch:
    """Stations at which a seam may lie, all of one engagement.

    zone_low, zone_high : mm, height of the joint's zone at either end, linear between
    """

    low: float
    high: float
    engagement: float
    zone_low: float
    zone_high: float

    def zone_at(self, station: float) -> float:
        """Height of the joint's zone, mm, for a seam at a station."""
        return self.zone_low + self.zone_slope * (station - self.low)

    @property
    def zone_slope(self) -> float:
        """Growth of the zone's height with the station."""
        width = self.high - self.low
        return (self.zone_high - self.zone_low) / width if width > 0.0 else 0.0


@dataclass(frozen=True, slots=True)
class EngagementStrip:
    """A span of stations and the engagements that may be taken there, least and most."""

    low: float
    high: float
    least: float
    most: float


def seam_stretches(
    survey: Survey,
    settings: Settings,
    cap: float | None = None,
    dropped: frozenset[Rule] = NO_RULES,
) -> list[Stretch]:
    """The stretches where a joint can be made, whatever the heights of the pieces.

    Parameters
    ----------
    cap : mm, shorten engagements down to this, but no further than the trade
        bears; None: the usual engagement. Of no effect where the user gave one.
    dropped : rules to be passed over, to learn which of them binds
    """
    found = []
    for strip in engagement_strips(survey, settings, cap):
        left = [(strip.low, strip.high)]
        engagement = strip.least
        while left and engagement <= strip.most:
            line = joint_line(survey, settings, engagement)
            for part in line.linear_parts(strip.low, strip.high):
                tip = [part] if "tip" in dropped else where_kept(part, line.parallel_spare)
                for span in common(left, tip):
                    found += _stretches_in(span, line, survey, settings, dropped)
                for span in tip:
                    left = subtract(left, span)
            engagement += ENGAGEMENT_STEP
    return sorted(found, key=lambda stretch: (stretch.low, stretch.high))


def joint_line(survey: Survey, settings: Settings, engagement: float) -> JointLine:
    """The sizes of a joint of one engagement along this part."""
    return JointLine(
        survey.bore, survey.outside, engagement, settings.clearance, settings.least_wall
    )


def round_span(survey: Survey) -> Span:
    """The stretch of the part that has both a round bore and a round outside."""
    low = max(survey.bore.start, survey.outside.start, 0.0)
    return low, max(low, min(survey.bore.stop, survey.outside.stop, survey.length))


def engagement_strips(
    survey: Survey, settings: Settings, cap: float | None
) -> list[EngagementStrip]:
    """The round stretch, cut where the engagement goes from one half millimetre to the next."""
    low, high = round_span(survey)
    if settings.engagement is not None:
        return [EngagementStrip(low, high, settings.engagement, settings.engagement)]
    strips: list[EngagementStrip] = []
    ends = [low, *_engagement_breaks(survey, low, high), high]
    for start, stop in pairwise(ends):
        diameter = mid_wall_diameter(survey.bore, survey.outside, (start + stop) / 2.0)
        most = usual_engagement(diameter)
        least = most if cap is None else min(most, max(cap, shortest_engagement(diameter)))
        if strips and (strips[-1].least, strips[-1].most) == (least, most):
            strips[-1] = EngagementStrip(strips[-1].low, stop, least, most)
        else:
            strips.append(EngagementStrip(start, stop, least, most))
    return strips


def _engagement_breaks(survey: Survey, low: float, high: float) -> list[float]:
    """Stations where `usual_engagement` or `shortest_engagement` steps."""
    ends = [mid_wall_diameter(survey.bore, survey.outside, z) for z in (low, high)]
    if ends[0] == ends[1]:
        return []
    steps = np.arange(LEAST_ENGAGEMENT, MOST_ENGAGEMENT, ENGAGEMENT_STEP)
    usual = 2.0 * steps + ENGAGEMENT_STEP * (1.0 - 2.0 * ENGAGEMENT_TIE)
    shortest = steps / SHORT_ENGAGEMENT_SHARE
    diameters = np.concatenate([usual, shortest])
    stations = low + (diameters - ends[0]) * (high - low) / (ends[1] - ends[0])
    return sorted({float(z) for z in stations if low < z < high})


def _stretches_in(
    span: Span,
    line: JointLine,
    survey: Survey,
    settings: Settings,
    dropped: frozenset[Rule],
) -> list[Stretch]:
    spans = [span] if "wall" in dropped else where_kept(span, line.wall_spare)
    found = []
    for low, high in spans:
        zones = line.zone(np.array([low, high]))
        whole = Stretch(low, high, line.engagement, float(zones[0]), float(zones[1]))
        for start, stop in _clear_spans(whole, line, survey, settings, dropped):
            ends = whole.zone_at(start), whole.zone_at(stop)
            found.append(Stretch(start, stop, line.engagement, *ends))
    return found


def _clear_spans(
    whole: Stretch,
    line: JointLine,
    survey: Survey,
    settings: Settings,
    dropped: frozenset[Rule],
) -> list[Span]:
    """Stations of a stretch whose zone is clear of ends, holes and ornaments."""
    low, high = round_span(survey)
    bottom = max(low, END_MARGIN)
    top = last_seam_under(whole, min(high, survey.length - END_MARGIN))
    spans = common([(whole.low, whole.high)], [(bottom, top)]) if bottom <= top else []
    spans = common(spans, clear_of(whole, keep_away(survey, settings, dropped)))
    for ornament in survey.ornaments:
        if ornament.place == "outside":
            spans = _clear_of_ornament(spans, ornament, whole, line, settings.guard, dropped)
    return spans


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


def last_seam_under(whole: Stretch, limit: float) -> float:
    """The highest station whose zone ends at or under a limit, the zone growing as here."""
    slope = whole.zone_slope
    if slope == 0.0:
        return limit - whole.zone_low
    return whole.low + (limit - whole.low - whole.zone_low) / (1.0 + slope)


def clear_of(whole: Stretch, spans: list[Span]) -> list[Span]:
    """Stations whose zone does not reach into any of the spans, open at their ends."""
    near_enough = [
        (last_seam_under(whole, near), far)
        for near, far in spans
        if whole.low <= far and near <= whole.high + max(whole.zone_low, whole.zone_high)
    ]
    return outside_of(near_enough)


def _clear_of_ornament(
    spans: list[Span],
    ornament: Ornament,
    whole: Stretch,
    line: JointLine,
    guard: float,
    dropped: frozenset[Rule],
) -> list[Span]:
    """The seam plane keeps off every ornament, the zone off those that leave too little wall."""
    if "recesses" not in dropped:
        relief = line.relief((whole.low + whole.high) / 2.0)
        enough = where_kept(
            (whole.low, whole.high),
            lambda stations: ornament.least_radius - line.radius_needed(stations, relief),
        )
        clear = clear_of(whole, [(ornament.start - guard, ornament.stop + guard)])
        spans = common(spans, merge(enough + clear))
    if "rings" not in dropped:
        foot, head = ornament.start - RING_MARGIN, ornament.stop + RING_MARGIN
        spans = common(spans, outside_of([(foot, head)]))
    return spans
