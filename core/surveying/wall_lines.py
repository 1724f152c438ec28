"""Wall measured in many planes, and straight lines under it by station."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..values import FloatArray, read_only

_STEP = 1.0
_MOST_PLANES = 600
_LEVEL_GRAIN = 0.01
_BESIDE_LEVEL = 1e-3
_MOST_SEGMENTS = 2_000_000
_LOSS, _LOSS_SHARE = 0.05, 0.1

LEAST_MEASURED = 0.3
"""Less wall than this, mm, is none."""

LEAST_STRETCH = 1.0
"""A stretch of wall no longer than this, mm, is none."""


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredWall:
    """Wall by station.

    stations, walls : (k,) mm
    low, high : stations between which it was measured
    """

    stations: FloatArray
    walls: FloatArray
    low: float
    high: float

    def __post_init__(self) -> None:
        read_only(self.stations)
        read_only(self.walls)


def measuring_planes(stations: FloatArray, triangles: int) -> FloatArray:
    """Planes at even steps; also at both ends of every longer stretch without a vertex."""
    low, high = float(stations.min()), float(stations.max())
    count = int(np.clip((high - low) / _STEP, 16, _MOST_PLANES))
    count = min(count, max(16, int(_MOST_SEGMENTS / (4.0 * np.sqrt(triangles)))))
    even = low + (high - low) * (np.arange(count) + 0.5123) / count
    levels = np.unique(np.round(stations / _LEVEL_GRAIN)) * _LEVEL_GRAIN
    wide = np.diff(levels) > _STEP
    beside = np.concatenate([levels[:-1][wide] + _BESIDE_LEVEL, levels[1:][wide] - _BESIDE_LEVEL])
    both = np.unique(np.concatenate([even, beside]))
    inside: FloatArray = both[(both > low) & (both < high)]
    return inside


def distances(start: FloatArray, end: FloatArray, point: FloatArray) -> FloatArray:
    """(p,) distance of a point from each segment."""
    along_x, along_y = (end - start).T
    x, y = (point - start).T
    square = np.maximum(along_x**2 + along_y**2, 1e-30)
    share = ((x * along_x + y * along_y) / square).clip(0.0, 1.0)
    distances: FloatArray = np.hypot(x - share * along_x, y - share * along_y)
    return distances


@dataclass(frozen=True, slots=True)
class WallPiece:
    """A line under the measured walls: wall = base + slope z from low to high."""

    base: float
    slope: float
    low: float
    high: float

    def at(self, station: float) -> float:
        """Wall, mm, at a station."""
        return self.base + self.slope * station


def pieces_under(measured: MeasuredWall) -> list[WallPiece]:
    """Lines under the measured walls, in pieces.

    A piece is divided where the wall stands highest over its line, until no line gives
    away more than a tenth of the wall.
    """
    z, wall = measured.stations, measured.walls
    waiting = [(0, len(z) - 1)] if len(z) > 1 else []
    found: list[WallPiece] = []
    while waiting:
        first, last = waiting.pop()
        here = slice(first, last + 1)
        if last == first:
            continue
        base, slope = _line_under(z[here], wall[here])
        over = wall[here] - base - slope * z[here]
        if (over <= np.maximum(_LOSS, _LOSS_SHARE * wall[here])).all():
            found.append(WallPiece(base, slope, float(z[first]), float(z[last])))
            continue
        split = first + _split(z[here], wall[here])
        waiting += [(first, split), (split + 1, last)]
    joined = _joined(sorted(found, key=lambda piece: piece.low), measured)
    return [
        piece
        for piece in joined
        if min(piece.at(piece.low), piece.at(piece.high)) > LEAST_MEASURED
        and piece.high - piece.low > LEAST_STRETCH
    ]


def _joined(pieces: list[WallPiece], measured: MeasuredWall) -> list[WallPiece]:
    """The pieces made to touch: from plane to plane the one with less wall goes on.

    The first and the last reach to the ends of the span, less than a plane away.
    """
    if not pieces:
        return []
    pieces = list(pieces)
    step = 2.0 * float(np.diff(measured.stations).max())
    if pieces[0].low - measured.low < step:
        pieces[0] = replace(pieces[0], low=measured.low)
    if measured.high - pieces[-1].high < step:
        pieces[-1] = replace(pieces[-1], high=measured.high)
    for k, (first, second) in enumerate(pairwise(list(pieces))):
        if first.at(second.low) <= second.at(second.low):
            pieces[k] = replace(pieces[k], high=second.low)
        elif second.at(first.high) <= first.at(first.high):
            pieces[k + 1] = replace(second, low=first.high)
    return pieces


def _line_under(z: FloatArray, wall: FloatArray) -> tuple[float, float]:
    """The line from end to end, or level, put down onto the lowest point: the better one."""
    slope = float((wall[-1] - wall[0]) / (z[-1] - z[0]))
    lines = [(float((wall - k * z).min()), k) for k in (slope, 0.0)]
    return max(lines, key=lambda line: float((line[0] + line[1] * z).sum()))


def _split(z: FloatArray, wall: FloatArray) -> int:
    """Where to part a piece: at its greatest jump, else where it is farthest from straight."""
    jumps = np.abs(np.diff(wall))
    if jumps.max() > max(_LOSS, 0.5 * float(np.ptp(wall))):
        return int(jumps.argmax())
    chord = wall[0] + (wall[-1] - wall[0]) * (z - z[0]) / (z[-1] - z[0])
    return int(np.abs(wall - chord)[:-1].argmax())
