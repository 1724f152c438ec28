"""A straight pipe, open at both ends or at one, and how it sounds.

Effective lengths are as long as the pipe with its end corrections, mm. `place` is measured along
that length, from its low end.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

UNFLANGED = 0.6133
"""Of the radius: how far the air beyond an open end without a flange lengthens a pipe, at
wavelengths much longer than it is wide, from a wall without thickness; a thick wall gives more,
up to `FLANGED`. H. Levine, J. Schwinger, On the radiation of sound from an unflanged circular
pipe, Physical Review 73 (1948) 383-406."""

FLANGED = 0.8217
"""The same in a wide flat wall. Y. Nomura, I. Yamamura, S. Inawashiro, On the acoustic radiation
from a flanged circular pipe, Journal of the Physical Society of Japan 15 (1960) 510-517."""


@dataclass(frozen=True, slots=True)
class Pipe:
    """A pipe of one width.

    length : mm, of the pipe itself
    radius : mm
    low_open, high_open : are its ends open? One at least is
    low_radius, high_radius : mm, at its ends
    correction : of an open end, in radii of it
    """

    length: float
    radius: float
    low_radius: float
    high_radius: float
    low_open: bool = True
    high_open: bool = True
    correction: float = UNFLANGED

    def __post_init__(self) -> None:
        assert min(self.length, self.radius) > 0.0
        assert self.low_open or self.high_open

    @property
    def low_correction(self) -> float:
        """mm, by which it is longer beyond its low end."""
        return self.correction * self.low_radius if self.low_open else 0.0

    @property
    def high_correction(self) -> float:
        """mm, by which it is longer beyond its high end."""
        return self.correction * self.high_radius if self.high_open else 0.0

    @property
    def effective_length(self) -> float:
        """mm, end corrections counted."""
        return self.low_correction + self.length + self.high_correction

    @property
    def area(self) -> float:
        """mm2, of its section."""
        return math.pi * self.radius**2

    @property
    def volume(self) -> float:
        """mm3, of its effective length."""
        return self.area * self.effective_length

    @property
    def is_open(self) -> bool:
        """Is it open at both ends?"""
        return self.low_open and self.high_open

    def wave_number(self, mode: int) -> float:
        """Radians a mm, of its nth mode: n half waves, or n half waves less a quarter.

        Of a pipe closed at one end these are the odd harmonics.
        """
        halves = mode if self.is_open else mode - 0.5
        return halves * math.pi / self.effective_length

    def frequency(self, mode: int, speed_m_s: float) -> float:
        """Hz, of its nth mode, from the speed of sound."""
        return speed_m_s * 1000.0 * self.wave_number(mode) / (2.0 * math.pi)
