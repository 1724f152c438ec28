"""Grooves, holes, pockets and shoulders of a solid part, told from the discs it holds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..planning.intervals import Span
from ..values import Mesh, Ornament, WallStretch

LONG_ORNAMENT = 30.0
"""A ring or block is shorter, mm; what is longer cannot be kept clear of seams."""

GRAIN = 0.05
"""Stations nearer to each other, mm, are one."""

_DIP = 0.9
_LEAST_AT_END = 1.0
_LEAST_SHOULDER = 0.3
_LEVEL = 0.02


@dataclass(frozen=True, slots=True)
class _Step:
    """Discs between two stations: radii at both; 0 where there is none."""

    low: float
    high: float
    at_low: float
    at_high: float


def find_dips(
    part: Mesh, walls: tuple[WallStretch, ...], spans: list[Span]
) -> tuple[Ornament, ...]:
    """Grooves, holes and pockets: where for a short way the disc is much smaller.

    What the planes beside a rough end leave out is none.
    """
    found: list[Ornament] = []
    radii = np.hypot(part.vertices[:, 0], part.vertices[:, 1])
    for span in spans:
        for low, high, least in _short_dips(_steps(walls, span)):
            if high - low < _LEAST_AT_END and (low <= span[0] or high >= span[1]):
                continue
            near = (part.vertices[:, 2] >= low - GRAIN) & (part.vertices[:, 2] <= high + GRAIN)
            most = float(radii[near].max(initial=least))
            found.append(Ornament(low, high, least, most))
    return tuple(found)


def find_shoulders(
    part: Mesh, walls: tuple[WallStretch, ...], known: tuple[Ornament, ...]
) -> tuple[Ornament, ...]:
    """Level faces where one disc ends and another begins, but for ends of short ornaments."""
    heights = part.vertices[:, 2]
    found = []
    for below, above in pairwise(walls):
        station = above.start
        radii = below.outer.radius_at(station), above.outer.radius_at(station)
        if abs(above.start - below.stop) > GRAIN or abs(radii[0] - radii[1]) < _LEAST_SHOULDER:
            continue
        if any(o.place == "outside" and o.start <= station <= o.stop for o in known):
            continue
        level = np.abs(heights - station) <= _LEVEL
        faces = part.triangles[level[part.triangles].all(axis=1)]
        if len(faces):
            corners = part.vertices[faces.ravel()]
            most = float(np.hypot(corners[:, 0], corners[:, 1]).max())
            found.append(Ornament(station, station, min(radii), most))
    return tuple(found)


def _steps(walls: tuple[WallStretch, ...], span: Span) -> list[_Step]:
    """The walls in a span and the gaps between them."""
    steps: list[_Step] = []
    reached = span[0]
    for wall in walls:
        if wall.start >= span[1] or wall.stop <= span[0]:
            continue
        if wall.start - reached > GRAIN:
            steps.append(_Step(reached, wall.start, 0.0, 0.0))
        ends = wall.outer.radius_at(wall.start), wall.outer.radius_at(wall.stop)
        steps.append(_Step(wall.start, wall.stop, *ends))
        reached = wall.stop
    if span[1] - reached > GRAIN:
        steps.append(_Step(reached, span[1], 0.0, 0.0))
    return steps


def _short_dips(steps: list[_Step]) -> list[tuple[float, float, float]]:
    """(start, stop, least radius) of what lies well under the steps on both sides of it."""
    found = []
    first = 0
    while first < len(steps):
        before = steps[first - 1].at_high if first else math.inf
        last, most = None, 0.0
        for k in range(first, len(steps)):
            if steps[k].high - steps[first].low > LONG_ORNAMENT:
                break
            most = max(most, steps[k].at_low, steps[k].at_high)
            after = steps[k + 1].at_low if k + 1 < len(steps) else math.inf
            if most < _DIP * min(before, after):
                last = k
        if last is None:
            first += 1
            continue
        dip = steps[first : last + 1]
        least = min(min(step.at_low, step.at_high) for step in dip)
        found.append((dip[0].low, dip[-1].high, least))
        first = last + 1
    return found
