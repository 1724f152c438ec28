"""Which of the feasible cuts are the best, by a plainly stated score.

The score of a plan is the sum over its cuts of

    8 d / (d + 10)      d: mm, at most 25, from the joint's zone to the nearest hole or end of wall
    1 w / w_most        w: wall at the joint, w_most: the thickest of all candidates
    0.5                 where the seam lies at the foot of a ring or block
    -4                  where it takes a collar of its own

less, over its pieces, of 4 (l / l_mean - 1)^2, where l is the piece's length seam to seam.
Candidates are whole millimetres, the ends and the middles of every run, and a
chain of cuts that is known to hold together, so that some plan always is among
them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..values import BoolArray, FloatArray, IntArray, Ornament, Survey, read_only
from .intervals import GRAIN
from .seam_reach import SEAM_GAP, Ground, Runs, common_runs, may_follow, reach_down
from .seam_stretches import RING_MARGIN, SeamField

DISTANCE_WEIGHT, EVEN_WEIGHT, WALL_WEIGHT, FOOT_WEIGHT, COLLAR_WEIGHT = 8.0, 4.0, 1.0, 0.5, 4.0
USUAL_DISTANCE, FAR_ENOUGH = 10.0, 25.0
RING_RELIEF = 0.5
"""How far a ring stands out, mm, to hide a seam at its foot."""

FOOT_REACH = 1.0
"""A seam is at a ring's foot when it is no farther than this, mm, beyond the ring's margin."""

_MOST_CANDIDATES = 200
_GRID_STEPS = (1.0, 2.0, 5.0, 10.0)
_EXACT = 1024.0
"""Stations are brought to 1/1024 mm, which a file's float32 holds exactly."""


@dataclass(frozen=True, slots=True, eq=False)
class Seams:
    """Candidates for one cut: stations, and the stretch of each."""

    stations: FloatArray
    home: IntArray

    def __post_init__(self) -> None:
        read_only(self.stations)
        read_only(self.home)


def best_seams(field: SeamField, ground: Ground, windows: list[Runs], height: float) -> Seams:
    """The best chain of seams, one from each window, low end first, high end last."""
    chain = some_chain(ground, windows, height)
    levels = [
        _candidates(window, station, home)
        for window, station, home in zip(windows, chain.stations, chain.home, strict=True)
    ]
    mean_length = field.survey.length / (len(windows) - 1)
    merits = _merits(field, ground, levels)
    best, choices = merits[0], []
    for number in range(1, len(levels)):
        below, above = levels[number - 1], levels[number]
        lengths = above.stations[None, :] - below.stations[:, None]
        gain = best[:, None] - EVEN_WEIGHT * (lengths / mean_length - 1.0) ** 2
        gain[~_holds(ground, below, above, height)] = -np.inf
        choices.append(gain.argmax(axis=0))
        best = gain.max(axis=0) + merits[number]
    assert np.isfinite(best).all()
    picks = [0]
    for choice in choices[::-1]:
        picks.append(int(choice[picks[-1]]))
    pairs = list(zip(levels, picks[::-1], strict=True))
    chosen = Seams(
        np.array([level.stations[pick] for level, pick in pairs]),
        np.array([level.home[pick] for level, pick in pairs]),
    )
    return _made_exact(ground, windows, chosen, height)


def some_chain(ground: Ground, windows: list[Runs], height: float) -> Seams:
    """One seam from each window, low end first, that hold together: in the middle of wide runs."""
    end = windows[-1]
    chain = [(float(end.low[0]), int(end.home[0]))]
    for window in windows[-2::-1]:
        station, home = chain[-1]
        point = Runs(np.array([station]), np.array([station]), np.array([home]))
        below = common_runs(window, reach_down(ground, point, height))
        widest = int((below.high - below.low).argmax())
        middle = (below.low[widest] + below.high[widest]) / 2.0
        chain.append((float(middle), int(below.home[widest])))
    stations, homes = zip(*chain[::-1], strict=True)
    return Seams(np.array(stations), np.array(homes))


def _candidates(window: Runs, known: float, known_home: int) -> Seams:
    total = float((window.high - window.low).sum())
    step = next((s for s in _GRID_STEPS if total / s <= _MOST_CANDIDATES), _GRID_STEPS[-1])
    stations, home = [], []
    for low, high, number in zip(window.low, window.high, window.home, strict=True):
        grid = np.arange(np.ceil(low / step), np.floor(high / step) + 1.0) * step
        further = [low, (low + high) / 2.0, high, *([known] if number == known_home else [])]
        here = np.unique(np.concatenate([grid, further]))
        stations.append(here)
        home.append(np.full(len(here), number))
    return Seams(np.concatenate(stations), np.concatenate(home))


