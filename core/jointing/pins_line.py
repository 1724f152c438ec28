"""The sizes of `pins_design.pins_on` at many stations at once, for one engagement.

Three solid pins stand on a circle about the middle of the section, the first of them wider
than the others. In solid that circle is well out, in a wall around a bore in mid wall. All
sizes are linear in the section's radius and the bore's, but for kinks where another limit
takes over.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from itertools import combinations

import numpy as np

from ..planning.intervals import Span
from ..values import AXIAL_GAP, FACET_ALLOWANCE, LEAD_IN, MOUTH_RELIEF, FloatArray
from .joint_line import LEAST_LAND, JointLine, split_at
from .tenon_line import TenonLine
from .wall_run import WallRun

LEAST_PIN = 2.5
"""Radius of the narrowest pin, mm: it must bear handling. Common practice, no source."""

WIDEST_SHARE = 0.2
"""The first pin is a fifth as wide as the section, where that is more than the least."""

OTHERS_SHARE = 0.8
"""The other pins, of the first: a person sees which is which."""

PIN_STEP = 0.5
"""How much wider than the others' sockets the first pin is at least, mm in the radius."""

CIRCLE_SHARE = 0.6
"""Radius of the circle on which pins stand in solid, of the section's."""

LEAST_PIN_TURN = math.radians(80.0)
"""Between the first pin and the second, seen from the middle; the third is farther off both."""

_CHORD = 2.0 * math.sin(LEAST_PIN_TURN / 2.0)
"""Between the first two pins, of their circle's radius, where they are nearest."""

MOST_PIN_PLAY = math.radians(1.25)
"""By which the clearance may let pins turn about the middle; the contract allows 1.5 degrees."""

_Size = Callable[[FloatArray], FloatArray]


