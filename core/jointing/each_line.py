"""The sizes of a joint with a ring tenon around each of two bores, as its station moves.

The web between the bores holds both tenons, both clearances and the walls of both sockets. It
is shared between them: each bore has the wall within its own part of the web to itself, so
each ring is made as if it were alone. The first ring has the ribs, and so the larger part.
Two rings cannot turn about each other. Half a turn, which would change them, the ribs stop,
for they are on the wider ring.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..planning.intervals import Span
from ..values import FACET_ALLOWANCE, FloatArray, RoundSurface
from .joint_line import JointLine, rib_relief, split_at
from .tenon_line import TenonLine
from .wall_run import WallRun

_BLOCKED = 0.1
"""mm, by which a ring must be wider than the other one's socket, to stop half a turn."""


@dataclass(frozen=True, slots=True)
class EachLine(TenonLine):
    """One joint of two rings. Sizes that both have are those of the ring that binds.

    first, second : each on its own run of wall, which share the web; the second has no ribs
    """

    first: JointLine
    second: JointLine

    @property
    def run(self) -> WallRun:
        """The run of wall around the first bore."""
        return self.first.run

    @property
    def engagement(self) -> float:
        """From the seam to the tenons' highest point, mm."""
        return self.first.engagement

    @property
    def radial_clearance(self) -> float:
        """Gap a side, mm."""
        return self.first.radial_clearance

    @property
    def least_wall(self) -> float:
        """Of each tenon and socket, mm."""
        return self.first.least_wall

    @property
    def reach(self) -> float:
        """How far above the seam, mm, the outer surfaces count."""
        return self.first.reach

    @property
    def wall_needed(self) -> float:
        """Thinnest wall, mm, around the first bore, up to its part of the web."""
        return self.first.wall_needed

    @property
    def web_needed(self) -> float:
        """Thinnest web between the bores, mm."""
        return self.first.wall_needed + self.second.wall_needed

    def need(self) -> str:
        """The walls that it needs, in words."""
        return (
            f"{self.first.wall_needed:.2f} mm of wall around one bore, "
            f"{self.second.wall_needed:.2f} mm around the other and {self.web_needed:.2f} mm "
            f"between them for a tenon and a socket of {self.least_wall:.2f} mm around each, "
            f"{FACET_ALLOWANCE:.2f} mm each for facets, {self.first.relief:.2f} mm for a rib, "
            f"which the wider ring has, and {self.radial_clearance:.2f} mm of clearance"
        )

    def wall(self, stations: FloatArray) -> FloatArray:
        """The wall left over the whole zone, mm, around the first bore or as good as there."""
        less = self.first.wall_needed - self.second.wall_needed
        wall: FloatArray = np.minimum(self.first.wall(stations), self.second.wall(stations) + less)
        return wall

    def wall_spare(self, stations: FloatArray) -> FloatArray:
        """Wall beyond what tenons, clearance, ribs and sockets need, mm.

        Less than none also where half a turn would go together.
        """
        walls = self.wall(stations) - self.wall_needed
        spare: FloatArray = np.minimum(walls, np.maximum(*self._stops(stations)))
        return spare

    def _stops(self, stations: FloatArray) -> tuple[FloatArray, FloatArray]:
        """What stops half a turn, mm: the ribs in the second socket, or the second ring."""
        wider = self.first.tenon_radius(stations) - self.second.tenon_radius(stations)
        least = self.radial_clearance + _BLOCKED
        return wider + self.first.relief - least, -wider - least

    def parallel_spare(self, stations: FloatArray) -> FloatArray:
        """Length of the parallel part beyond the least that guides, mm."""
        spare: FloatArray = np.minimum(
            self.first.parallel_spare(stations), self.second.parallel_spare(stations)
        )
        return spare

    def zone(self, stations: FloatArray) -> FloatArray:
        """Height of the joint's zone, mm."""
        zone: FloatArray = np.maximum(self.first.zone(stations), self.second.zone(stations))
        return zone

    def radius_needed(self, stations: FloatArray) -> FloatArray:
        """Least u, mm, that must be wall over the zone; of the first bore or as good as there."""
        farther = self.second.run.off_axis - self.first.run.off_axis
        needed: FloatArray = np.maximum(
            self.first.radius_needed(stations), self.second.radius_needed(stations) + farther
        )
        return needed

    def linear_parts(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which every size above is linear."""
        one, other = self.first, self.second
        parts = [part for span in one.linear_parts(low, high) for part in other.linear_parts(*span)]
        parts = split_at(parts, lambda at: one.wall_spare(at) - other.wall_spare(at))
        parts = split_at(parts, lambda at: self._stops(at)[0] - self._stops(at)[1])
        parts = split_at(
            parts,
            lambda at: self.wall(at) - self.wall_needed - np.maximum(*self._stops(at)),
        )
        parts = split_at(parts, lambda at: one.parallel_spare(at) - other.parallel_spare(at))
        parts = split_at(parts, lambda at: one.zone(at) - other.zone(at))
        farther = other.run.off_axis - one.run.off_axis
        return split_at(parts, lambda at: one.radius_needed(at) - other.radius_needed(at) - farther)


def each_line(
    first: WallRun,
    second: WallRun,
    engagement: float,
    radial_clearance: float,
    least_wall: float,
) -> EachLine:
    """Rings on two runs of wall, each around one of two bores and clear of the other bore.

    The first of the line is the one that is wider where they are halfway along each other.
    """
    halfway = np.array((max(first.start, second.start) + min(first.stop, second.stop)) / 2.0)
    if _widths(second, halfway) > _widths(first, halfway):
        first, second = second, first
    relief = rib_relief(radial_clearance)
    sizes = engagement, radial_clearance, least_wall
    return EachLine(
        JointLine(_with_share(first, second, relief / 2.0), *sizes),
        JointLine(_with_share(second, first, -relief / 2.0), *sizes, ribs=False),
    )


def _widths(run: WallRun, stations: FloatArray) -> FloatArray:
    """Of a joint's outline in mid wall, mm."""
    widths: FloatArray = run.bore_radii(stations) + run.outer_at(stations)
    return widths


def _with_share(run: WallRun, other: WallRun, more: float) -> WallRun:
    """A run beside another, its outer surface held to its share of the web between both bores.

    more : mm, beyond half of the web
    """
    own, beside = run.surfaces[0], other.surfaces[0]
    share = _share(own, beside, more)
    start, stop = max(run.start, other.start), min(run.stop, other.stop)
    edges = {start, stop, *(edge for edge in run.edges.tolist() if start < edge < stop)}
    for at_zero, slope in zip(run.outer_at_zero.tolist(), run.outer_slopes.tolist(), strict=True):
        if slope != share[1]:
            edges.add(min(max((share[0] - at_zero) / (slope - share[1]), start), stop))
    ordered = np.array(sorted(edges))
    middles = (ordered[1:] + ordered[:-1]) / 2.0
    home = np.searchsorted(run.edges[1:-1], middles, "right")
    shared = share[0] + share[1] * middles < run.outer_at(middles)
    return replace(
        run,
        walls=tuple(run.walls[number] for number in home.tolist()),
        edges=ordered,
        outer_at_zero=np.where(shared, share[0], run.outer_at_zero[home]),
        outer_slopes=np.where(shared, share[1], run.outer_slopes[home]),
    )


def _share(own: RoundSurface, beside: RoundSurface, more: float) -> tuple[float, float]:
    """Radius about one bore, at station 0 and its slope, up to which the web is its own."""
    apart = math.dist(own.offset, beside.offset)
    at_zero = (apart + own.radius_at_zero - beside.radius_at_zero) / 2.0 + more
    return at_zero, (own.slope - beside.slope) / 2.0
