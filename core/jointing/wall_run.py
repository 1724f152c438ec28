"""Stretches of wall that follow each other around the same bores, taken as one.

Around two bores a joint's outlines are hulls of discs (`hull.py`): discs of radii
u + swell, where the first bore has no swell and the second is r1 - r0 wider at the
tenon's tip. What the wall bounds is u; with one bore, u is the radius.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..values import CHORD_TOLERANCE, FloatArray, RoundSurface, Survey, WallStretch, read_only

_TOUCH = 1e-6
"""Stretches nearer to each other, mm, follow each other."""

_BESIDE = 1.0
"""A bore that runs longer than this, mm, along a wall lies beside it, and does not follow on."""


@dataclass(frozen=True, slots=True, eq=False)
class WallRun:
    """Wall around one bore or two, or solid, its outer surface cone after cone.

    walls, bores : which of the survey's
    surfaces : those bores; radii are about the first one's centre line; none: it is solid
    centres : (x, y) mm, of the bores' centre lines; of its own where it is solid
    edges : (n + 1,) stations at which its cones start, and where the last one stops
    outer_at_zero, outer_slopes : (n,) widest u of each cone is outer_at_zero +
        outer_slope * station: its radius less its distance from the bore's centre line
        and less its sagitta
    crest_at_zero, crest_slope : height, mm, of a ridge between two bores over a tenon's
        tip at a station; 0 with one bore
    """

    walls: tuple[int, ...]
    bores: tuple[int, ...]
    surfaces: tuple[RoundSurface, ...]
    centres: tuple[tuple[float, float], ...]
    edges: FloatArray
    outer_at_zero: FloatArray
    outer_slopes: FloatArray
    crest_at_zero: float
    crest_slope: float

    def __post_init__(self) -> None:
        for array in (self.edges, self.outer_at_zero, self.outer_slopes):
            read_only(array)

    @property
    def start(self) -> float:
        """Station at which it starts."""
        return float(self.edges[0])

    @property
    def stop(self) -> float:
        """Station at which it stops."""
        return float(self.edges[-1])

    @property
    def between_centres(self) -> float:
        """Distance, mm, of the bores' centre lines; 0 with one bore."""
        return math.dist(self.centres[0], self.centres[-1])

    @property
    def off_axis(self) -> float:
        """How much farther from the part's axis than its u a point can lie, mm."""
        ends = np.array([self.start, self.stop])
        far = np.hypot(*np.array(self.centres).T)
        return float((far + self.swells(ends).max(axis=1)).max())

    @property
    def drift(self) -> float:
        """How fast the swell of the second bore changes, mm a mm."""
        slopes = [surface.slope for surface in self.surfaces]
        return max(slopes) - min(slopes) if slopes else 0.0

    def bore_radii(self, stations: FloatArray) -> FloatArray:
        """Radii, mm, of the first bore; 0 in solid."""
        if not self.surfaces:
            return np.zeros_like(stations)
        return self.surfaces[0].radii_at(stations)

    def swells(self, stations: FloatArray) -> FloatArray:
        """(k, ...) how much wider than the first each bore is, mm; 0 in solid."""
        first = self.bore_radii(stations)
        radii = [bore.radii_at(stations) for bore in self.surfaces] or [first]
        wider: FloatArray = np.array(radii) - first
        return wider

    def outer_at(self, stations: FloatArray) -> FloatArray:
        """The widest u, mm, at stations; at an edge that of the cone above it."""
        if len(self.outer_slopes) == 1:
            even: FloatArray = self.outer_at_zero[0] + self.outer_slopes[0] * stations
            return even
        home = np.searchsorted(self.edges[1:-1], stations, "right")
        radii: FloatArray = self.outer_at_zero[home] + self.outer_slopes[home] * stations
        return radii

    def narrowest(self, stations: FloatArray, reach: float) -> FloatArray:
        """The least of the outer u's, mm, from each station up to a reach above it, edges too."""
        if len(self.outer_at_zero) == 1:
            low, high = self.outer_at(stations), self.outer_at(stations + reach)
            least: FloatArray = np.minimum(low, high)
            return least
        starts = np.append(-math.inf, self.edges[1:-1])
        stops = np.append(self.edges[1:-1], math.inf)
        low = np.maximum(stations[..., None], starts)
        high = np.minimum(stations[..., None] + reach, stops)
        met = low <= high
        radii = (
            self.outer_at_zero + self.outer_slopes * np.where(met, station, 0.0)
            for station in (low, high)
        )
        narrowest: FloatArray = np.where(met, np.minimum(*radii), math.inf).min(axis=-1)
        return narrowest

    def joint_diameter(self, stations: FloatArray) -> FloatArray:
        """Widest way across a joint, mm: in mid wall; two bores' is as long as wide.

        In solid it is all of the section: half of that goes into the tenon's 45 degree tip.
        """
        if not self.surfaces:
            return 2.0 * self.outer_at(stations)
        swell = self.swells(stations)[-1]
        around = self.bore_radii(stations) + self.outer_at(stations)
        across: FloatArray = around + self.between_centres + swell
        return across

    @property
    def diameter_slopes(self) -> FloatArray:
        """(n,) growth of the joint's diameter with the station, along each cone."""
        if not self.surfaces:
            return 2.0 * self.outer_slopes
        slopes: FloatArray = self.outer_slopes + self.surfaces[-1].slope
        return slopes

    def wall_number(self, station: float) -> int:
        """Which of the survey's walls a station of it lies in."""
        return self.walls[int(np.searchsorted(self.edges[1:-1], station, "right"))]


