"""Resonances of a tube by plane waves through its sections: no perturbation, no end corrections.

Pressure and flow at one end of a cylinder follow from those at its other end by a 2 x 2 matrix
(Kinsler, Frey, Coppens, Sanders, Fundamentals of Acoustics, 4th ed., chapter 10, on pipes). With
flow times the imaginary unit and the air's impedance left out all of it is real.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from borewright.core.values import FloatArray

Element = Callable[[float], FloatArray]
"""Its (2, 2) matrix, by the wave number in radians a mm."""


def section(length: float, area: float) -> Element:
    """A cylinder, mm and mm2."""

    def matrix(number: float) -> FloatArray:
        cosine, sine = math.cos(number * length), math.sin(number * length)
        return np.array([[cosine, -sine / area], [area * sine, cosine]])

    return matrix


def open_hole(length: float, area: float) -> Element:
    """A cylinder beside the bore, mm and mm2, end corrections counted; it ends in no pressure."""

    def matrix(number: float) -> FloatArray:
        return np.array([[1.0, 0.0], [-area / math.tan(number * length), 1.0]])

    return matrix


def closed_hole(volume: float) -> Element:
    """A volume beside the bore, mm3."""

    def matrix(number: float) -> FloatArray:
        return np.array([[1.0, 0.0], [volume * number, 1.0]])

    return matrix


def wave_number(
    elements: Sequence[Element], near: float, *, low_open: bool = True, within: float = 0.2
) -> float:
    """Of the mode nearest to a wave number, radians a mm, by halving; the high end is open.

    near : as near as this share of it to the right one, and to no other
    """
    low, high = (1.0 - within) * near, (1.0 + within) * near
    below = _left_over(elements, low, low_open=low_open)
    assert below * _left_over(elements, high, low_open=low_open) < 0.0
    for _ in range(80):
        middle = (low + high) / 2.0
        if _left_over(elements, middle, low_open=low_open) * below > 0.0:
            low = middle
        else:
            high = middle
    return low


def _left_over(elements: Sequence[Element], number: float, *, low_open: bool) -> float:
    """Pressure at the open high end, which a mode has none of."""
    state = np.array([0.0, 1.0] if low_open else [1.0, 0.0])
    for element in elements:
        state = element(number) @ state
    return float(state[0])


def cents_between(before: float, after: float) -> float:
    """From one frequency or wave number to another."""
    return 1200.0 * math.log2(after / before)
