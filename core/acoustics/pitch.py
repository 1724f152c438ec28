"""Cents: hundredths of an equal semitone, 1200 to the octave."""

from __future__ import annotations

import math

CENTS_OF_SMALL = 1200.0 / math.log(2.0)
"""Cents of a small change of frequency, divided by its share of the frequency."""


def cents_of(ratio: float) -> float:
    """Cents from one frequency to another, by the ratio of the second to the first.

    Positive where the second is higher: 1200 log2(ratio).

    References
    ----------
    A. J. Ellis, in the appendix to H. Helmholtz, On the Sensations of Tone (1885).
    """
    assert ratio > 0.0
    return 1200.0 * math.log2(ratio)


def cents_of_lengths(before: float, after: float) -> float:
    """Cents by which a pipe of another effective length sounds higher; longer is lower."""
    return cents_of(before / after)
