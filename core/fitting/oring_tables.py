"""O-rings and their static radial housings, as tables.

Housings are those of metric practice by ISO 3601-2, on which two published tables agree
(but for one width: 3.50 for 3.60 mm). Ring sizes are AS568's. Limits of squeeze, fill and
stretch are common practice: published guides name them without a standard.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

INCH = 25.4
LEAST_STRETCH, BEST_STRETCH, MOST_STRETCH = 0.01, 0.02, 0.05
"""Of a ring's inside diameter on its groove. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class CordHousing:
    """What a cord asks of its housing, mm.

    cord : diameter of the ring's section
    tolerance : of that, each way: AS568's 0.003 in, taken for metric cords too
    depth : from the groove's bottom to the socket, the clearance counted
    width : of the groove's bottom
    corner : radius between bottom and flanks; a nozzle leaves more than that
    series : AS568's numbers of its rings begin here; None: metric only
    """

    cord: float
    tolerance: float
    depth: float
    width: float
    corner: float
    series: int | None

    @property
    def squeeze(self) -> float:
        """Share of the cord by which it is pressed flat."""
        return (self.cord - self.depth) / self.cord

    @property
    def fill(self) -> float:
        """Share of a housing with upright flanks that the cord fills."""
        return math.pi * self.cord**2 / 4.0 / (self.depth * self.width)


CORD_HOUSINGS = (
    CordHousing(1.50, 0.08, 1.10, 2.00, 0.3, None),
    CordHousing(1.78, 0.08, 1.30, 2.40, 0.3, 0),
    CordHousing(2.00, 0.08, 1.50, 2.70, 0.3, None),
    CordHousing(2.62, 0.08, 2.00, 3.60, 0.3, 100),
)


@dataclass(frozen=True, slots=True)
class ListedRing:
    """A ring of AS568: its number, as "-017", and its inside diameter, mm."""

    number: str
    inside_diameter: float


_FIRST_SIZE, _LAST_SIZE = 10, 24
_FIRST_THOUSANDTHS = {0: 239, 100: 362}
"""Inside diameters of -010 and -110, thousandths of an inch."""


def listed_rings(series: int) -> tuple[ListedRing, ...]:
    """AS568's rings -010 to -024, or -110 to -124, of which the inside grows by 1/16 in a size.

    Halves of a thousandth are dropped, as the standard does. The rule is from memory; it
    gives every size that a published list names.
    """
    first = _FIRST_THOUSANDTHS[series]
    return tuple(
        ListedRing(f"-{series + size:03d}", (first + (size - _FIRST_SIZE) * 125 // 2) / 1e3 * INCH)
        for size in range(_FIRST_SIZE, _LAST_SIZE + 1)
    )


Quantity = Literal["squeeze", "squeeze at worst", "fill at worst", "stretch", "stretch at worst"]
Grade = Literal["good", "doubtful", "critical"]


@dataclass(frozen=True, slots=True)
class SealLimit:
    """Where a share is good, and where it may still pass; beyond that it is critical.

    A squeeze under 0 does not touch; a stretch that is off at the worst spoils no seal.
    """

    quantity: Quantity
    good: tuple[float, float]
    passing: tuple[float, float]
    source: str

    def grade(self, low: float, high: float) -> Grade:
        """Of a share that may lie anywhere between two."""
        if self.good[0] <= low and high <= self.good[1]:
            return "good"
        inside = self.passing[0] <= low and high <= self.passing[1]
        return "doubtful" if inside else "critical"


_PRACTICE = "common practice, no source"

SEAL_LIMITS: dict[Quantity, SealLimit] = {
    limit.quantity: limit
    for limit in (
        SealLimit("squeeze", (0.15, 0.25), (0.10, 0.30), _PRACTICE),
        SealLimit("squeeze at worst", (0.10, 0.30), (0.0, 0.40), _PRACTICE),
        SealLimit("fill at worst", (0.0, 0.85), (0.0, 0.90), _PRACTICE),
        SealLimit("stretch", (LEAST_STRETCH, MOST_STRETCH), (0.0, MOST_STRETCH), _PRACTICE),
        SealLimit(
            "stretch at worst", (LEAST_STRETCH, MOST_STRETCH), (-math.inf, math.inf), _PRACTICE
        ),
    )
}
