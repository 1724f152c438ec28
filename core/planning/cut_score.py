"""How good a chain of cuts is, by a plainly stated score.

The score of a plan is the sum over its cuts of

    8 d / (d + 10)               d: mm, at most 25, from the joint's zone to the nearest hole
                                 or end of wall
    2 w / (w + n)                w: wall at the joint, n: the thinnest that its kind can have
    0.5 (1 - x / 2)              x: mm, at most 2, from the place that hides a seam best, the
                                 nearest that a seam can come to a ring's foot, or to a step's on
                                 its narrower side
    16 (50 - p) / (50 + 2 p)     p: mm, at most 50, from the nearest preferred station
    -4                           where it takes a collar of its own

less, over its pieces, of 8 (l / l_mean - 1)^2, where l is the piece's length seam to seam.

Holes weigh most: from 5 mm to 10 is worth 1.3, for which two pieces in a row may differ from
their mean by 0.29 of it. For a hidden seam they may by 0.18; what stands farther off is no reason
for uneven pieces. Beside a preferred station the score falls by 0.96 a mm, faster than it can rise
with the distance from a hole, so the seam lies on it wherever it may; where it may not, the seam
comes as near as holes let it, and from 50 mm on the station is not felt. No term can make for more
pieces: their number is settled before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, IntArray, Ornament, Survey, read_only
from .intervals import GRAIN
from .seam_reach import Ground
from .seam_stretches import RING_MARGIN, SeamField
from .ways import Line

DISTANCE_WEIGHT, EVEN_WEIGHT, WALL_WEIGHT, HIDDEN_WEIGHT = 8.0, 8.0, 2.0, 0.5
PREFER_WEIGHT, COLLAR_WEIGHT = 16.0, 4.0
USUAL_DISTANCE, FAR_ENOUGH = 10.0, 25.0
RING_RELIEF = 0.5
"""How far a ring, or a step, stands out, mm, to hide a seam at its foot."""

HIDDEN_REACH = 2.0
"""A seam is in sight when it is so far, mm, from the place that would hide it best."""

PREFER_REACH = 50.0
"""mm, from which on a preferred station is not felt."""


@dataclass(frozen=True, slots=True, eq=False)
class Seams:
    """Seams, low end first: stations, and the stretch of each."""

    stations: FloatArray
    home: IntArray

    def __post_init__(self) -> None:
        read_only(self.stations)
        read_only(self.home)


@dataclass(frozen=True, slots=True)
class PlanScore:
    """What a chain of cuts scores, by term: each the sum over its cuts or pieces.

    distance : for the distance of joints from holes and ends of wall
    wall : for the wall at the joints
    hidden : for seams at the foot of a ring or step
    preferred : for seams at preferred stations
    collars : for collars that have to be made, not over 0
    evenness : for lengths that differ, not over 0
    """

    distance: float
    wall: float
    hidden: float
    preferred: float
    collars: float
    evenness: float

    @property
    def total(self) -> float:
        """The score."""
        gained = self.distance + self.wall + self.hidden + self.preferred
        return gained + self.collars + self.evenness


class SeamScorer:
    """The terms of the score for any seams of one search, each asked by itself."""

    def __init__(self, field: SeamField, ground: Ground) -> None:
        self._field, self._ground = field, ground
        survey = field.survey
        # the last entry stands for the part's ends, which are of way -1
        self._starts = np.array([*(way.run.start for way in field.ways), 0.0])
        self._stops = np.array([*(way.run.stop for way in field.ways), survey.length])
        self._lows = np.array([hole.low for hole in survey.side_holes])
        self._highs = np.array([hole.high for hole in survey.side_holes])
        self.hiding = hiding_places(survey)
        self.preferred = np.unique(np.array(field.settings.prefer, float))
        self._lines: dict[tuple[int, float], Line] = {}

    def terms(self, seams: Seams) -> FloatArray:
        """(5, n) distance, wall, hidden, preferred and collars of each; 0 of the part's ends."""
        ground, home, stations = self._ground, seams.home, seams.stations
        ways = ground.way[home]
        tops = stations + ground.zone_at(stations, home)
        distance = self._free_distances(ways, stations - ground.below[home], tops)
        terms = np.array(
            [
                DISTANCE_WEIGHT * distance / (distance + USUAL_DISTANCE),
                WALL_WEIGHT * self._wall_shares(ways, ground.engagement[home], stations),
                HIDDEN_WEIGHT * (1.0 - _nearest(stations, self.hiding, HIDDEN_REACH)),
                _preference(PREFER_REACH * _nearest(stations, self.preferred, PREFER_REACH)),
                -COLLAR_WEIGHT * (ground.below[home] > 0.0),
            ]
        )
        terms[:, ways < 0] = 0.0
        return terms

    def score(self, seams: Seams) -> PlanScore:
        """The score of a chain, the part's ends being its first and last seam."""
        lengths = np.diff(seams.stations)
        distance, wall, hidden, preferred, collars = self.terms(seams).sum(axis=1).tolist()
        evenness = float(self.evenness(lengths, len(lengths)).sum())
        return PlanScore(distance, wall, hidden, preferred, collars, evenness)

    def evenness(self, lengths: FloatArray, pieces: int) -> FloatArray:
        """What pieces of these lengths, mm, add to the score of a plan of so many; not over 0."""
        mean = self._field.survey.length / pieces
        uneven: FloatArray = -EVEN_WEIGHT * (lengths / mean - 1.0) ** 2
        return uneven

    def _free_distances(self, ways: IntArray, feet: FloatArray, tops: FloatArray) -> FloatArray:
        """From each zone to the nearest side hole's edge or wall's end, mm, at most far enough."""
        nearest = np.minimum(feet - self._starts[ways], self._stops[ways] - tops)
        if len(self._lows):
            apart = np.maximum(self._lows - tops[:, None], feet[:, None] - self._highs)
            nearest = np.minimum(nearest, apart.min(axis=1))
        return nearest.clip(0.0, FAR_ENOUGH)

    def _wall_shares(
        self, ways: IntArray, engagements: FloatArray, stations: FloatArray
    ) -> FloatArray:
        """Of each seam's wall and the thinnest that its kind can have, the share of the wall."""
        shares = np.zeros(len(ways))
        for way in np.unique(ways[ways >= 0]).tolist():
            for engagement in np.unique(engagements[ways == way]).tolist():
                here = (ways == way) & (engagements == engagement)
                line = self._line(way, engagement)
                wall = line.wall(stations[here])
                shares[here] = wall / (wall + line.wall_needed)
        return shares

    def _line(self, way: int, engagement: float) -> Line:
        key = way, engagement
        if key not in self._lines:
            self._lines[key] = self._field.line(way, engagement)
        return self._lines[key]


