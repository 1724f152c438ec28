"""Every plan of straight parts with random holes, and what each scores, by the rules and formulas.

Nothing of the planner is used: the rules and the terms of the score are written down here a
second time. Parts are straight tubes whose lengths are all multiples of 0.5 mm: holes,
guard, envelope, engagement, margins, rings, stretches to avoid and stations insisted on.

Piece counts are exact. Each rule bounds a station, or the difference of two that follow each
other, by a multiple of 0.5 mm. If stations keep such bounds, so do the same stations rounded
down to 0.5 mm: rounding down changes neither whether z >= a, z <= a, z' <= z + a nor z' >= z + a
hold for such an a. So a plan exists if and only if one exists on that grid, and windows narrower
than its step are single points of it. The finer grid that is searched holds all of its points.

The best score on the grid is a lower bound of the best there is, and no plan scores more than
`grid_loss` above it: the same rounding moves each of its stations by less than a step.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from borewright.core.values import Ornament, Settings, Survey
from numpy.typing import NDArray

from tests.round_parts import LAND_AND_GAP, a_part

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

STEP = 0.25
"""mm, of the grid: half of what all ends are multiples of."""

BORE, THICK, THIN = 14.2, 21.4, 18.0
"""Diameters, mm: of the bore, and of outsides that leave a tenon's wall, and a collar's only."""


@dataclass(frozen=True, slots=True)
class Case:
    """A part and what is asked for. `thin`: its wall takes collars only."""

    survey: Survey
    settings: Settings
    thin: bool


def random_case(seed: int) -> Case:
    """One of ever so many, the same for the same seed."""
    rng = np.random.default_rng(seed)
    thin = rng.random() < 0.2
    length = float(rng.integers(120, 300)) / 2.0
    holes = [
        (float(rng.integers(2, int(length) - 2)), float(rng.integers(1, 9)))
        for _ in range(rng.integers(0, 7))
    ]
    rings = []
    if not thin and rng.random() < 0.4:
        start = float(rng.integers(4, int(length) - 12))
        radius = THICK / 2.0
        rings = [Ornament(start, start + float(rng.integers(1, 8)), radius, radius + 2.0)]
    settings = Settings(
        envelope=(180.0, 180.0, float(rng.integers(50, 220)) / 2.0),
        engagement=float(rng.integers(12, 18)) / 2.0,
        guard=float(rng.integers(0, 5)) / 2.0,
        pieces=int(rng.integers(2, 5)) if rng.random() < 0.2 else None,
        cuts=(float(rng.integers(20, int(length) - 20)),) if rng.random() < 0.15 else (),
        avoid=_random_avoid(rng, length) if rng.random() < 0.4 else (),
        prefer=tuple(rng.uniform(0.0, length, 2).tolist()) if rng.random() < 0.4 else (),
    )
    outside = THIN if thin else THICK
    survey = a_part(length, holes, bore=(BORE, BORE), outside=(outside, outside), ornaments=rings)
    return Case(survey, settings, bool(thin))


def _random_avoid(rng: np.random.Generator, length: float) -> tuple[tuple[float, float], ...]:
    starts = rng.integers(0, 2 * int(length), int(rng.integers(1, 3))) / 2.0
    return tuple((float(low), float(low) + float(rng.integers(2, 40)) / 2.0) for low in starts)


class EveryPlan:
    """All plans of the fewest pieces with seams on the grid, and the best of them."""

    def __init__(self, case: Case) -> None:
        self.case = case
        survey, settings = case.survey, case.settings
        assert settings.engagement is not None
        tenon, self.length = settings.engagement, survey.length
        self.over = tenon if case.thin else tenon + LAND_AND_GAP
        self.under = tenon if case.thin else 0.0
        self.stands = 0.0 if case.thin else tenon
        grid = np.arange(0.0, self.length + STEP / 2.0, STEP)
        self.stations = grid[self._is_clear(grid)]
        low, high = self.stations[:, None], self.stations[None, :]
        height = settings.envelope[2]
        self.first = self.stations + self.stands <= height
        self.last = self.length - self.stations <= height
        self.follow = high + self.stands - low <= height
        self.follow &= high - self.under >= low + self.over + 1.0
        for cut in settings.cuts:
            self.first &= self.stations <= cut
            self.last &= self.stations >= cut
            self.follow &= (low >= cut) | (high <= cut)
        self.pieces = self._fewest()
        self.merit = self.merits(self.stations)

    def _is_clear(self, stations: FloatArray, slack: float = 0.0) -> BoolArray:
        """Whether the rules for a single seam hold at stations, but for a slack."""
        survey, settings = self.case.survey, self.case.settings
        foot, top = stations - self.under + slack, stations + self.over - slack
        under, over = stations - slack, stations + slack
        clear = (foot >= 1.0) & (top <= self.length - 1.0)
        for hole in survey.side_holes:
            clear &= (top <= hole.low - settings.guard) | (foot >= hole.high + settings.guard)
        for ring in survey.ornaments:
            clear &= (under <= ring.start - 1.0) | (over >= ring.stop + 1.0)
        for low, high in settings.avoid:
            clear &= (under + self.under <= low) | (foot >= high)
        return clear

    def keeps_rules(self, stations: Sequence[float]) -> bool:
        """Whether a chain of seams, on the grid or not, keeps all rules, round-off apart."""
        z, slack = np.array(stations, float), 1e-9
        highs = np.array([*(z + self.stands), self.length])
        heights = highs - np.array([0.0, *z])
        apart = np.diff(z) >= self.over + self.under + 1.0 - slack
        fits = heights <= self.case.settings.envelope[2] + slack
        kept = set(self.case.settings.cuts) <= set(stations)
        return bool(self._is_clear(z, slack).all() and apart.all() and fits.all()) and kept

    def _fewest(self) -> int | None:
        settings = self.case.settings
        least = settings.pieces or 1
        if least == 1 and not settings.cuts and self.length <= settings.envelope[2]:
            return 1
        level, pieces = self.first, 2
        while level.any():
            if pieces >= least and (level & self.last).any():
                return pieces
            level, pieces = self.follow[level].any(axis=0), pieces + 1
        return None

    # --- the score, from its formula ----------------------------------------------------

    def merits(self, stations: FloatArray) -> FloatArray:
        """What seams add by themselves: distance, wall, ring's foot, preference, collars."""
        foot, top = stations - self.under, stations + self.over
        d = np.minimum(foot, self.length - top)
        for hole in self.case.survey.side_holes:
            d = np.minimum(d, np.maximum(hole.low - top, foot - hole.high))
        d = np.minimum(d, 25.0)
        w = ((THIN if self.case.thin else THICK) - BORE) / 2.0
        n = 0.8 if self.case.thin else 2.29
        merit: FloatArray = 8.0 * d / (d + 10.0) + 2.0 * w / (w + n)
        feet = [f for r in self.case.survey.ornaments for f in (r.start - 1.0, r.stop + 1.0)]
        if feet:
            x = np.minimum(np.min([np.abs(stations - f) for f in feet], axis=0), 2.0)
            merit += 0.5 * (1.0 - x / 2.0)
        if self.case.settings.prefer:
            p = np.min([np.abs(stations - at) for at in self.case.settings.prefer], axis=0)
            p = np.minimum(p, 50.0)
            merit += 16.0 * (50.0 - p) / (50.0 + 2.0 * p)
        return merit - (4.0 if self.case.thin else 0.0)

    def evenness(self, lengths: FloatArray) -> FloatArray:
        """What pieces of these lengths add, in a plan of the fewest."""
        assert self.pieces is not None
        uneven: FloatArray = -8.0 * (lengths * self.pieces / self.length - 1.0) ** 2
        return uneven

    def score(self, stations: Sequence[float]) -> float:
        """Of one chain of seams."""
        lengths = np.diff([0.0, *stations, self.length])
        merits = self.merits(np.array(stations, float)).sum() if stations else 0.0
        return float(merits + self.evenness(lengths).sum())

    def best(self, unlike: Sequence[Sequence[float]] = ()) -> float:
        """Of all plans on the grid with, for each other plan, a seam 5 mm or more off its own."""
        assert self.pieces is not None
        cuts = range(self.pieces - 1)
        return max(
            (self._best_apart(unlike, where) for where in product(cuts, repeat=len(unlike))),
            default=-np.inf,
        )

    def _best_apart(self, unlike: Sequence[Sequence[float]], where: Sequence[int]) -> float:
        """With the `where`-th seam off that of each other plan."""
        assert self.pieces is not None
        z = self.stations
        if self.pieces == 1:
            return 0.0
        value = np.where(self.first, self.merit + self.evenness(z), -np.inf)
        steps = np.where(self.follow, self.evenness(z[None, :] - z[:, None]), -np.inf)
        for number in range(self.pieces - 1):
            if number:
                value = (value[:, None] + steps).max(axis=0) + self.merit
            for other, at in zip(unlike, where, strict=True):
                if at == number:
                    value = np.where(np.abs(z - other[at]) >= 5.0, value, -np.inf)
        last = np.where(self.last, value + self.evenness(self.length - z), -np.inf)
        return float(last.max())

    def grid_loss(self, stations: Sequence[float]) -> float:
        """By how much, at the most, a plan scores more than the same rounded down to the grid.

        Each seam moves by less than a step, each length changes by less than a step. By a mm
        the score of a seam changes by at most 80 / (10 + d)^2, d at least the guard, for its
        distance, 0.96 for a preference and 0.25 for a ring's foot; that of a piece by at most
        16 |l / l_mean - 1| / l_mean.
        """
        assert self.pieces is not None
        settings = self.case.settings
        near = 80.0 / (10.0 + min(settings.guard, 1.0)) ** 2
        slope = near + (0.96 if settings.prefer else 0.0)
        slope += 0.25 if self.case.survey.ornaments else 0.0
        mean = self.length / self.pieces
        off = np.abs(np.diff([0.0, *stations, self.length]) / mean - 1.0) + STEP / mean
        return STEP * (len(stations) * slope + float((16.0 * off / mean).sum()))


def nudged(case: Case, stations: Sequence[float]) -> list[tuple[float, ...]]:
    """The chain with each group of neighbouring seams moved by 1/1024 mm, up and down."""
    held = set(case.settings.cuts)
    chains = []
    for first in range(len(stations)):
        for last in range(first, len(stations)):
            for move in (-1.0 / 1024.0, 1.0 / 1024.0):
                moved = list(stations)
                moved[first : last + 1] = [z + move for z in moved[first : last + 1]]
                if not held & set(stations[first : last + 1]):
                    chains.append(tuple(moved))
    return chains
