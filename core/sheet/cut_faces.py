"""The faces that a plane cuts, on paper: outlines and hatching, within a window or whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import cycle

import numpy as np

from ..values import FloatArray, Piece
from .cross_sections import Loops, Window, clipped, enclosed_area, hatch_lines, sides_of
from .svg import Line, Pen, Point

_HATCH, _THIN_HATCH = 1.6, 0.9
"""Between lines of hatching, mm; where what is cut is thinner than 2 mm on paper."""

_THIN = 2.0

_WIDER = 1.7
"""By which the hatching of collars and sleeves is wider than that of what they hold."""


@dataclass(frozen=True, slots=True)
class Placing:
    """Where a section lies on paper: so many mm for one of the part, its zero at a place."""

    factor: float
    zero: Point = (0.0, 0.0)

    def at(self, across: float, station: float) -> Point:
        """Where a point of the section lies on paper."""
        return self.zero[0] + across * self.factor, self.zero[1] - station * self.factor

    def all_at(self, points: FloatArray) -> FloatArray:
        """(..., 2) mm on paper, of points of the section."""
        moved: FloatArray = points * [self.factor, -self.factor] + list(self.zero)
        return moved


@dataclass(frozen=True, slots=True)
class Hatching:
    """How a piece is hatched in all its sections, at 45 degrees.

    lean : 1 for lines that rise to the right, -1 for lines that fall
    spread : lines are so many times farther apart than is usual
    """

    lean: float
    spread: float = 1.0


def hatchings_of(pieces: Sequence[Piece]) -> tuple[Hatching, ...]:
    """Of each piece: neighbours lean the other way; a ring over two of them is hatched wider."""
    leans = cycle((-1.0, 1.0))
    return tuple(
        Hatching(next(leans)) if piece.role == "piece" else Hatching(1.0, _WIDER)
        for piece in pieces
    )


def draw_cut_face(
    pen: Pen,
    placing: Placing,
    loops: Loops,
    hatching: Hatching,
    *,
    mark: str = "",
    line: Line = "outline",
    window: Window | None = None,
) -> None:
    """The outlines of what is cut of a piece, and its hatching.

    Parameters
    ----------
    mark : says in the file what they are of
    window : nothing outside of it is drawn, in mm of the part
    """
    drawn = [placing.all_at(loop) for loop in loops]
    spacing = hatching.spread * (_THIN_HATCH if _is_thin(drawn) else _HATCH)
    hatched = hatch_lines(drawn, spacing, hatching.lean)
    if window is None:
        pen.segments("hatch", hatched)
        pen.outlines(line, drawn, mark)
        return
    seen = _on_paper(placing, window)
    pen.segments("hatch", clipped(hatched, seen))
    if drawn:
        sides = np.concatenate([sides_of(loop) for loop in drawn])
        pen.segments(line, clipped(sides, seen), mark)


def _on_paper(placing: Placing, window: Window) -> Window:
    left, low = placing.at(window.left, window.high)
    right, high = placing.at(window.right, window.low)
    return Window(left, right, low, high)


def _is_thin(drawn: Sequence[FloatArray]) -> bool:
    """Whether what is cut is narrow on paper: its area by half the length of its outlines."""
    around = sum(float(np.hypot(*(loop - np.roll(loop, 1, axis=0)).T).sum()) for loop in drawn)
    return enclosed_area(drawn) < _THIN * around / 2.0
