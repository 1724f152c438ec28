"""Sound in dry air."""

from __future__ import annotations

import math

from .pitch import cents_of

ZERO_CELSIUS_K = 273.15

SPEED_AT_ZERO = 331.3
"""m/s, in dry air at 0 C; handbooks give 331.3 to 331.5."""


def speed_of_sound(temperature_c: float) -> float:
    """m/s, in dry air, as in an ideal gas: 331.3 sqrt(1 + t / 273.15).

    For air as it is in rooms, -20 to 50 C. Damp air is faster, at 20 C by up to 0.4 %, which is
    6 cents; breath has carbon dioxide too, which is slower. Both do the same to a part before
    and after it is split.

    References
    ----------
    Kinsler, Frey, Coppens, Sanders, Fundamentals of Acoustics, 4th ed. (2000), 5.6; the section
    from memory.
    """
    kelvin = temperature_c + ZERO_CELSIUS_K
    assert kelvin > 0.0
    return SPEED_AT_ZERO * math.sqrt(kelvin / ZERO_CELSIUS_K)


def cents_per_kelvin(temperature_c: float) -> float:
    """By how many cents a pipe sounds higher in air that is 1 K warmer."""
    return cents_of(speed_of_sound(temperature_c + 1.0) / speed_of_sound(temperature_c))
