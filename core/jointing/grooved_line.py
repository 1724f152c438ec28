"""The sizes of a joint whose tenon has a groove around it, for an O-ring or for thread.

Ribs in their grooves would leak past what lies in the groove, so they stand on the lowest
part of the tenon only. Over the roofs of their grooves it runs plain in a plain socket, and
there the groove lies. The tenon moves outward as far as the wall under the groove asks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..fitting.grooves import (
    LAND_BESIDE,
    LAPPED_LINES,
    LEAST_LAPPED_DEPTH,
    LEAST_LAPPED_WIDTH,
    MOST_LAPPED_DEPTH,
    wall_under_groove,
)
from ..fitting.oring_tables import BEST_STRETCH, CordHousing, listed_rings
from ..fitting.ring_housings import HOUSING_LINES
from ..planning.intervals import Span
from ..values import AXIAL_GAP, FACET_ALLOWANCE, FloatArray
from .joint_line import JointLine, split_at

RIB_HEIGHT = 3.0
"""How far up ribs stand under a groove, mm: enough to turn by and to be felt."""


MOST_MOUNTING_STRETCH = 1.5
"""A ring on its way to its groove may be pulled to this many times its inside diameter.

From memory: makers bear half as much again for as long as mounting takes.
"""

MOST_THINNER = 1.0
"""By how much a solid tenon may be thinner than in mid section, mm, to suit a listed ring."""


@dataclass(frozen=True, slots=True)
class GroovedLine(JointLine):
    """One such joint, as its station moves along a run of wall.

    nozzle : mm
    undersize : mm a side, by which the socket prints narrower than its file
    cord : what the groove is for; None: thread
    """

    nozzle: float = 0.4
    undersize: float = 0.0
    cord: CordHousing | None = None

    @property
    def groove_depth(self) -> float:
        """Into the tenon, mm; of a groove for thread the least."""
        if self.cord is None:
            return LEAST_LAPPED_DEPTH
        return self.cord.depth - (self.radial_clearance - self.undersize)

    @property
    def groove_height(self) -> float:
        """Along the tenon, mm, its ceiling counted, at the most that it needs."""
        if self.cord is None:
            return LEAST_LAPPED_WIDTH + MOST_LAPPED_DEPTH
        return self.cord.width + self.groove_depth

    @property
    def wall_under(self) -> float:
        """Least wall under the groove, mm."""
        lines = LAPPED_LINES if self.cord is None else HOUSING_LINES
        return wall_under_groove(self.least_wall, self.nozzle, lines)

    @property
    def tenon_wall(self) -> float:
        """Least wall of the tenon beside the groove, mm."""
        return self.groove_depth + self.wall_under

    @property
    def wall_needed(self) -> float:
        """Thinnest wall, mm, that holds groove, wall under it, clearance, ribs and socket."""
        return self.tenon_wall + self.beyond_tenon

    @property
    def least_radius(self) -> float:
        """Of the tenon, mm, so that a ring can be put over it; none for thread."""
        if self.cord is None:
            return 0.0
        return self.groove_depth * MOST_MOUNTING_STRETCH / (MOST_MOUNTING_STRETCH - 1.0)

    def mounting_spare(self, stations: FloatArray) -> FloatArray:
        """How much wider than that the tenon is, mm."""
        spare: FloatArray = self.tenon_radius(stations) - self.least_radius
        return spare

    @property
    def below_groove(self) -> float:
        """Over the seam, mm, up to where the groove may start."""
        return RIB_HEIGHT + AXIAL_GAP + self.relief + LAND_BESIDE

    @property
    def least_parallel(self) -> float:
        """Shortest parallel part, mm: for ribs, the groove, and full tenon on its either side."""
        return self.below_groove + self.groove_height + LAND_BESIDE

    def need(self) -> str:
        """The wall that it needs, in words."""
        what = "thread" if self.cord is None else f"an O-ring of {self.cord.cord:.2f} mm"
        return (
            f"{self.wall_needed:.2f} mm of wall for a groove of {self.groove_depth:.2f} mm for "
            f"{what}, {self.wall_under:.2f} mm under it, {self.radial_clearance:.2f} mm of "
            f"clearance, {self.relief:.2f} mm for a rib and a socket of "
            f"{self.least_wall + FACET_ALLOWANCE:.2f} mm"
        )

    def _outward(self, stations: FloatArray) -> FloatArray:
        """How much farther out than a plain one the tenon has to lie, mm; under 0: not at all."""
        plain = JointLine.tenon_radius(self, stations)
        out: FloatArray = self.bore_radius(stations) + self.tenon_wall - plain
        return out

    def tenon_radius(self, stations: FloatArray) -> FloatArray:
        """Radius, mm, of the tenon's parallel part: a plain one's, farther out, or a ring's own."""
        suited = self._suited_radius()
        if suited is not None:
            return np.full(np.shape(stations), suited)
        plain = JointLine.tenon_radius(self, stations)
        radius: FloatArray = plain + np.maximum(self._outward(stations), 0.0)
        return radius

    def _suited_radius(self) -> float | None:
        """Radius, mm, of a solid tenon whose groove suits a listed ring; None where none does.

        A little thinner than a plain one, and the same all along the run.
        """
        if self.run.surfaces or self.cord is None or self.cord.series is None:
            return None
        plain = JointLine.tenon_radius(self, self.run.edges)
        radii = [
            ring.inside_diameter * (1.0 + BEST_STRETCH) / 2.0 + self.groove_depth
            for ring in listed_rings(self.cord.series)
        ]
        low = max(self.least_radius, self.tenon_wall, plain.max() - MOST_THINNER)
        return max((radius for radius in radii if low <= radius <= plain.min()), default=None)

    def linear_parts(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which every size is linear."""
        return split_at(JointLine.linear_parts(self, low, high), self._outward)