def _nearest(stations: FloatArray, places: FloatArray, reach: float) -> FloatArray:
    """Distances to the nearest of the places, as shares of a reach, 1 from there on."""
    if not len(places):
        return np.ones(len(stations))
    apart: FloatArray = np.abs(stations[:, None] - places).min(axis=1) / reach
    return apart.clip(None, 1.0)


def _preference(apart: FloatArray) -> FloatArray:
    """By mm from the nearest preferred station."""
    worth: FloatArray = PREFER_WEIGHT * (PREFER_REACH - apart) / (PREFER_REACH + 2.0 * apart)
    return worth


def hiding_places(survey: Survey) -> FloatArray:
    """Stations where a seam hides best: as near as it can come to what stands out beside it."""
    places = []
    for ornament in survey.ornaments:
        if ornament.place == "outside":
            below, above = _outside_beside(survey, ornament)
            if ornament.greatest_radius >= below + RING_RELIEF:
                places.append(ornament.start - RING_MARGIN)
            if ornament.greatest_radius >= above + RING_RELIEF:
                places.append(ornament.stop + RING_MARGIN)
    return np.unique(places)


def _outside_beside(survey: Survey, ornament: Ornament) -> tuple[float, float]:
    """Radii, mm, of the round outside under an ornament and over it; infinite without any."""
    below, above = [], []
    for surface in survey.outsides:
        start, stop = surface.start - RING_MARGIN, surface.stop + RING_MARGIN
        if surface.start < ornament.start - GRAIN and ornament.start <= stop:
            below.append(surface.radius_at(ornament.start) + surface.eccentricity)
        if surface.stop > ornament.stop + GRAIN and ornament.stop >= start:
            above.append(surface.radius_at(ornament.stop) + surface.eccentricity)
    return max(below, default=np.inf), max(above, default=np.inf)
