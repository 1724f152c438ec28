"""Resonances of a tube by plane waves through its sections: no perturbation, no end corrections.

Pressure and flow at one end of a cylinder follow from those at its other end by a 2 x 2 matrix
(Kinsler, Frey, Coppens, Sanders, Fundamentals of Acoustics, 4th ed., chapter 10, on pipes). With
flow times the imaginary unit and the air's impedance left out all of it is real.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

Section = tuple[float, float]
"""Length, mm, and area, mm2."""


def wave_number(sections: Sequence[Section], near: float, *, low_open: bool = True) -> float:
    """Of the mode nearest to a wave number, radians a mm, by halving; the high end is open.

    near : within a fifth of the right one, and of no other
    """
    low, high = 0.8 * near, 1.2 * near
    below = _left_over(sections, low, low_open=low_open)
    assert below * _left_over(sections, high, low_open=low_open) < 0.0
    for _ in range(80):
        middle = (low + high) / 2.0
        if _left_over(sections, middle, low_open=low_open) * below > 0.0:
            low = middle
        else:
            high = middle
    return low


def _left_over(sections: Sequence[Section], number: float, *, low_open: bool) -> float:
    """Pressure at the open high end, which a mode has none of."""
    state = np.array([0.0, 1.0] if low_open else [1.0, 0.0])
    for length, area in sections:
        cosine, sine = math.cos(number * length), math.sin(number * length)
        state = np.array([[cosine, -sine / area], [area * sine, cosine]]) @ state
    return float(state[0])


def cents_between(before: float, after: float) -> float:
    """From one frequency or wave number to another."""
    return 1200.0 * math.log2(after / before)