def _holds(ground: Ground, below: Seams, above: Seams, height: float) -> BoolArray:
    """Whether each seam of `above` can be the next over each of `below`."""
    tops = below.stations + ground.zone_at(below.stations, below.home)
    tips = above.stations + ground.stands[above.home]
    feet = above.stations - ground.below[above.home]
    fits = tips[None, :] - below.stations[:, None] <= height + GRAIN
    apart = feet[None, :] >= tops[:, None] + SEAM_GAP - GRAIN
    follows = may_follow(ground.gate[below.home][:, None], ground.gate[above.home][None, :])
    held: BoolArray = fits & apart & follows
    return held


def _merits(field: SeamField, ground: Ground, levels: list[Seams]) -> list[FloatArray]:
    """What each candidate adds to the score by itself; the part's ends add nothing."""
    survey = field.survey
    walls = [_walls(field, ground, level) for level in levels[1:-1]]
    thickest = max((float(wall.max()) for wall in walls), default=1.0)
    merits = [np.zeros(1)]
    for level, wall in zip(levels[1:-1], walls, strict=True):
        tops = level.stations + ground.zone_at(level.stations, level.home)
        feet = level.stations - ground.below[level.home]
        ways = ground.way[level.home]
        distance = free_distances(field, ways, feet, tops).clip(0.0, FAR_ENOUGH)
        merit = DISTANCE_WEIGHT * distance / (distance + USUAL_DISTANCE)
        merit += WALL_WEIGHT * wall / thickest - COLLAR_WEIGHT * (ground.below[level.home] > 0.0)
        merits.append(merit + FOOT_WEIGHT * _at_foot(survey, level.stations))
    return [*merits, np.zeros(1)]


def _walls(field: SeamField, ground: Ground, seams: Seams) -> FloatArray:
    engagements = ground.engagement[seams.home]
    ways = ground.way[seams.home]
    walls = np.zeros(len(engagements))
    for way, engagement in {*zip(ways.tolist(), engagements.tolist(), strict=True)}:
        here = (engagements == engagement) & (ways == way)
        walls[here] = field.line(way, engagement).wall(seams.stations[here])
    return walls


def free_distances(
    field: SeamField, ways: IntArray, feet: FloatArray, tops: FloatArray
) -> FloatArray:
    """From each zone, foot to top, to the nearest side hole's edge or wall's end, mm."""
    starts = np.array([way.run.start for way in field.ways])[ways]
    stops = np.array([way.run.stop for way in field.ways])[ways]
    nearest = np.minimum(feet - starts, stops - tops)
    for hole in field.survey.side_holes:
        nearest = np.minimum(nearest, np.maximum(hole.low - tops, feet - hole.high))
    return nearest


def _at_foot(survey: Survey, stations: FloatArray) -> BoolArray:
    reach = RING_MARGIN + FOOT_REACH + GRAIN
    hidden = np.zeros(len(stations), bool)
    for ornament in survey.ornaments:
        if ornament.place == "outside" and _stands_out(survey, ornament):
            hidden |= np.abs(stations - ornament.start) <= reach
            hidden |= np.abs(stations - ornament.stop) <= reach
    return hidden


def _stands_out(survey: Survey, ornament: Ornament) -> bool:
    """Whether it stands out of all that the outside is, where it is round, beside it."""
    beside = [
        surface.radius_at(station) + surface.eccentricity
        for surface in survey.outsides
        for station in (ornament.start, ornament.stop)
        if surface.start - RING_MARGIN <= station <= surface.stop + RING_MARGIN
    ]
    return bool(beside) and ornament.greatest_radius >= max(beside) + RING_RELIEF


def _made_exact(ground: Ground, windows: list[Runs], chosen: Seams, height: float) -> Seams:
    """Free seams brought to the nearest 1/1024 mm where the plan still holds."""
    stations = chosen.stations.copy()
    for number in range(1, len(stations) - 1):
        steps = stations[number] * _EXACT
        for exact in sorted((np.floor(steps), np.ceil(steps)), key=lambda k: abs(k - steps)):
            trial = stations.copy()
            trial[number] = exact / _EXACT
            if _chain_holds(ground, windows, Seams(trial, chosen.home), height, number):
                stations = trial
                break
    return Seams(stations, chosen.home)


def _chain_holds(
    ground: Ground, windows: list[Runs], seams: Seams, height: float, number: int
) -> bool:
    """Whether a moved seam still lies in its window and between its neighbours."""
    station, window = seams.stations[number], windows[number]
    inside = (window.low <= station) & (station <= window.high)
    if not (inside & (window.home == seams.home[number])).any():
        return False
    three = [Seams(seams.stations[[k]], seams.home[[k]]) for k in (number - 1, number, number + 1)]
    return all(bool(_holds(ground, below, above, height).all()) for below, above in pairwise(three))
