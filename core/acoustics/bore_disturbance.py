"""What a small change of a bore does to a pipe's modes, by first order.

Where the bore is wider by dV over a short stretch, the frequency f of a mode of wave number k
changes by

    df / f = (dV / V) cos 2kx        x from an open end
    df / f = -(dV / V) cos 2kx       x from a closed end

V being the pipe's own volume: it rises where air mostly moves to and fro and falls where it is
mostly pressed together. |df / f| is at most |dV| / V, whatever the mode, the place and the ends.

For a pipe of nearly one width, a change that is small beside V and short beside a wavelength,
and no losses. Changes of a tenth of V are off by about a tenth of the answer.

References
----------
Lord Rayleigh, The Theory of Sound, vol. 2, 2nd ed. (1896), section 265, on pipes of slightly
variable section; the section from memory.
"""

from __future__ import annotations

import math

from .pipe import Pipe
from .pitch import CENTS_OF_SMALL


def shift_of_volume(pipe: Pipe, station: float, volume: float, mode: int) -> float:
    """Cents, from a volume in one place.

    Parameters
    ----------
    station : mm from the pipe's low end
    volume : mm3, positive where the bore is wider
    """
    return _cents(volume / pipe.volume * math.cos(_phase(pipe, station, mode)) * _sign(pipe))


def shift_of_stretch(pipe: Pipe, start: float, stop: float, area: float, mode: int) -> float:
    """Cents, from a stretch whose section is wider by an area all along.

    Parameters
    ----------
    start, stop : mm from the pipe's low end
    area : mm2, positive where the bore is wider
    """
    ends = math.sin(_phase(pipe, stop, mode)) - math.sin(_phase(pipe, start, mode))
    volume = area * ends / (2.0 * pipe.wave_number(mode))
    return _cents(volume / pipe.volume * _sign(pipe))


def greatest_shift(pipe: Pipe, volume: float) -> float:
    """Cents, either way, that a volume, mm3, can come to in any place and mode."""
    return abs(_cents(abs(volume) / pipe.volume))


def _phase(pipe: Pipe, station: float, mode: int) -> float:
    """2kx, from the low end."""
    return 2.0 * pipe.wave_number(mode) * (station + pipe.low_correction)


def _sign(pipe: Pipe) -> float:
    return 1.0 if pipe.low_open else -1.0


def _cents(share: float) -> float:
    """Of a small change, to first order, so that it is as much either way."""
    return share * CENTS_OF_SMALL
