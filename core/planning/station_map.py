"""A part from end to end: where a seam may lie, and why nowhere else."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from ..values import JointKind, Settings, Survey
from .closing_rules import Closed, closing_rules
from .closing_words import closing_words
from .intervals import GRAIN, Span, merge
from .seam_reach import Runs
from .seam_stretches import Rule, SeamField, Stretch
from .ways import Form

_SLIVER = 1e-6
"""Where ends of stretches lie nearer to each other, mm, they count as one."""

_KINDS: dict[Form, JointKind] = {
    "tenon": "tenon",
    "each": "tenon",
    "pins": "pins",
    "collar": "collar",
    "sleeve": "sleeve",
    "oring": "oring",
    "lapped": "lapped",
}


@dataclass(frozen=True, slots=True)
class MapStretch:
    """Stations that are alike: a seam may lie there, or may not for the same reasons.

    kinds : of the joints that may be made; none where it is closed
    engagement : mm, the shortest and the longest that some station of it may have
    cuts : which cuts, from 0, of plans of as many pieces as the one made can lie there
    rules : that close it, all of which would have to go; none where no joint would hold anyway
    reason : why it is closed, in words with numbers
    """

    low: float
    high: float
    kinds: tuple[JointKind, ...] = ()
    engagement: tuple[float, float] | None = None
    cuts: tuple[int, ...] = ()
    rules: tuple[Rule, ...] = ()
    reason: str = ""

    def __post_init__(self) -> None:
        assert self.low <= self.high
        assert bool(self.kinds) == (self.engagement is not None) == (not self.reason)

    @property
    def is_open(self) -> bool:
        """Whether a seam may lie there."""
        return bool(self.kinds)


@dataclass(frozen=True, slots=True)
class StationMap:
    """All stretches, each starting where the last one stops; one may be a single station."""

    stretches: tuple[MapStretch, ...]

    def __post_init__(self) -> None:
        assert all(one.high == other.low for one, other in pairwise(self.stretches))


def map_stations(survey: Survey, settings: Settings, windows: Sequence[Runs]) -> StationMap:
    """The whole part from station 0 to its length.

    Parameters
    ----------
    windows : for each cut of a plan, where it can lie
    """
    field = SeamField(survey, settings)
    stretches = field.every_stretch()
    opened = _apart(merge((stretch.low, stretch.high) for stretch in stretches))
    marks, points = _marks(field, stretches, windows)
    found = _closed(field, _between(opened, survey.length))
    for span in opened:
        found += _opened(field, stretches, windows, _cut_at(span, marks, points))
    return StationMap(tuple(sorted(found, key=lambda stretch: (stretch.low, stretch.high))))


def _between(opened: Sequence[Span], length: float) -> list[Span]:
    """What open spans leave of the part."""
    lows = [0.0, *(high for _, high in opened)]
    highs = [*(low for low, _ in opened), length]
    return [(low, high) for low, high in zip(lows, highs, strict=True) if low < high]


def _apart(spans: Iterable[Span]) -> list[Span]:
    """Spans, those that a sliver parts as one."""
    joined: list[Span] = []
    for low, high in spans:
        if joined and low - joined[-1][1] <= _SLIVER:
            joined[-1] = (joined[-1][0], high)
        else:
            joined.append((low, high))
    return joined


def _marks(
    field: SeamField, stretches: Sequence[Stretch], windows: Sequence[Runs]
) -> tuple[list[float], set[float]]:
    """Where kinds of joint, or the cuts that can lie there, may change; for one station only."""
    by_kind: dict[JointKind, list[Span]] = {}
    for stretch in stretches:
        kind = _KINDS[field.ways[stretch.way].form]
        by_kind.setdefault(kind, []).append((stretch.low, stretch.high))
    spans = [span for found in by_kind.values() for span in merge(found)]
    spans += [span for window in windows for span in _spans(window)]
    points = {low for low, high in spans if high - low <= _SLIVER}
    wide = {end for low, high in spans if high - low > _SLIVER for end in (low, high)}
    return sorted(points | wide), points


def _spans(window: Runs) -> list[Span]:
    return merge(zip(window.low.tolist(), window.high.tolist(), strict=True))


def _cut_at(span: Span, marks: Iterable[float], points: Container[float] = ()) -> list[Span]:
    """A span cut at marks, but no slivers off it; some of the marks are spans of their own."""
    ends = [span[0]]
    for mark in marks:
        if ends[-1] + _SLIVER < mark < span[1] - _SLIVER:
            ends += [mark, mark] if mark in points else [mark]
    return list(pairwise([*ends, span[1]]))


def _opened(
    field: SeamField, stretches: Sequence[Stretch], windows: Sequence[Runs], spans: Iterable[Span]
) -> list[MapStretch]:
    """Open stretches, neighbours with the same kinds and cuts as one."""
    found: list[MapStretch] = []
    for low, high in spans:
        inner = _within(low, high)
        here = [stretch for stretch in stretches if _overlap((stretch.low, stretch.high), inner)]
        engagements = [stretch.engagement for stretch in here]
        kinds = {_KINDS[field.ways[stretch.way].form] for stretch in here}
        found.append(
            MapStretch(
                low,
                high,
                tuple(sorted(kinds)),
                (min(engagements), max(engagements)),
                tuple(
                    number
                    for number, window in enumerate(windows)
                    if any(_overlap(span, inner) for span in _spans(window))
                ),
            )
        )
    return _merged(found)


def _within(low: float, high: float) -> Span:
    """A span without what touches its ends only; a sliver or a single station as it is."""
    if high - low <= 2.0 * _SLIVER:
        return low, high
    return low + _SLIVER, high - _SLIVER


def _overlap(one: Span, other: Span) -> bool:
    return one[0] <= other[1] + GRAIN and other[0] <= one[1] + GRAIN


def _merged(stretches: Iterable[MapStretch]) -> list[MapStretch]:
    merged: list[MapStretch] = []
    for stretch in stretches:
        last = merged[-1] if merged else None
        if last is not None and (last.kinds, last.cuts) == (stretch.kinds, stretch.cuts):
            assert last.engagement is not None
            assert stretch.engagement is not None
            both = (*last.engagement, *stretch.engagement)
            merged[-1] = replace(last, high=stretch.high, engagement=(min(both), max(both)))
        else:
            merged.append(stretch)
    return merged


def _closed(field: SeamField, gaps: Sequence[Span]) -> list[MapStretch]:
    """What lies between open stretches, parted by what closes it."""
    closed = [
        (part, rules)
        for span, rules in closing_rules(field.survey, field.settings, gaps)
        for part in (_cut_at(span, _wall_ends(field)) if not rules else [span])
    ]
    found: list[MapStretch] = []
    for gap in gaps:
        here = [one for one in closed if gap[0] <= one[0][0] and one[0][1] <= gap[1]]
        for (low, high), rules in _without_slivers(here, gap):
            reason = closing_words(field, rules, (low, high))
            if found and found[-1].high == low and found[-1].reason == reason:
                found[-1] = replace(found[-1], high=high)
            else:
                found.append(MapStretch(low, high, rules=rules, reason=reason))
    return found


def _without_slivers(closed: Sequence[Closed], gap: Span) -> list[Closed]:
    """The parts of a gap, slivers given to their neighbours, and neighbours alike as one."""
    wide = [one for one in closed if one[0][1] - one[0][0] > _SLIVER] or closed[:1]
    ends = [gap[0], *(one[0][0] for one in wide[1:]), gap[1]]
    spans = [(span, rules) for span, (_, rules) in zip(pairwise(ends), wide, strict=True)]
    joined: list[Closed] = []
    for span, rules in spans:
        if joined and rules and joined[-1][1] == rules:
            joined[-1] = ((joined[-1][0][0], span[1]), rules)
        else:
            joined.append((span, rules))
    return joined


def _wall_ends(field: SeamField) -> list[float]:
    """Where runs of wall start and stop."""
    return sorted({end for way in field.ways for end in (way.run.start, way.run.stop)})
