"""What the sizes of every joint with tenons share, whatever its section."""

from __future__ import annotations

import math
from typing import ClassVar, Protocol

import numpy as np

from ..errors import WallTooThin
from ..values import FloatArray

LEAST_PARALLEL = 2.0
"""Shortest parallel part of a tenon, mm, that still guides it."""


class _Engaged(Protocol):
    @property
    def engagement(self) -> float: ...


class TenonLine:
    """Sizes by station of a joint whose tenons stand on the lower piece, over the seam only.

    below : how far its zone reaches under the seam, mm: not at all
    """

    __slots__ = ()

    below: ClassVar[float] = 0.0

    @property
    def stands(self: _Engaged) -> float:
        """How far the lower piece stands over the seam, mm."""
        return self.engagement

    @property
    def least_parallel(self) -> float:
        """Shortest parallel part of its tenons, mm."""
        return LEAST_PARALLEL


class _Guided(_Engaged, Protocol):
    @property
    def least_parallel(self) -> float: ...

    def parallel_spare(self, stations: FloatArray, /) -> FloatArray: ...


def check_parallel(line: _Guided, station: float, whose: str) -> None:
    """An engagement long enough for the 45 degree tip that the section asks for.

    Parameters
    ----------
    whose : tip it is, an article or a possessive

    Raises
    ------
    WallTooThin : it is not
    """
    spare = float(line.parallel_spare(np.array([station]))[0])
    if spare < 0.0:
        left = line.least_parallel + spare
        raise WallTooThin(
            f"an engagement of {line.engagement:.2f} mm at station {station:.2f} mm leaves "
            f"{left:.2f} mm parallel under {whose} 45 degree tip of "
            f"{line.engagement - left:.2f} mm",
            f"at least {line.least_parallel:.2f} mm parallel",
            f"--engagement {math.ceil((line.engagement - spare) * 10.0 - 1e-9) / 10.0:.1f} or more",
        )
