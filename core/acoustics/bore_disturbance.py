"""What a small change of a bore does to a pipe's modes.

A mode's frequency goes by its energies: where the bore is wider, air that is pressed together has
more room, which lowers it, and air that moves to and fro an easier way, which raises it. By first
order in how much changes, with the pipe's own mode:

    df / f = (1 / L) integral of (1 - A / A') cos^2 - (A' / A - 1) sin^2        over the stretch

L being the effective length, A the pipe's section, A' that of the stretch, and both of kx, x from
an open end; from a closed end cos^2 and sin^2 change places. Where A' is little more than A it
is Rayleigh's

    df / f = (dV / V) cos 2kx

for a volume dV in one place of a pipe of volume V, at most dV / V in any mode and place.

For a pipe of nearly one width, changes that come to little of V, and no losses. A narrow groove
gives air that passes it less of an easier way than is told here: it raises less.

References
----------
Lord Rayleigh, The Theory of Sound, vol. 2, 2nd ed. (1896), section 265, on pipes of slightly
variable section; the section from memory.
"""

from __future__ import annotations

import math

from .pipe import Pipe
from .pitch import CENTS_OF_SMALL


def shift_of_stretch(pipe: Pipe, start: float, stop: float, area: float, mode: int) -> float:
    """Cents, from a stretch, as long as it may be, whose section is a little wider.

    Parameters
    ----------
    start, stop : mm from the pipe's low end
    area : mm2, by which it is wider; little beside the pipe's own
    """
    share = area / pipe.area * (stop - start) / pipe.effective_length
    return CENTS_OF_SMALL * share * _mean_cosine(pipe, start, stop, mode)


def shift_of_step(pipe: Pipe, start: float, stop: float, area: float, mode: int) -> float:
    """Cents, from a stretch, short beside the pipe, of another section however wide.

    Parameters
    ----------
    start, stop, area : as in `shift_of_stretch`, but for how much wider
    """
    easier, roomier = _shares(pipe, stop - start, area)
    cosine = _mean_cosine(pipe, start, stop, mode)
    return CENTS_OF_SMALL * (easier * (1.0 + cosine) - roomier * (1.0 - cosine)) / 2.0


def greatest_shift(pipe: Pipe, length: float, area: float) -> float:
    """Cents, either way, that a stretch can come to in any place and mode."""
    return CENTS_OF_SMALL * max(abs(share) for share in _shares(pipe, length, area))


def shift_of_room(pipe: Pipe, volume: float) -> float:
    """Cents, at most, from a volume beside the bore that air only gets pressed into, mm3."""
    return CENTS_OF_SMALL * volume / pipe.volume


def _shares(pipe: Pipe, length: float, area: float) -> tuple[float, float]:
    """By how much easier air moves through a stretch, and how much more room there is."""
    assert area > -pipe.area
    share = length / pipe.effective_length
    return area / (pipe.area + area) * share, area / pipe.area * share


def _mean_cosine(pipe: Pipe, start: float, stop: float, mode: int) -> float:
    """Of 2kx over a stretch, x from an open end; from a closed one its opposite."""
    number = 2.0 * pipe.wave_number(mode)
    low, high = (number * (place + pipe.low_correction) for place in (start, stop))
    mean = (math.sin(high) - math.sin(low)) / (high - low)
    return mean if pipe.low_open else -mean
