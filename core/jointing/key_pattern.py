"""Where a joint's keys and witness marks go: a pattern of its own for each cut of a part.

Two keys at one angle to each other seat in one rotation only; at another angle than any
other cut's they fit no other socket, however turned. Where there are more cuts than such
angles, it is the pair of angles at its two ends that no other piece has. Nicks beside the
first key count the cuts from the low end.
"""

from __future__ import annotations

import math
from itertools import islice

LEAST_TURN, MOST_TURN = math.radians(60.0), math.radians(160.0)
"""Between the two keys of a joint; well off a half turn, which would fit both ways."""

LEAST_STEP = math.radians(3.5)
"""Between the turns of two cuts: more than the play of both keys in both their grooves."""

LEAST_WEB = 1.2
"""Three lines of a 0.4 nozzle, mm, between two keys."""

MARK_WIDTH = 1.0
"""A nick along the outline, mm: two and a half lines of a 0.4 nozzle."""

FIVE_WIDTH = 2.2
"""A nick that stands for five, mm."""

MARK_GAP = 1.2
"""Between nicks, and from the key to the first, mm along the outline."""


def second_turn(number: int, count: int, least: float, step: float = LEAST_STEP) -> float:
    """Angle, radians, from the first key of a cut to its second.

    Parameters
    ----------
    number, count : which cut from the low end, from 0, and how many there are
    least : radians, what both keys and the web between them take
    step : radians, between the turns of two cuts
    """
    low = max(LEAST_TURN, least)
    room = max(MOST_TURN - low, 0.0)
    steps = min(count, patterns_available(least, step))
    return low + room * (pattern_of(number, count, steps) + 0.5) / steps


def patterns_available(least: float, step: float = LEAST_STEP) -> int:
    """How many turns there are for cuts to have."""
    return max(1, math.floor((MOST_TURN - max(LEAST_TURN, least)) / step))


def pattern_of(number: int, count: int, patterns: int) -> int:
    """Which of some patterns a cut has: its own, or where there are more cuts one of a pair.

    A piece fits in another's place only where both its ends do. With more cuts than
    patterns no two pieces have the same pattern below and the same above: of k patterns
    that is so up to k^2 + 1 cuts.
    """
    if count <= patterns:
        return number
    # every ordered pair is next to each other once: 0 0 1 0 2 1 1 2 2 of three
    sequence = (k for low in range(patterns) for k in _pairs_from(low, patterns))
    return next(islice(sequence, number % patterns**2, None))


def _pairs_from(low: int, patterns: int) -> list[int]:
    return [low, *(k for high in range(low + 1, patterns) for k in (low, high))]


def mark_places(number: int, start: float, room: float) -> list[tuple[float, float]]:
    """Nicks that count a cut: middle and half width, mm along the outline, going one way.

    A wide nick is five, a narrow one is one: the sixth cut has a wide and a narrow one.
    Those that the room does not hold are left out, the last first.

    Parameters
    ----------
    number : which cut, from 0; the first has one nick
    start : mm, where the key ends
    room : mm, up to which they may go
    """
    fives, ones = divmod(number + 1, 5)
    places = []
    edge = start + MARK_GAP
    for width in [FIVE_WIDTH] * fives + [MARK_WIDTH] * ones:
        if edge + width > room:
            break
        places.append((edge + width / 2.0, width / 2.0))
        edge += width + MARK_GAP
    return places
