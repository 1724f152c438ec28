"""Sets of stations as lists of closed spans, ascending. A span may be one single point."""

from __future__ import annotations

import math
from collections.abc import Iterable

Span = tuple[float, float]

GRAIN = 1e-9
"""Spans inverted by less, mm, count as one point: sums of stations round off under 1e-12."""


def merge(spans: Iterable[Span]) -> list[Span]:
    """The union, with spans that touch made one."""
    merged: list[Span] = []
    for low, high in sorted(spans):
        if merged and low <= merged[-1][1] + GRAIN:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        else:
            merged.append((low, high))
    return merged


def common(first: Iterable[Span], second: Iterable[Span]) -> list[Span]:
    """The stations in both sets."""
    others = list(second)
    found = []
    for low, high in first:
        for other_low, other_high in others:
            start, stop = max(low, other_low), min(high, other_high)
            if start <= stop:
                found.append((start, stop))
            elif start - stop <= GRAIN:
                found.append(((start + stop) / 2.0,) * 2)
    return merge(found)


def outside_of(blocked: Iterable[Span]) -> list[Span]:
    """All stations that lie in none of the spans, which are open at their ends."""
    left: list[Span] = []
    start = -math.inf
    for low, high in sorted(blocked):
        if start <= low:
            left.append((start, low))
        elif start - low <= GRAIN:
            left.append(((start + low) / 2.0,) * 2)
        start = max(start, high)
    return [*left, (start, math.inf)]


def subtract(spans: Iterable[Span], removed: Span) -> list[Span]:
    """What lies outside of a removed span; its ends stay."""
    left = []
    for low, high in spans:
        if low < removed[0]:
            left.append((low, min(high, removed[0])))
        if high > removed[1]:
            left.append((max(low, removed[1]), high))
    return merge(left)


def nearest(spans: Iterable[Span], station: float) -> float | None:
    """The station of the set that lies nearest; None of an empty set."""
    reachable = [min(max(station, low), high) for low, high in spans]
    return min(reachable, key=lambda other: (abs(other - station), other), default=None)
