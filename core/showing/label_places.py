"""Where words go on the screen so that none overlap. Lengths are pixels, y up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, low, right, high."""

SPACE = 2.0
"""Between the words of two labels."""


@dataclass(frozen=True, slots=True)
class Words:
    """A label on the screen.

    low, high : the ends of what it belongs to
    width, height : of its text
    shift : how its lower left corner lies from its place, as shares of width and height
    steps : by how many of its heights it may be moved up, nearest first
    room : pixels that must be seen of what it belongs to
    """

    low: Point
    high: Point
    width: float
    height: float
    shift: Point
    steps: tuple[float, ...] = (1.0, -1.0, 2.0, -2.0)
    room: float = 0.0


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a label went.

    corner : lower left of its text
    anchor : the place that it belongs to
    moved : whether it lies over or under its place
    aside : whether it lies beside where it was wished, for the screen ends there
    """

    corner: Point
    anchor: Point
    moved: bool
    aside: bool


def place_words(labels: Sequence[Words], screen: Box) -> list[Placed | None]:
    """A place for each label, earlier ones first; None where there is none on the screen."""
    taken: list[Box] = []
    found: list[Placed | None] = []
    for label in labels:
        seen = seen_part(label.low, label.high, screen)
        placed = None
        if seen is not None and math.dist(*seen) >= label.room:
            placed = _free_place(label, _middle(*seen), screen, taken)
        if placed is not None:
            taken.append(_box(label, placed.corner))
        found.append(placed)
    return found


def seen_part(low: Point, high: Point, screen: Box) -> tuple[Point, Point] | None:
    """The ends of what of a straight line lies on the screen; None: nothing does."""
    start, stop = 0.0, 1.0
    for axis in (0, 1):
        step, edges = high[axis] - low[axis], (screen[axis], screen[axis + 2])
        if abs(step) < 1e-9:
            if not edges[0] <= low[axis] <= edges[1]:
                return None
            continue
        shares = sorted((edge - low[axis]) / step for edge in edges)
        start, stop = max(start, shares[0]), min(stop, shares[1])
    if start > stop:
        return None
    return _between(low, high, start), _between(low, high, stop)


def _between(low: Point, high: Point, share: float) -> Point:
    return low[0] + share * (high[0] - low[0]), low[1] + share * (high[1] - low[1])


def _middle(low: Point, high: Point) -> Point:
    return _between(low, high, 0.5)


def _free_place(label: Words, anchor: Point, screen: Box, taken: list[Box]) -> Placed | None:
    """The nearest place where nothing else stands; sideways it stays on the screen."""
    wished = anchor[0] + label.shift[0] * label.width
    left = max(screen[0], min(wished, screen[2] - label.width))
    for step in (0.0, *label.steps):
        corner = (
            left,
            anchor[1] + label.shift[1] * label.height + step * (label.height + SPACE),
        )
        if not any(_overlap(_box(label, corner), other) for other in taken):
            return Placed(corner, anchor, moved=step != 0.0, aside=left != wished)
    return None


def _box(label: Words, corner: Point) -> Box:
    return corner[0], corner[1], corner[0] + label.width, corner[1] + label.height


def _overlap(one: Box, other: Box) -> bool:
    return (
        one[0] < other[2] + SPACE
        and other[0] < one[2] + SPACE
        and one[1] < other[3] + SPACE
        and other[1] < one[3] + SPACE
    )
