"""Putting one piece after another on beds, each where the first bed has a place for it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..values import FloatArray
from .no_fit import NoFit, are_free, meeting_places, no_fit, obstacles_of
from .stance import Stance

Preference = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]
"""Low and high corners, (n, 2), of where a piece would stand, and the floor: least is best."""

SPACING_MARGIN = 5e-5
"""More than the spacing, mm, so that places rounded to a `PLACE_STEP` still keep it."""

ROW_SLACK = 1.5e-3
"""By how much rows may pass the floor, mm, for margins and rounding to add up in."""

NO_PLACE = (math.inf, 0.0, 0.0)

CHUNK = 64
"""So many places are looked at first, the best; then more, then all."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """A piece to be placed.

    number : its place in the order given
    kind : equal for pieces of the same outline
    area : mm2, widened by half the spacing
    inner, outer : mm, radii of a disc within the outline and of one about it
    """

    number: int
    kind: int
    stances: tuple[Stance, ...]
    area: float
    inner: float
    outer: float
    height: float


@dataclass(frozen=True, slots=True, eq=False)
class Stood:
    """A candidate where it stands: at which of its turns, moved by (x, y) mm."""

    candidate: Candidate
    stance: Stance
    x: float
    y: float


@dataclass(slots=True)
class Floor:
    """What all beds share, and how much has been looked at.

    room : mm2, area of the floor widened by half the spacing
    regions : no-fit regions found so far, by kind and turn of both pieces
    work : pieces tried on beds, those on full ones counting for more
    """

    size: FloatArray
    spacing: float
    room: float
    regions: dict[tuple[int, float, int, float], NoFit] = field(default_factory=dict)
    work: float = 0.0

    def region(self, still: Stood, candidate: Candidate, stance: Stance) -> NoFit:
        """Where the candidate must not go because of what stands."""
        key = (still.candidate.kind, still.stance.turn, candidate.kind, stance.turn)
        if key not in self.regions:
            self.regions[key] = no_fit(still.stance, stance, self.spacing + SPACING_MARGIN)
        return self.regions[key]


@dataclass(slots=True)
class FillingBed:
    """A bed that is being filled.

    full_for : kinds and turns that found no place, and so never will
    refused : mm, least radius of a disc about one that found none: whatever holds
        such a disc need not be tried
    """

    stood: list[Stood] = field(default_factory=list)
    area: float = 0.0
    full_for: set[tuple[int, float]] = field(default_factory=set)
    refused: float = math.inf

    @property
    def height(self) -> float:
        """Of the tallest piece, mm."""
        return max(one.candidate.height for one in self.stood)

    def takes(self, candidate: Candidate, floor: Floor, preference: Preference) -> bool:
        """Put the candidate where it is liked best, if it has a place."""
        if not self._may_take(candidate, floor):
            return False
        best = NO_PLACE, candidate.stances[0]
        for stance in candidate.stances:
            place = self._place(candidate, stance, floor, preference)
            if place[0] < best[0][0]:
                best = place, stance
        (score, x, y), stance = best
        if score == math.inf:
            self.refused = min(self.refused, candidate.outer)
            return False
        self.stood.append(Stood(candidate, stance, x, y))
        self.area += candidate.area
        return True

    def _may_take(self, candidate: Candidate, floor: Floor) -> bool:
        enough = self.area + candidate.area <= floor.room * (1.0 + 1e-9)
        return enough and candidate.inner < self.refused

    def _place(
        self, candidate: Candidate, stance: Stance, floor: Floor, preference: Preference
    ) -> tuple[float, float, float]:
        """Score, x and y of the best place at one turn; an infinite score if there is none."""
        key = candidate.kind, stance.turn
        if key in self.full_for:
            return NO_PLACE
        low, high = -stance.low, np.maximum(floor.size + ROW_SLACK - stance.high, -stance.low)
        regions = [floor.region(one, candidate, stance) for one in self.stood]
        moves = np.array([[one.x, one.y] for one in self.stood]).reshape(-1, 2)
        obstacles = obstacles_of(regions, moves)
        places = meeting_places(obstacles, low, high)
        scores = preference(places + stance.low, places + stance.high, floor.size)
        order = np.argsort(scores, kind="stable")
        floor.work += 1.0 + len(regions) / 8.0
        for chosen in np.split(order, [CHUNK, 8 * CHUNK]):
            free = are_free(places[chosen], obstacles)
            if free.any():
                first = chosen[free.argmax()]
                return float(scores[first]), float(places[first, 0]), float(places[first, 1])
        self.full_for.add(key)
        return NO_PLACE


def fill_beds(order: Sequence[tuple[Candidate, Preference]], floor: Floor) -> list[FillingBed]:
    """First fit: each candidate in turn on the first bed that takes it."""
    beds: list[FillingBed] = []
    for candidate, preference in order:
        if not any(bed.takes(candidate, floor, preference) for bed in beds):
            beds.append(FillingBed())
            taken = beds[-1].takes(candidate, floor, preference)
            assert taken, "a stance that fits the floor stands on an empty one"
    return beds


def bottom_left(low: FloatArray, high: FloatArray, floor: FloatArray) -> FloatArray:
    """As low as can be, then as far left: by the top's y, and hardly by the right side's x."""
    del low, floor
    score: FloatArray = high @ np.array([1e-4, 1.0])
    return score


def left_bottom(low: FloatArray, high: FloatArray, floor: FloatArray) -> FloatArray:
    """As far left as can be, then as low."""
    del low, floor
    score: FloatArray = high @ np.array([1.0, 1e-4])
    return score


def towards_corner(low: FloatArray, high: FloatArray, floor: FloatArray) -> FloatArray:
    """Near one corner of the floor."""
    del low
    score: FloatArray = (high / floor) @ np.array([1.0, 1.0 + 1e-4])
    return score


def along_border(low: FloatArray, high: FloatArray, floor: FloatArray) -> FloatArray:
    """Corners first, then the border, the middle last."""
    away = np.abs((low + high) / 2.0 - floor / 2.0) / floor
    score: FloatArray = 1e-6 * (high / floor).sum(axis=1) - away @ np.array([1.0, 1.0 + 1e-4])
    return score
