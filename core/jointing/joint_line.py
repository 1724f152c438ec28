"""The sizes of `joint_design.joint_on` at many stations at once, for one engagement.

Bores and outer surfaces are cylinders or cones, so every size is linear in the station,
but for kinks: where the narrowest outer surface of the zone becomes another one, where
the land becomes its full or its least width, and where the tenon leaves mid wall for its ribs.
`linear_parts` cuts a span there; on each part a limit is solved from its two ends.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..planning.intervals import Span
from ..values import AXIAL_GAP, FACET_ALLOWANCE, KEY_RELIEF, LEAD_IN, FloatArray
from .tenon_line import TenonLine
from .wall_run import WallRun

Limit = Callable[[FloatArray], FloatArray]
"""Something that is fine where it is not negative, linear in the station."""

_NUDGE = 1e-10
_BESIDE = (slice(None, -1), slice(1, None))

LEAST_LAND = 0.1
"""Narrowest land, mm; a wall too thin for it and the whole lead-in has less lead-in."""

KEY_OVERLAP = 0.3
"""Least radial overlap, mm, of a rib turned out of its groove."""


def rib_relief(radial_clearance: float) -> float:
    """How far a rib stands out, mm: enough to overlap the socket when turned away."""
    return max(KEY_RELIEF, radial_clearance + KEY_OVERLAP)


@dataclass(frozen=True, slots=True)
class JointLine(TenonLine):
    """One joint, as its station moves along a run of wall. Radii are u's of the hull.

    ribs : whether its tenon is keyed; a second one of a joint need not be
    """

    run: WallRun
    engagement: float
    radial_clearance: float
    least_wall: float
    ribs: bool = True

    def need(self) -> str:
        """The wall that a joint needs, in words."""
        around = " around both bores" if len(self.run.bores) > 1 else ""
        return (
            f"{self.wall_needed:.2f} mm of wall{around} for a tenon and a socket of "
            f"{self.least_wall:.2f} mm each, {FACET_ALLOWANCE:.2f} mm each for facets, "
            f"{self.relief:.2f} mm for a rib and {self.radial_clearance:.2f} mm of clearance"
        )

    @property
    def wall_needed(self) -> float:
        """Thinnest wall, mm, that holds tenon, clearance, ribs and socket."""
        walls = 2.0 * (self.least_wall + FACET_ALLOWANCE)
        return walls + self.radial_clearance + self.relief

    @property
    def reach(self) -> float:
        """How far above the seam, mm, the outer surface counts."""
        return self.engagement + AXIAL_GAP + self.least_wall

    def rise(self, stations: FloatArray) -> FloatArray:
        """From the seam up to the tenon's tip, mm: the engagement, but for a ridge over it."""
        run = self.run
        over = self.engagement - run.crest_at_zero - run.crest_slope * stations
        rise: FloatArray = over / (1.0 + run.crest_slope)
        return rise

    def _bore_at_tip(self, stations: FloatArray) -> FloatArray:
        return self.run.bore_radii(stations + self.rise(stations))

    def bore_radius(self, stations: FloatArray) -> FloatArray:
        """The widest bore beside the tenon, mm."""
        tips = stations + self.rise(stations)
        wider = [bore.radii_at(stations) - bore.radii_at(tips) for bore in self.run.surfaces]
        more = np.maximum(np.max(wider, axis=0), 0.0) if wider else 0.0
        widest: FloatArray = self.run.bore_radii(tips) + more
        return widest

    def outer_radius(self, stations: FloatArray) -> FloatArray:
        """The narrowest outer surface over the zone, mm.

        A second bore of another taper swells or shrinks over the zone, and what is
        left for the hull with it.
        """
        return self.run.narrowest(stations, self.reach) - self.run.drift * self.reach

    def wall(self, stations: FloatArray) -> FloatArray:
        """The wall left over the whole zone, mm."""
        return self.outer_radius(stations) - self.bore_radius(stations)

    def wall_spare(self, stations: FloatArray) -> FloatArray:
        """Wall beyond what tenon, clearance, ribs and socket need, mm."""
        return self.wall(stations) - self.wall_needed

    @property
    def relief(self) -> float:
        """How far its ribs stand out of the tenon, mm; 0 without any."""
        return rib_relief(self.radial_clearance) if self.ribs else 0.0

    @property
    def beyond_tenon(self) -> float:
        """Wall needed outside the tenon, mm: clearance, ribs and the socket's."""
        return self.radial_clearance + self.relief + self.least_wall + FACET_ALLOWANCE

    def rib_spare(self, stations: FloatArray) -> FloatArray:
        """Wall outside a socket in mid wall beyond what ribs need, mm.

        Negative: the tenon lies farther in by as much.
        """
        outside_tenon = (self.wall(stations) + self.radial_clearance) / 2.0
        spare: FloatArray = outside_tenon - self.beyond_tenon
        return spare

    def tenon_radius(self, stations: FloatArray) -> FloatArray:
        """Radius, mm, of the tenon's parallel part: in mid wall, or farther in for its ribs."""
        total = self.bore_radius(stations) + self.outer_radius(stations)
        middle = (total - self.radial_clearance) / 2.0
        farther_in: FloatArray = middle + np.minimum(self.rib_spare(stations), 0.0)
        return farther_in

    def land(self, stations: FloatArray) -> FloatArray:
        """Width, mm, of the flat at the tenon's tip, beside the bore."""
        return np.clip(self._beside_lead_in(stations), LEAST_LAND, self.least_wall)

    def _beside_lead_in(self, stations: FloatArray) -> FloatArray:
        """Wall of the tenon beside the whole lead-in, mm."""
        return self.tenon_radius(stations) - LEAD_IN - self._bore_at_tip(stations)

    def parallel_spare(self, stations: FloatArray) -> FloatArray:
        """Length of the tenon's parallel part beyond the least that guides it, mm."""
        beside = self._beside_lead_in(stations)
        cone = beside + LEAD_IN - np.clip(beside, LEAST_LAND, self.least_wall)
        spare: FloatArray = (self.rise(stations) - cone) - self.least_parallel
        return spare

    def zone(self, stations: FloatArray) -> FloatArray:
        """Height of the joint's zone, mm: seam plane to the top of the roof.

        With one bore the roof ends where it meets the bore, in that bore's taper. With
        two it ends in a ridge, as far over the tenon's ridge as over its tip; in solid
        in a point.
        """
        over_tip: FloatArray = AXIAL_GAP + self.land(stations)
        if len(self.run.surfaces) == 1:
            bore = self.run.surfaces[0]
            over_tip = (over_tip + bore.sagitta) / (1.0 + bore.slope)
        return self.engagement + over_tip

    def radius_needed(self, stations: FloatArray) -> FloatArray:
        """Least u, mm, that must be wall over the zone."""
        needed: FloatArray = self.tenon_radius(stations) + self.beyond_tenon
        return needed

    def linear_parts(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which every size above is linear."""
        parts = self._between_edges(low, high)
        parts = split_at(parts, self.rib_spare)
        beside = self._beside_lead_in
        parts = split_at(parts, lambda stations: beside(stations) - self.least_wall)
        return split_at(parts, lambda stations: beside(stations) - LEAST_LAND)

    def _between_edges(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which the narrowest outer surface is linear.

        Ends at an edge between two cones are drawn inward by 1e-10 mm, so that each
        part sees one of them only.
        """
        inner, reach = self.run.edges[1:-1], self.reach
        if not len(inner) or high - low < 3.0 * _NUDGE:
            return [(low, high)]
        edges = np.concatenate([inner, inner - reach])
        ends = np.unique(np.concatenate([[low, high], edges.clip(low, high)]))
        drawn = np.where(np.abs(ends[:, None] - edges).min(axis=1) < _NUDGE, _NUDGE, 0.0)
        pairs = zip((ends + drawn)[:-1].tolist(), (ends - drawn)[1:].tolist(), strict=True)
        parts = [(start, stop) for start, stop in pairs if start <= stop]
        outer, lowest = self.run.outer_at, self._lowest_edge
        parts = split_at(parts, lambda stations: outer(stations) - outer(stations + reach))
        parts = split_at(parts, lambda stations: outer(stations) - lowest(stations))
        return split_at(parts, lambda stations: outer(stations + reach) - lowest(stations))

    def _lowest_edge(self, ends: FloatArray) -> FloatArray:
        """(m,) least u at an edge between cones within reach of each of (2, m) ends of parts."""
        run, middles = self.run, ends.mean(axis=0)[:, None]
        inner = run.edges[1:-1]
        beside = [run.outer_at_zero[k] + run.outer_slopes[k] * inner for k in _BESIDE]
        within = (inner > middles) & (inner < middles + self.reach)
        lowest: FloatArray = np.where(within, np.minimum(*beside), math.inf).min(axis=1)
        return lowest


def split_at(spans: list[Span], kink: Limit) -> list[Span]:
    """Spans cut where a function that is linear on each of them changes its sign."""
    ends = np.array(spans).T
    values = kink(ends)
    if not (values[0] * values[1] < 0.0).any():
        return spans
    parts = []
    for (low, high), first, last in zip(spans, *values.tolist(), strict=True):
        if first * last < 0.0:
            root = _root(low, high, first, last)
            parts += [(low, root), (root, high)]
        else:
            parts.append((low, high))
    return parts


def where_kept(spans: list[Span], limit: Limit) -> list[Span]:
    """What is left of each span where a limit, linear on each of them, is not negative.

    A solved end is drawn inward by 1e-10 mm, so that the limit holds at the
    very end too, round-off and all.
    """
    if not spans:
        return []
    values = limit(np.array(spans).T)
    if values.min() >= 0.0:
        return spans
    kept = []
    for (low, high), first, last in zip(spans, *values.tolist(), strict=True):
        if first < 0.0 and last < 0.0:
            continue
        if first >= 0.0 and last >= 0.0:
            kept.append((low, high))
            continue
        root = _root(low, high, first, last)
        if first >= 0.0:
            kept.append((low, max(low, root - _NUDGE)))
        else:
            kept.append((min(high, root + _NUDGE), high))
    return kept


def _root(low: float, high: float, first: float, last: float) -> float:
    return min(max(low + first / (first - last) * (high - low), low), high)
