"""What a caliper should read at a joint, and what to do when it reads something else.

A joint goes together, and does what its fit is for, while the gap between tenon and socket
lies between two bounds. What the gap asked for has in hand on either side is shared: half of
it is the tenon's, half the socket's, so that any two that are good by themselves are good
together. With a gap a side c asked for and bounds l <= c <= m, a tenon made to read D is good
from D - (m - c) to D + (c - l), and its socket, made to read D + 2 c, from D + 2 c - (c - l)
to D + 2 c + (m - c).
"""

from __future__ import annotations

from dataclasses import dataclass

from ..fitting.strength import DEFAULT_ASSUMPTIONS
from ..values import CHORD_TOLERANCE, Fit

SOURCE = "common practice, no source"

GOOD_GAPS: dict[Fit, tuple[float, float]] = {
    "glue": (0.05, DEFAULT_ASSUMPTIONS.greatest_gap.high),
    "push": (0.05, 0.15),
    "take-apart": (0.10, 0.30),
}
"""Gaps, mm a side, that serve each fit. Common practice, no source: trade pages have 0.05 to
0.20 for most glues on plastics, 0.05 to 0.15 for what is snug or tight, 0.10 to 0.30 for what
slides."""

LEAST_WORKED = 0.1
"""mm on the diameter, that can be taken off with paper in any case. Common practice, no source."""

FACET_LOSS = 2.0 * CHORD_TOLERANCE
"""mm, by which a tenon may read less across two facets than across two corners, and a socket
more: tenons have their corners on their circle, and sockets their facets."""

_ROUND_OFF = 1e-9


@dataclass(frozen=True, slots=True)
class Gauge:
    """Readings of one size, mm.

    made : what it is made to read
    go : from and to which it is good
    sand_to : the last reading, on the side where it is too tight, that paper can put right
    fill_to : the last one, on the side where it is too loose, that a glue which fills gaps
        puts right; where there is no glue, the bound of `go` there
    """

    made: float
    go: tuple[float, float]
    sand_to: float
    fill_to: float

    def __post_init__(self) -> None:
        assert self.go[0] <= self.made + _ROUND_OFF
        assert self.made <= self.go[1] + _ROUND_OFF
        assert not self.go[0] < self.sand_to < self.go[1]
        assert not self.go[0] < self.fill_to < self.go[1]


@dataclass(frozen=True, slots=True)
class JointGauges:
    """Of what goes in, of what goes around it, and of the second less the first."""

    within: Gauge
    around: Gauge
    gap: Gauge


def joint_gauges(within: float, radial_clearance: float, fit: Fit, spread: float) -> JointGauges:
    """Readings of a joint as it should come off the printer.

    Past what is good by as much as the printer's diameters may be off, paper (or a glue that
    fills gaps) puts it right; past that the print is at fault, and is made again.

    Parameters
    ----------
    within : mm, diameter of what goes in
    radial_clearance : mm a side, the gap asked for
    spread : mm, plus and minus, that the printer holds a diameter to
    """
    least, most = GOOD_GAPS[fit]
    tighter = max(radial_clearance - least, 0.0)
    looser = max(most - radial_clearance, 0.0)
    worked = max(spread, LEAST_WORKED)
    filled = worked if fit == "glue" else 0.0
    around, gap = within + 2.0 * radial_clearance, 2.0 * radial_clearance
    return JointGauges(
        within=Gauge(
            within,
            (within - looser, within + tighter),
            within + tighter + worked,
            within - looser - filled,
        ),
        around=_hollow(around, tighter, looser, worked, filled),
        gap=_hollow(gap, 2.0 * tighter, 2.0 * looser, worked, filled),
    )


def _hollow(made: float, tighter: float, looser: float, worked: float, filled: float) -> Gauge:
    """Of what is too tight where it reads less."""
    low, high = made - tighter, made + looser
    return Gauge(made, (low, high), low - worked, high + filled)
