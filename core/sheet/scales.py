"""Scales that drawings are made to, and which of them fits."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from .svg import Point, short


@dataclass(frozen=True, slots=True)
class Scale:
    """So many mm on paper stand for so many of the part."""

    paper: int
    part: int

    @property
    def factor(self) -> float:
        """How many mm on paper stand for one of the part."""
        return self.paper / self.part

    @property
    def told(self) -> str:
        """As drawings state it: 1:2."""
        return f"{self.paper}:{self.part}"


SCALES = tuple(
    [Scale(enlarged, 1) for enlarged in (50, 20, 10, 5, 2)]
    + [Scale(1, step * power) for power in (1, 10, 100, 1000) for step in (1, 2, 5)]
)
"""Those of ISO 5455 (from memory), the largest first."""


def fitting_scale(extent: Point, room: Point, among: Iterable[Scale] = SCALES) -> Scale:
    """The largest scale at which an extent, mm of the part, fits a room, mm on paper."""
    scales = tuple(among)
    for scale in scales:
        if all(size * scale.factor <= most for size, most in zip(extent, room, strict=True)):
            return scale
    return scales[-1]


def told_length(length: float) -> str:
    """A length of the part, to 0.01 mm, without zeros at its end."""
    return short(length)
