"""Texts that go with a drawing: columns of notes with leaders, numbers of pieces."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from .dimensions import ROW, arrow, spread
from .svg import TEXT_SIZE, Pen, Point, TextBox

PAPER = (180.0, 245.0)
"""What of a page a drawing may take, mm: A4 and Letter upright, with margins of 15."""

HALF_CAPITAL = 0.36 * TEXT_SIZE
"""Of a capital's height, mm: by which a base line lies under the middle of its text."""

BALLOON = 2.9
"""Radius of the circle around a piece's number, mm."""

_LEADER = 4.0
"""Room for a leader to bend, mm, beside its text."""


@dataclass(frozen=True, slots=True)
class Note:
    """Words that tell something about a place on paper.

    end : of the leader: on an outline an arrow, within one a dot, on another line none (ISO 128-2)
    """

    place: Point
    text: str
    end: Literal["arrow", "dot", "none"] = "arrow"


def draw_notes(pen: Pen, notes: Sequence[Note], edge: float, side: float) -> None:
    """Notes in a column beside what they are about, each with a leader to its place.

    Parameters
    ----------
    edge : mm, where the leaders leave the drawing
    side : 1 for a column to the right, -1 for one to the left
    """
    ordered = sorted(notes, key=lambda note: note.place[1])
    heights = spread([note.place[1] for note in ordered], [ROW] * len(ordered))
    for note, y in zip(ordered, heights, strict=True):
        bend = edge + side * _LEADER, y
        pen.line("narrow", bend, note.place)
        apart = max(math.dist(bend, note.place), 1e-6)
        toward = (note.place[0] - bend[0]) / apart, (note.place[1] - bend[1]) / apart
        if note.end == "arrow":
            arrow(pen, note.place, toward)
        elif note.end == "dot":
            pen.circle("dot", note.place, 0.5)
        text = bend[0] + side * 0.8, y + HALF_CAPITAL
        pen.text(note.text, text, "start" if side > 0.0 else "end")


def draw_balloon(pen: Pen, centre: Point, number: str, dot: Point | None = None) -> None:
    """A piece's number in a circle, and a line from there to a dot on the piece."""
    x, y = centre
    pen.kept_free.append(TextBox(number, x - BALLOON, y - BALLOON, 2.0 * BALLOON, 2.0 * BALLOON))
    pen.circle("narrow", centre, BALLOON)
    pen.text(number, (x, y + HALF_CAPITAL), "middle")
    if dot is not None:
        share = BALLOON / math.dist(centre, dot)
        pen.line("narrow", (x + share * (dot[0] - x), y + share * (dot[1] - y)), dot)
        pen.circle("dot", dot, 0.5)
