"""Which rules close stations to seams: those that all have to go before one may lie there."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from ..jointing.joint_design import LEAST_ENGAGEMENT
from ..values import Settings, Survey
from .intervals import Span, common, merge, outside_of
from .seam_stretches import RULES, Rule, seam_stretches

Closed = tuple[Span, tuple[Rule, ...]]
"""A span of stations and the rules that close it; no rules: nothing there holds a joint at all."""


def closing_rules(survey: Survey, settings: Settings, spans: Iterable[Span]) -> list[Closed]:
    """Closed spans of stations, parted by the rules that close them.

    With all rules dropped they are taken up again one after another, each wherever the
    station stays open to some joint, of any engagement that may be taken. Those left over
    are a least set: dropping just them opens the station, and dropping all but any of them
    does not.

    Parameters
    ----------
    spans : where every rule kept leaves no seam; a single station may be one
    """

    @cache
    def open_spans(dropped: frozenset[Rule]) -> list[Span]:
        found = seam_stretches(survey, settings, LEAST_ENGAGEMENT, dropped)
        return merge((stretch.low, stretch.high) for stretch in found)

    def part(spans: list[Span], dropped: frozenset[Rule], left: tuple[Rule, ...]) -> list[Closed]:
        if not left:
            told = tuple(rule for rule in RULES if rule in dropped)
            return [(span, told) for span in spans]
        fewer = dropped - {left[0]}
        opened, closed = _parted(spans, open_spans(fewer))
        return [*part(opened, fewer, left[1:]), *part(closed, dropped, left[1:])] if spans else []

    opened, nowhere = _parted(list(spans), open_spans(frozenset(RULES)))
    parted = part(opened, frozenset(RULES), RULES)
    return sorted([*parted, *((span, ()) for span in nowhere)])


def _parted(spans: list[Span], opened: list[Span]) -> tuple[list[Span], list[Span]]:
    """What of the spans lies in the open ones, and what does not."""
    inside: list[Span] = []
    outside: list[Span] = []
    for span in spans:
        if span[0] == span[1]:
            (inside if common([span], opened) else outside).append(span)
            continue
        inside += _wide(common([span], opened))
        outside += _wide(common([span], outside_of(opened)))
    return inside, outside


def _wide(spans: Iterable[Span]) -> list[Span]:
    return [(low, high) for low, high in spans if low < high]
