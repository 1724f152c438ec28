"""Where a joint's keys and witness marks go: a pattern of its own for each cut of a part.

Two keys at one angle to each other seat in one rotation only; at another angle than any
other cut's they fit no other socket, however turned. Nicks beside the first key count the
cuts from the low end.
"""

from __future__ import annotations

import math

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


def second_turn(number: int, count: int, least: float) -> float:
    """Angle, radians, from the first key of a cut to its second.

    Parameters
    ----------
    number, count : which cut from the low end, from 0, and how many there are
    least : radians, what both keys and the web between them take
    """
    low = max(LEAST_TURN, least)
    room = max(MOST_TURN - low, 0.0)
    steps = max(1, min(count, math.floor(room / LEAST_STEP)))
    return low + room * (number % steps + 0.5) / steps


def patterns_available(least: float) -> int:
    """How many cuts can have patterns of their own."""
    return max(1, math.floor((MOST_TURN - max(LEAST_TURN, least)) / LEAST_STEP))


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