def wall_runs(survey: Survey) -> tuple[WallRun, ...]:
    """The survey's walls, those that follow each other around the same bores as one.

    Walls around each of two bores that lie side by side are left to `runs_beside`.
    """
    return tuple(_run(survey, group) for group in _groups(survey, beside=False))


def runs_beside(survey: Survey) -> list[tuple[WallRun, WallRun]]:
    """Runs around one bore each that lie side by side."""
    runs = [_run(survey, group) for group in _groups(survey, beside=True)]
    return [
        (one, other)
        for one, other in combinations(runs, 2)
        if one.bores != other.bores and max(one.start, other.start) < min(one.stop, other.stop)
    ]


def _groups(survey: Survey, *, beside: bool) -> list[list[int]]:
    """Numbers of walls that follow each other, of those that lie beside another bore or not."""
    groups: list[list[int]] = []
    for number, wall in enumerate(survey.walls):
        if _is_beside(wall, survey) != beside:
            continue
        below = next((g for g in groups if _follows(survey.walls[g[-1]], wall)), None)
        if below is not None:
            below.append(number)
        elif wall.start < survey.length and wall.stop > 0.0:
            groups.append([number])
    return groups


def _is_beside(wall: WallStretch, survey: Survey) -> bool:
    """Whether a bore that a wall does not run around lies beside it."""
    others = (bore for number, bore in enumerate(survey.bores) if number not in wall.bores)
    return len(wall.bores) == 1 and any(
        min(bore.stop, wall.stop) - max(bore.start, wall.start) > _BESIDE for bore in others
    )


def _follows(below: WallStretch, above: WallStretch) -> bool:
    same = below.bores == above.bores and below.inner == above.inner
    if below.inner is None:
        same &= below.outer.offset == above.outer.offset
    return same and abs(above.start - below.stop) <= _TOUCH


def _run(survey: Survey, numbers: list[int]) -> WallRun:
    walls = [survey.walls[number] for number in numbers]
    first = walls[0]
    surfaces = tuple(survey.bores[number] for number in first.bores[1:])
    if first.inner is not None:
        surfaces = (first.inner, *surfaces)
    edges = [wall.start for wall in walls] + [walls[-1].stop]
    edges[0], edges[-1] = max(edges[0], 0.0), min(edges[-1], survey.length)
    return run_of([wall.outer for wall in walls], surfaces, edges, tuple(numbers), first.bores)


def run_of(
    outers: Sequence[RoundSurface],
    surfaces: tuple[RoundSurface, ...],
    edges: Sequence[float],
    walls: tuple[int, ...] = (0,),
    bores: tuple[int, ...] = (0,),
) -> WallRun:
    """The run of these surfaces between these edges."""
    centres = tuple(surface.offset for surface in surfaces) or (outers[0].offset,)
    less = [math.dist(outer.offset, centres[0]) + outer.sagitta for outer in outers]
    return WallRun(
        walls,
        bores,
        surfaces,
        centres,
        np.array(edges),
        np.array([outer.radius_at_zero for outer in outers]) - less,
        np.array([outer.slope for outer in outers]),
        *_crest(surfaces, edges[0], edges[-1]),
    )


def _crest(surfaces: tuple[RoundSurface, ...], start: float, stop: float) -> tuple[float, float]:
    """Height of the ridge between two bores over the tenon's tip, as value at 0 and slope.

    The ridge lies at the least u of the web (`hull.least_parameter`), r0 - crest:

        crest = r0 + max(s (1 - r1 / L), s r0 / L)    s = r1 - r0, L between the centres

    which is r0 for equal bores. The radii in the quotients are taken at their least in
    the run, what facets lie inside them off, and the maximum as its chord over the run:
    the ridge is a little lower than this, never higher.
    """
    if len(surfaces) < 2:
        return 0.0, 0.0
    first, second = surfaces
    distance = math.dist(first.offset, second.offset)
    ends = (start, stop)
    inside = [max(bore.sagitta, CHORD_TOLERANCE) for bore in surfaces]
    least = [
        min(map(bore.radius_at, ends)) - off for bore, off in zip(surfaces, inside, strict=True)
    ]
    shares = 1.0 - least[1] / distance, least[0] / distance
    low, high = (
        first.radius_at(end)
        + max((second.radius_at(end) - first.radius_at(end)) * share for share in shares)
        for end in ends
    )
    slope = (high - low) / (stop - start)
    return low - slope * start, slope
