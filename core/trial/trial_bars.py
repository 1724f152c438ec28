"""Raised bars that number a ring: upright from the bed, so that they print unsupported."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import FloatArray

_LINES_WIDE, _LINES_PROUD = 3.0, 2.0
"""Of the nozzle; fewer lines are lost in a print."""

LEAST_WIDE, LEAST_PROUD = 1.2, 0.8
"""mm; common practice, no source."""

_SPACING = 6.0
"""Between the middles of two bars, mm: so far apart a finger tells them."""

_MOST_TURN = math.radians(60.0)
"""Between two bars; five leave a gap that tells where they begin."""

_SHORT_SHARE = 0.6
"""Of the ring's height, that all bars but the first have."""


@dataclass(frozen=True, slots=True)
class Bars:
    """Where bars stand on a ring of a radius, mm and radians.

    first : angle of the first, the long one
    turn : from one to the next
    """

    radius: float
    wide: float
    proud: float
    first: float
    turn: float

    @property
    def half_width(self) -> float:
        """Half the angle that a bar covers."""
        return self.wide / 2.0 / self.radius

    def angles(self, number: int) -> FloatArray:
        """(n,) middles of the bars of the n-th ring."""
        angles: FloatArray = self.first + self.turn * np.arange(number)
        return angles

    def short_height(self, height: float) -> float:
        """Height, mm, of all bars but the first, on a ring of a height."""
        return _SHORT_SHARE * height

    def volume(self, number: int, height: float) -> float:
        """Of the bars of the n-th ring, mm3."""
        area = self.half_width * ((self.radius + self.proud) ** 2 - self.radius**2)
        return area * (height + (number - 1) * self.short_height(height))


def bars_of(radius: float, nozzle: float, first: float) -> Bars:
    """Bars that a nozzle can print, on a ring of a radius."""
    return Bars(
        radius=radius,
        wide=max(LEAST_WIDE, _LINES_WIDE * nozzle),
        proud=max(LEAST_PROUD, _LINES_PROUD * nozzle),
        first=first,
        turn=min(_SPACING / radius, _MOST_TURN),
    )
