"""Which round file cleans a side hole without making it wider or out of round."""

from __future__ import annotations

import math

ROUND_FILES = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
"""Diameters, mm, at the thick end. Common sizes; common practice, no source."""

SOURCE = "common practice, no source"

MOST_SHARE = 0.8
"""Of the hole, what a file may be: it is moved around the edge, and does not fill the hole."""


def round_file_for(hole: float) -> float | None:
    """Diameter, mm, of the thickest round file for a hole; None where all are too thick.

    hole : mm, its least width
    """
    fitting = [size for size in ROUND_FILES if size <= MOST_SHARE * hole + 1e-9]
    return max(fitting, default=None)


def drill_bit_for(hole: float) -> float:
    """Diameter, mm, of the thickest drill bit, in tenths, that makes a hole no wider.

    hole : mm, its least width
    """
    return math.floor(hole * 10.0 + 1e-6) / 10.0
