"""Dimension lines in the manner of ISO 129-1, and columns of notes that never overlap.

Values stand over their lines, in mm without a unit, and those of upright lines run upwards,
to be read from the right. A value that is longer than its line stands over the line drawn on
beyond its end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..values import FloatArray
from .character_widths import ASCENT, DESCENT, text_width
from .svg import TEXT_SIZE, DimensionLine, Pen, Point

ARROW_LENGTH, ARROW_HALF_WIDTH = 2.5, 0.42
"""Of an arrowhead, mm: closed, filled, of some 19 degrees."""

TEXT_LIFT = 0.6 + DESCENT * TEXT_SIZE
"""From a dimension line up to the base line of its value, mm."""

ROW = (ASCENT + DESCENT) * TEXT_SIZE + 0.3
"""From the base line of a note to that of the next one below, mm."""

LINE_ROW = TEXT_LIFT + ASCENT * TEXT_SIZE + 1.0
"""From a dimension line to the next one beside it, mm, with the value between them."""

BEYOND = 1.5
"""How far an extension line goes on beyond its dimension line, mm."""

GAP = 0.8
"""Between an outline and the extension line that starts at it, mm."""


def arrow(pen: Pen, tip: Point, toward: Point) -> None:
    """An arrowhead at a tip that points along a unit direction."""
    (x, y), (along, down) = tip, toward
    back = x - along * ARROW_LENGTH, y - down * ARROW_LENGTH
    wide = -down * ARROW_HALF_WIDTH, along * ARROW_HALF_WIDTH
    corners = [tip, (back[0] + wide[0], back[1] + wide[1]), (back[0] - wide[0], back[1] - wide[1])]
    pen.outlines("arrow", [np.array(corners)])


def level_dimension(
    pen: Pen, left: float, right: float, y: float, text: str, factor: float, beyond: float
) -> float:
    """A level dimension line with its value; where that ends, mm, to the right.

    Parameters
    ----------
    factor : mm on paper for a mm of the part
    beyond : mm, right of which a value stands that is too long for its line
    """
    pen.dimensions.append(DimensionLine((left, y), (right, y), text, factor))
    width, apart = text_width(text, TEXT_SIZE), right - left
    within = apart > 2.0 * ARROW_LENGTH + 1.0
    outward = 1.0 if within else -1.0
    arrow(pen, (left, y), (-outward, 0.0))
    arrow(pen, (right, y), (outward, 0.0))
    if within and width < apart:
        pen.line("narrow", (left, y), (right, y))
        pen.text(text, ((left + right) / 2.0, y - TEXT_LIFT), "middle")
        return right
    start = max(right + (0.0 if within else 1.6 * ARROW_LENGTH), beyond) + 1.0
    stop = start + width
    pen.line("narrow", (left if within else left - 1.6 * ARROW_LENGTH, y), (stop, y))
    pen.text(text, (start, y - TEXT_LIFT))
    return stop


def upright_room(text: str) -> float:
    """Length, mm, that an upright dimension line has to have for its value."""
    return max(text_width(text, TEXT_SIZE), 2.0 * ARROW_LENGTH + 1.0)


def upright_dimension(
    pen: Pen, x: float, low: float, high: float, text: str, factor: float
) -> None:
    """An upright dimension line from y = low up to y = high, its value to the left of it."""
    pen.dimensions.append(DimensionLine((x, low), (x, high), text, factor))
    arrow(pen, (x, low), (0.0, 1.0))
    arrow(pen, (x, high), (0.0, -1.0))
    pen.line("narrow", (x, low), (x, high))
    pen.text(text, (x - TEXT_LIFT, (low + high) / 2.0), "middle", upwards=True)


def spread(wanted: Sequence[float], pitches: Sequence[float]) -> list[float]:
    """Places nearest to the wanted ones, in their order, each a pitch beyond the last.

    Minimises the sum of squares of the moves: pools of neighbours that push each other
    stand about the mean of what they want (Barlow and others 1972, isotonic regression).

    Parameters
    ----------
    wanted : ascending
    pitches : of each one, from the one before
    """
    shifts = np.cumsum(pitches) - pitches[0] if len(pitches) else np.zeros(0)
    pools: list[tuple[float, int]] = []
    for want in (np.asarray(wanted) - shifts).tolist():
        pools.append((want, 1))
        while len(pools) > 1 and pools[-2][0] >= pools[-1][0]:
            (last, count), (mean, before) = pools.pop(), pools.pop()
            pools.append(((mean * before + last * count) / (before + count), before + count))
    places = np.repeat([mean for mean, _ in pools], [count for _, count in pools])
    found: list[float] = (places + shifts).tolist()
    return found


def spread_within(
    wanted: Sequence[float], pitches: Sequence[float], low: float, high: float
) -> list[float]:
    """The same, kept between two places as far as they have room."""
    if not len(wanted):
        return []
    places = np.array(spread(wanted, pitches))
    shifts = np.cumsum(pitches) - pitches[0]
    most = high - (shifts[-1] - shifts)
    kept: list[float] = np.maximum(np.minimum(places, most), low + shifts).tolist()
    return kept


def columns_of(spans: Sequence[tuple[float, float]], apart: float) -> list[int]:
    """A column for each span, the first in which it is so far from all others."""
    ends: list[float] = []
    columns = [0] * len(spans)
    for number in sorted(range(len(spans)), key=lambda k: spans[k]):
        low, high = spans[number]
        free = next((k for k, end in enumerate(ends) if end + apart <= low), len(ends))
        ends[free : free + 1] = [high]
        columns[number] = free
    return columns


def break_line(left: Point, right: Point) -> FloatArray:
    """A freehand line, (n, 2), where a part is drawn no further."""
    shares = np.linspace(0.0, 1.0, 25)
    (x1, y1), (x2, y2) = left, right
    length = max(math.dist(left, right), 1e-9)
    sway = min(0.7, 0.08 * length) * np.sin(shares * 2.0 * math.pi * 1.5)
    across = (y1 - y2) / length, (x2 - x1) / length
    drawn: FloatArray = np.column_stack(
        [x1 + shares * (x2 - x1) + sway * across[0], y1 + shares * (y2 - y1) + sway * across[1]]
    )
    return drawn
