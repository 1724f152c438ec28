"""The sizes of `collar_design.collar_on` at many stations at once, for one engagement."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..planning.intervals import Span, common
from ..values import FloatArray, WallStretch
from .collar_design import PASSING_SHARE, Place, collar_wall, least_reach, taper_needs
from .wall_run import WallRun

_Size = Callable[[WallStretch, FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class CollarLine:
    """One collar or sleeve, as its station moves along a run of wall around one bore.

    walls : of the run; the collar lies on one of them
    bare : (n,) whether the part's outside is the outer surface of each, see `is_bare`
    """

    run: WallRun
    walls: tuple[WallStretch, ...]
    bare: tuple[bool, ...]
    place: Place
    engagement: float
    radial_clearance: float
    least_wall: float

    @property
    def below(self) -> float:
        """How far its zone reaches under the seam, mm."""
        return self.engagement

    @property
    def stands(self) -> float:
        """How far the lower piece stands over the seam, mm: not at all."""
        return 0.0

    @property
    def wall_needed(self) -> float:
        """Thinnest wall, mm, that a collar may lie over."""
        return self.least_wall

    def need(self) -> str:
        """The wall that it needs, in words."""
        return f"{self.least_wall:.2f} mm of wall, the least wall, under a {self.word}"

    @property
    def word(self) -> str:
        """What it is called."""
        return "collar" if self.place == "outside" else "sleeve"

    def hindrance(self) -> str | None:
        """Why it lies on none of the walls, whatever their thickness, in words."""
        mating = [wall.outer if self.place == "outside" else wall.bore for wall in self.walls]
        if self.place == "outside" and not any(self.bare):
            return "an outside that is not round, for a collar"
        slope = min(abs(surface.slope) for surface in mating)
        most = self.radial_clearance * (1.0 - PASSING_SHARE)
        if slope * self.engagement <= most:
            return None
        return (
            f"a taper of {slope * self.engagement:.2f} mm a side over the {self.engagement:.2f} mm "
            f"of a {self.word}, which passes {most:.3f} at this clearance"
        )

    def wall(self, stations: FloatArray) -> FloatArray:
        """The wall under it, mm; less than none where a collar could not pass or lie."""
        return self._of_walls(stations, self._wall_on)

    def _wall_on(self, wall: WallStretch, stations: FloatArray) -> FloatArray:
        mating = wall.outer if self.place == "outside" else wall.bore
        lies = self.place == "inside" or self.bare[self.walls.index(wall)]
        if not lies or taper_needs(mating, self.engagement) > self.radial_clearance:
            return np.full(stations.shape, -1.0)
        return collar_wall(wall, stations, self.engagement)

    def wall_spare(self, stations: FloatArray) -> FloatArray:
        """Wall beyond what it needs, mm."""
        return self.wall(stations) - self.wall_needed

    def parallel_spare(self, stations: FloatArray) -> FloatArray:
        """Engagement beyond what lugs and bevels take, mm."""
        return self._of_walls(stations, self._reach_on)

    def _reach_on(self, wall: WallStretch, stations: FloatArray) -> FloatArray:
        needed = [
            least_reach(wall, station, self.engagement, self.radial_clearance)
            for station in stations.ravel().tolist()
        ]
        spare: FloatArray = self.engagement - np.array(needed).reshape(stations.shape)
        return spare

    def _of_walls(self, stations: FloatArray, size: _Size) -> FloatArray:
        """A size at stations, of the wall that each lies in."""
        home = np.searchsorted(self.run.edges[1:-1], stations, "right")
        sizes = np.empty(stations.shape)
        for number, wall in enumerate(self.walls):
            here = home == number
            sizes[here] = size(wall, stations[here])
        return sizes

    def zone(self, stations: FloatArray) -> FloatArray:
        """Height of its zone over the seam, mm."""
        return np.full(stations.shape, self.engagement)

    def radius_needed(self, stations: FloatArray) -> FloatArray:
        """Nothing may stand on the outside, or be cut into it, where it goes."""
        return np.full(stations.shape, math.inf)

    def linear_parts(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which every size above is linear, and one wall holds the zone."""
        within = [
            (wall.start + self.engagement, wall.stop - self.engagement)
            for wall in self.walls
            if wall.stop - wall.start > 2.0 * self.engagement
        ]
        parts = common([(low, high)], within)
        return [(start, stop) for start, stop in parts if start <= stop]
