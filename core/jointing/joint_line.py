"""The sizes of `joint_design.design_joint` at many stations at once, for one engagement.

Bore and outside are cylinders or cones, so every size is linear in the station,
but for three kinks: where the land becomes its full or its least width, and where
a rib gives way to a notch. `linear_parts` cuts a span there; on each part a limit is solved
from its two ends.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..planning.intervals import Span
from ..values import (
    AXIAL_GAP,
    FACET_ALLOWANCE,
    KEY_RELIEF,
    LEAD_IN,
    FloatArray,
    RoundSurface,
)

Limit = Callable[[FloatArray], FloatArray]
"""Something that is fine where it is not negative, linear in the station."""

_NUDGE = 1e-10

LEAST_PARALLEL = 2.0
"""Shortest parallel part of a tenon, mm, that still guides it."""

LEAST_LAND = 0.1
"""Narrowest land, mm; a wall too thin for it and the whole lead-in has less lead-in."""

KEY_OVERLAP = 0.3
"""Least radial overlap, mm, of a rib turned out of its groove."""


def rib_relief(radial_clearance: float) -> float:
    """How far a rib stands out, mm: enough to overlap the socket when turned away."""
    return max(KEY_RELIEF, radial_clearance + KEY_OVERLAP)


def least_joint_wall(radial_clearance: float, least_wall: float) -> float:
    """Thinnest wall, mm, that holds a tenon, the clearance and a socket."""
    return 2.0 * (least_wall + FACET_ALLOWANCE) + radial_clearance


@dataclass(frozen=True, slots=True)
class JointLine:
    """One joint, as its station moves along the part."""

    bore: RoundSurface
    outside: RoundSurface
    engagement: float
    radial_clearance: float
    least_wall: float

    def bore_radius(self, stations: FloatArray) -> FloatArray:
        """The widest bore beside the tenon, mm."""
        tips = stations + self.engagement
        return np.maximum(self.bore.radii_at(stations), self.bore.radii_at(tips))

    def outside_radius(self, stations: FloatArray) -> FloatArray:
        """The narrowest outside over the zone, mm, about the bore's axis."""
        reach = self.engagement + AXIAL_GAP + self.least_wall
        low, high = self.outside.radii_at(stations), self.outside.radii_at(stations + reach)
        narrowest: FloatArray = np.minimum(low, high) - self.outside.eccentricity
        return narrowest - self.outside.sagitta

    def wall(self, stations: FloatArray) -> FloatArray:
        """The wall left over the whole zone, mm."""
        return self.outside_radius(stations) - self.bore_radius(stations)

    def wall_spare(self, stations: FloatArray) -> FloatArray:
        """Wall beyond what tenon, clearance and socket need, mm."""
        return self.wall(stations) - least_joint_wall(self.radial_clearance, self.least_wall)

    def tenon_radius(self, stations: FloatArray) -> FloatArray:
        """Radius, mm, of the tenon's parallel part."""
        total = self.bore_radius(stations) + self.outside_radius(stations)
        return (total - self.radial_clearance) / 2.0

    def land(self, stations: FloatArray) -> FloatArray:
        """Width, mm, of the flat at the tenon's tip, beside the bore."""
        return np.clip(self._beside_lead_in(stations), LEAST_LAND, self.least_wall)

    def _beside_lead_in(self, stations: FloatArray) -> FloatArray:
        """Wall of the tenon beside the whole lead-in, mm."""
        at_tip = self.bore.radii_at(stations + self.engagement)
        return self.tenon_radius(stations) - LEAD_IN - at_tip

    def parallel_spare(self, stations: FloatArray) -> FloatArray:
        """Length of the tenon's parallel part beyond the least that guides it, mm."""
        at_tip = self.bore.radii_at(stations + self.engagement)
        cone = self.tenon_radius(stations) - at_tip - self.land(stations)
        spare: FloatArray = (self.engagement - cone) - LEAST_PARALLEL
        return spare

    def rib_spare(self, stations: FloatArray) -> FloatArray:
        """Wall outside the socket beyond what a rib needs, mm; negative: a notch it is."""
        relief = rib_relief(self.radial_clearance)
        spare: FloatArray = self.outside_radius(stations) - self.radius_needed(stations, relief)
        return spare

    def zone(self, stations: FloatArray) -> FloatArray:
        """Height of the joint's zone, mm: seam plane to the top of the roof."""
        over_tip = AXIAL_GAP + self.land(stations) + self.bore.sagitta
        rise: FloatArray = self.engagement + over_tip / (1.0 + self.bore.slope)
        return rise

    def relief(self, station: float) -> float:
        """How far the key at a station stands out of the tenon, mm; 0 where it is a notch."""
        is_rib = self.rib_spare(np.array([station]))[0] >= 0.0
        return rib_relief(self.radial_clearance) if is_rib else 0.0

    def radius_needed(self, stations: FloatArray, relief: float) -> FloatArray:
        """Least radius of the outside over the zone, mm, for a key of that relief."""
        socket = self.tenon_radius(stations) + self.radial_clearance
        needed: FloatArray = socket + relief + self.least_wall + FACET_ALLOWANCE
        return needed

    def linear_parts(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which every size above is linear."""
        cuts = {low, high}
        kinks = (
            lambda s: self._beside_lead_in(s) - self.least_wall,
            lambda s: self._beside_lead_in(s) - LEAST_LAND,
            self.rib_spare,
        )
        for kink in kinks:
            values = kink(np.array([low, high]))
            if values[0] * values[1] < 0.0:
                cuts.add(_root(low, high, values))
        ends = sorted(cuts)
        return list(pairwise(ends)) or [(low, high)]


def where_kept(span: Span, limit: Limit) -> list[Span]:
    """The part of a span on which a linear limit is not negative: one span or none.

    A solved end is drawn inward by 1e-10 mm, so that the limit holds at the
    very end too, round-off and all.
    """
    low, high = span
    values = limit(np.array([low, high]))
    if values.min() >= 0.0:
        return [span]
    if values.max() < 0.0:
        return []
    root = _root(low, high, values)
    kept = (low, max(low, root - _NUDGE)) if values[0] >= 0.0 else (min(high, root + _NUDGE), high)
    return [kept]


def _root(low: float, high: float, values: FloatArray) -> float:
    share = float(values[0] / (values[0] - values[1]))
    return min(max(low + share * (high - low), low), high)