@dataclass(frozen=True, slots=True)
class PinsLine(TenonLine):
    """One joint of pins, as its station moves along a run of wall around one bore, or solid."""

    run: WallRun
    engagement: float
    radial_clearance: float
    least_wall: float

    def __post_init__(self) -> None:
        assert len(self.run.bores) < 2, "pins go around one bore, or into solid"

    @property
    def reach(self) -> float:
        """How far above the seam, mm, the outer surface counts."""
        return self._around.reach

    @property
    def _around(self) -> JointLine:
        """A tenon on the same run, for what the run itself leaves."""
        return JointLine(self.run, self.engagement, self.radial_clearance, self.least_wall)

    # --- what it needs ------------------------------------------------------------------

    @property
    def step(self) -> float:
        """How much wider the first pin is than the others at least, mm in the radius."""
        return self.radial_clearance + PIN_STEP

    @property
    def least_first(self) -> float:
        """Least radius of the first pin, mm."""
        return max(LEAST_PIN + self.step, LEAST_PIN / OTHERS_SHARE)

    @property
    def beyond_pin(self) -> float:
        """Wall needed outside a pin, mm: clearance, and the socket's."""
        return self.radial_clearance + self.least_wall + FACET_ALLOWANCE

    @property
    def play_circle(self) -> float:
        """Radius, mm, of the least circle on which the clearance turns pins little enough."""
        return self.radial_clearance / math.tan(MOST_PIN_PLAY)

    @property
    def wall_needed(self) -> float:
        """Least radius of a solid section, or least wall around a bore, mm."""
        if not self.run.surfaces:
            return self.section_needed
        return 2.0 * (self.least_first + self.beyond_pin) + MOUTH_RELIEF

    @property
    def section_needed(self) -> float:
        """Least radius of the whole section, mm, that holds the pins apart."""
        chord = float(self._chord_circle(np.array(self.least_first)))
        return self.least_first + self.beyond_pin + max(chord, self.play_circle)

    def need(self) -> str:
        """The section that pins need, in words."""
        needed = f"a section {2.0 * self.section_needed:.2f} mm wide"
        if self.run.surfaces:
            needed += f", and {self.wall_needed:.2f} mm of wall around the bore,"
        return (
            f"{needed} for three pins from {LEAST_PIN:.2f} mm radius up, "
            f"{self.radial_clearance:.2f} mm of clearance, {self.least_wall:.2f} mm of wall at "
            f"each socket and {FACET_ALLOWANCE:.2f} mm for facets"
        )

    # --- what the run leaves ------------------------------------------------------------

    def outer_radius(self, stations: FloatArray) -> FloatArray:
        """The narrowest outer surface over the zone, mm."""
        return self._around.outer_radius(stations)

    def bore_radius(self, stations: FloatArray) -> FloatArray:
        """The widest bore beside the pins, mm; 0 in solid."""
        return self._around.bore_radius(stations)

    def wall(self, stations: FloatArray) -> FloatArray:
        """The wall left over the whole zone, mm; in solid the section's radius."""
        return self.outer_radius(stations) - self.bore_radius(stations)

    def wall_spare(self, stations: FloatArray) -> FloatArray:
        """By how much the section could be smaller, mm."""
        whole = self.outer_radius(stations) - self.section_needed
        spare: FloatArray = np.minimum(whole, self.wall(stations) - self.wall_needed)
        return spare

    # --- the pins -----------------------------------------------------------------------

    def first_radius(self, stations: FloatArray) -> FloatArray:
        """Radius, mm, of the first pin: a fifth of the section's, as far as there is room."""
        most = np.min([limit(stations) for limit in self._first_limits()], axis=0)
        radius: FloatArray = np.maximum(most, self.least_first)
        return radius

    def _first_limits(self) -> list[_Size]:
        """What each rule leaves for the first pin's radius, mm."""
        beyond, apart = self.beyond_pin, self._apart - self.step
        limits: list[_Size] = [
            lambda stations: WIDEST_SHARE * self.outer_radius(stations),
            lambda stations: (
                (_CHORD * (self.outer_radius(stations) - beyond) - apart) / (2.0 + _CHORD)
            ),
            lambda stations: self.outer_radius(stations) - beyond - self.play_circle,
        ]
        if self.run.surfaces:
            limits.append(lambda stations: (self.wall(stations) - MOUTH_RELIEF) / 2.0 - beyond)
        return limits

    def other_radius(self, stations: FloatArray) -> FloatArray:
        """Radius, mm, of the other two pins."""
        first = self.first_radius(stations)
        radius: FloatArray = np.minimum(first - self.step, OTHERS_SHARE * first)
        return radius

    @property
    def _apart(self) -> float:
        """Between two pins, mm: both clearances, and the wall between their sockets."""
        return 2.0 * (self.radial_clearance + self.least_wall) + FACET_ALLOWANCE

    def _chord_circle(self, first: FloatArray) -> FloatArray:
        """Least circle, mm, on which pins, the first of a radius, keep apart."""
        circle: FloatArray = (2.0 * first - self.step + self._apart) / _CHORD
        return circle

    def _least_circles(self) -> list[_Size]:
        """Circles, mm, of which the widest counts: the one liked, and the least ones."""
        circles: list[_Size] = [
            self._liked_circle,
            lambda stations: self._chord_circle(self.first_radius(stations)),
            lambda stations: np.full(stations.shape, self.play_circle),
        ]
        if self.run.surfaces:
            beside = self.beyond_pin + MOUTH_RELIEF
            circles.append(
                lambda stations: self.bore_radius(stations) + self.first_radius(stations) + beside
            )
        return circles

    def _liked_circle(self, stations: FloatArray) -> FloatArray:
        """Well out in solid; around a bore in mid wall."""
        if not self.run.surfaces:
            return CIRCLE_SHARE * self.outer_radius(stations)
        middle: FloatArray = (self.outer_radius(stations) + self.bore_radius(stations)) / 2.0
        return middle

    def _widest_circle(self, stations: FloatArray) -> FloatArray:
        """The widest circle, mm, that the outside leaves."""
        widest: FloatArray = (
            self.outer_radius(stations) - self.first_radius(stations) - self.beyond_pin
        )
        return widest

    def circle(self, stations: FloatArray) -> FloatArray:
        """Radius, mm, of the circle about the middle on which the pins stand."""
        least = np.max([size(stations) for size in self._least_circles()], axis=0)
        circle: FloatArray = np.minimum(self._widest_circle(stations), least)
        return circle

    @property
    def land(self) -> float:
        """Radius, mm, of the flat at each pin's tip."""
        return min(max(LEAST_PIN - LEAD_IN, LEAST_LAND), self.least_wall)

    def parallel_spare(self, stations: FloatArray) -> FloatArray:
        """Length of the first pin's parallel part beyond the least that guides it, mm."""
        cone = self.first_radius(stations) - self.land
        spare: FloatArray = self.engagement - cone - self.least_parallel
        return spare

    def zone(self, stations: FloatArray) -> FloatArray:
        """Height of the joint's zone, mm: seam plane to the points of the roofs."""
        return np.full(stations.shape, self.engagement + AXIAL_GAP + self.land)

    def radius_needed(self, stations: FloatArray) -> FloatArray:
        """Least distance from the middle, mm, within which all must be wall over the zone."""
        needed: FloatArray = self.circle(stations) + self.first_radius(stations) + self.beyond_pin
        return needed

    def linear_parts(self, low: float, high: float) -> list[Span]:
        """Parts of a span on which every size above is linear."""
        parts = self._around.linear_parts(low, high)
        parts = _split_between(parts, [*self._first_limits(), self._least_firsts])
        narrow = self.step / (1.0 - OTHERS_SHARE)
        parts = split_at(parts, lambda stations: self.first_radius(stations) - narrow)
        more = self.section_needed - self.wall_needed
        parts = split_at(parts, lambda stations: self.bore_radius(stations) - more)
        return _split_between(parts, [self._widest_circle, *self._least_circles()])

    def _least_firsts(self, stations: FloatArray) -> FloatArray:
        return np.full(stations.shape, self.least_first)


def _split_between(parts: list[Span], sizes: list[_Size]) -> list[Span]:
    """Parts cut where two of the sizes, linear on each, change places."""
    for one, other in combinations(sizes, 2):
        parts = split_at(parts, partial(_apart, one, other))
    return parts


def _apart(one: _Size, other: _Size, stations: FloatArray) -> FloatArray:
    apart: FloatArray = one(stations) - other(stations)
    return apart
