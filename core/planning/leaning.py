"""The least lean with which a part fits an envelope in one piece.

It leans about a level line, its low end staying down, and may be turned about upright
once it leans. Its height is that of an outline in the plane that it leans in, which is
known in closed form between any two tilts that lay an edge of it level.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.convex_hull import convex_hull
from ..meshes.products import columns_along, heights_along
from ..values import BoolArray, FloatArray, Lean, Mesh, read_only
from .floor_fit import fits_floor, turn_to_fit

_STEP = math.radians(1.0)
_FINE = math.radians(0.001)
_STEPS = np.arange(0.0, math.pi / 2.0 + _STEP / 2.0, _STEP)

_WORTH = math.radians(1.0)
"""A roll about the part's own axis is taken where it spares so much of the lean."""

_ROLLS = np.arange(24) * math.pi / 12.0

_ROUND = 0.1
"""A part is alike from all sides where it reaches as far to each, mm."""

_MANY = 10_000
_END_SHARE = 1.0 / 50.0
_WAYS = np.array([np.cos(np.arange(32) * math.pi / 16), np.sin(np.arange(32) * math.pi / 16)])
"""Directions all around."""

_FEW = 100
_TURNS = np.pi * (3.0 - math.sqrt(5.0)) * np.arange(_FEW)
_UP = 1.0 - (2.0 * np.arange(_FEW) + 1.0) / _FEW
_OUT = np.sqrt(1.0 - _UP**2)
_ALL_WAYS = np.column_stack([_OUT * np.cos(_TURNS), _OUT * np.sin(_TURNS), _UP])
"""Directions in space, about as far from each other everywhere."""

_OFF = 1e-6
"""Round-off, mm or radians."""


def leaning_rows(tilt: float, azimuth: float) -> FloatArray:
    """(3, 3) rotation from the part frame: leaning, the side of an azimuth lowest, along x."""
    cos, sin = math.cos(azimuth), math.sin(azimuth)
    rolled = np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]])
    cos, sin = math.cos(tilt), math.sin(tilt)
    leaned: FloatArray = np.array([[cos, 0.0, sin], [0.0, 1.0, 0.0], [-sin, 0.0, cos]]) @ rolled
    return leaned


def find_lean(
    mesh: Mesh, room: tuple[float, float, float], side: float, most: float = math.pi / 2.0
) -> Lean | None:
    """The least lean with which a part fits an envelope; None where none does.

    Parameters
    ----------
    mesh : in the part frame
    room : mm, the envelope's
    side : azimuth to lie lowest, unless the part is not round and another spares a degree
    most : no tilt beyond this is looked for
    """
    if float(np.ptp(mesh.vertices[:, 2])) > math.hypot(*room):
        return None
    points = _outer_points(mesh.vertices)
    some = _farthest_points(points)
    first = _Leaning.of(points, some, side).least(room, most)
    if _is_round(points):
        return first
    leans = [_Leaning.of(points, some, float(roll)).least(room, most) for roll in _ROLLS]
    best = min(filter(None, leans), key=lambda lean: lean.tilt, default=None)
    if first is None or (best is not None and best.tilt < first.tilt - _WORTH):
        return best
    return first


def lowest_lean(mesh: Mesh, floor: tuple[float, float], side: float) -> tuple[float, float] | None:
    """Tilt and height, mm, of the lowest that a part gets on a floor; None: it fits at no lean.

    mesh, side : as in `find_lean`
    """
    points = _outer_points(mesh.vertices)
    sides = [side, *([] if _is_round(points) else _ROLLS.tolist())]
    some = _farthest_points(points)
    lowest = [_Leaning.of(points, some, side).lowest(floor) for side in sides]
    return min(filter(None, lowest), key=lambda one: one[1], default=None)


def _is_round(points: FloatArray) -> bool:
    """Whether it is alike from all sides, so that a roll changes nothing."""
    hull = convex_hull(points[:, :2])
    middle = (hull.max(axis=0) + hull.min(axis=0)) / 2.0
    return float(np.ptp(((hull - middle) @ _WAYS).max(axis=0))) < _ROUND


def _outer_points(points: FloatArray) -> FloatArray:
    """Of very many points those that may be corners of their convex hull.

    What lies, seen along the axis, within the points near the low end and within those
    near the high end lies between them.
    """
    if len(points) < _MANY:
        return points
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    margin = (high - low) * _END_SHARE
    ends = points[:, 2] < low + margin, points[:, 2] > high - margin
    inner = ~(ends[0] | ends[1])
    for end in ends:
        inner[inner] = _is_within(points[inner, :2], convex_hull(points[end, :2]))
    kept: FloatArray = points[~inner]
    return kept


def _farthest_points(points: FloatArray) -> FloatArray:
    """Some of the points, each the farthest in some direction."""
    if len(points) <= _FEW:
        return points
    numbers = [int(heights_along(points, way).argmax()) for way in _ALL_WAYS]
    farthest: FloatArray = points[np.unique(numbers)]
    return farthest


def _along(points: FloatArray, rows: FloatArray) -> FloatArray:
    """(n, 2) mm, of points (n, 3) along two directions."""
    return np.column_stack(columns_along(points, rows, np.zeros(3)))


def _is_within(points: FloatArray, hull: FloatArray) -> BoolArray:
    """(n,) whether points lie in a convex outline, given counter-clockwise."""
    middle = hull.mean(axis=0)
    arms, corners = points - middle, hull - middle
    angles = np.arctan2(corners[:, 1], corners[:, 0])
    start = int(angles.argmin())
    corners, angles = np.roll(corners, -start, axis=0), np.roll(angles, -start)
    edge = np.searchsorted(angles, np.arctan2(arms[:, 1], arms[:, 0]), side="right") - 1
    edges = np.roll(corners, -1, axis=0) - corners
    to_point = arms - corners[edge]
    across = edges[edge, 0] * to_point[:, 1] - edges[edge, 1] * to_point[:, 0]
    inside: BoolArray = across > -_OFF * np.hypot(*edges[edge].T)
    return inside


@dataclass(frozen=True, slots=True, eq=False)
class _Leaning:
    """A part that leans to one side.

    azimuth : of the side that comes to lie lowest
    points, some : (n, 3) and (k, 3) mm in the part frame; where the few do not fit, nothing does
    outline : (h, 2) mm, the hull of the points, to that side and up
    """

    azimuth: float
    points: FloatArray
    some: FloatArray
    outline: FloatArray

    def __post_init__(self) -> None:
        read_only(self.points)
        read_only(self.some)
        read_only(self.outline)

    @classmethod
    def of(cls, points: FloatArray, some: FloatArray, azimuth: float) -> _Leaning:
        """Of points in the part frame."""
        rows = leaning_rows(0.0, azimuth)[[0, 2]]
        return cls(azimuth, points, some, convex_hull(_along(points, rows)))

    def heights(self, tilts: FloatArray) -> FloatArray:
        """(k,) mm, with each of some tilts."""
        upward = np.column_stack([-np.sin(tilts), np.cos(tilts)])
        heights: FloatArray = np.ptp(self.outline @ upward.T, axis=0)
        return heights

    def reaches(self, tilts: FloatArray) -> FloatArray:
        """(k,) mm along the floor in the plane that it leans in."""
        onward = np.column_stack([np.cos(tilts), np.sin(tilts)])
        reaches: FloatArray = np.ptp(self.outline @ onward.T, axis=0)
        return reaches

    def on_floor(self, tilt: float) -> FloatArray:
        """(n, 2) mm, the points seen from above."""
        return _along(self.points, leaning_rows(tilt, self.azimuth)[:2])

    def fits(self, tilt: float, room: tuple[float, float, float]) -> bool:
        """In all three ways."""
        if float(self.heights(np.array([tilt]))[0]) > room[2] + _OFF:
            return False
        return self.fits_floor(tilt, room[:2])

    def fits_floor(self, tilt: float, floor: tuple[float, float]) -> bool:
        """Seen from above, turned as need be."""
        within = floor[0] - _OFF, floor[1] - _OFF
        some = _along(self.some, leaning_rows(tilt, self.azimuth)[:2])
        return fits_floor(some, within) and fits_floor(self.on_floor(tilt), within)

    def least(self, room: tuple[float, float, float], most: float) -> Lean | None:
        """The least tilt with which it fits."""
        marks = np.union1d(_STEPS, _crossings(self.outline, room[2]))
        marks = marks[marks <= most]
        low_enough = self.heights(marks) <= room[2] + _OFF
        short_enough = self.reaches(marks) <= math.hypot(*room[:2])
        for number in np.flatnonzero(low_enough & short_enough).tolist():
            if self.fits_floor(float(marks[number]), room[:2]):
                before = float(marks[max(0, number - 1)])
                tilt = self._narrowed(before, float(marks[number]), room)
                return Lean(tilt, self.azimuth, turn_to_fit(self.on_floor(tilt), room[:2]))
        return None

    def _narrowed(self, low: float, high: float, room: tuple[float, float, float]) -> float:
        """The tilt from which on it fits, between one that does not and one that does."""
        while high - low > _FINE:
            middle = (low + high) / 2.0
            low, high = (low, middle) if self.fits(middle, room) else (middle, high)
        return high

    def lowest(self, floor: tuple[float, float]) -> tuple[float, float] | None:
        """Tilt and height, mm, of the lowest it gets with its floor kept; None: never kept."""
        best: tuple[float, float] | None = None
        short = self.reaches(_STEPS) <= math.hypot(*floor)
        kept = [
            bool(may) and self.fits_floor(float(tilt), floor)
            for tilt, may in zip(_STEPS, short, strict=True)
        ]
        for number in np.flatnonzero(kept).tolist():
            tilt = float(_STEPS[number])
            if number + 1 < len(kept) and not kept[number + 1]:
                tilt = self._farthest(tilt, floor)
            height = float(self.heights(np.array([tilt]))[0])
            if best is None or height < best[1]:
                best = tilt, height
        return best

    def _farthest(self, low: float, floor: tuple[float, float]) -> float:
        high = low + _STEP
        while high - low > _FINE:
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.fits_floor(middle, floor) else (low, middle)
        return low


def _crossings(outline: FloatArray, height: float) -> FloatArray:
    """Tilts from 0 to 90 degrees at which an outline is just so high.

    Between two tilts that lay an edge level its height is that of one diagonal (x, z),
    z cos t - x sin t, which is r cos(t + s) with r its length and tan s = x / z.
    """
    edges = np.roll(outline, -1, axis=0) - outline
    level = np.arctan2(edges[:, 1], edges[:, 0]) % math.pi
    marks = np.unique(np.concatenate([level[level < math.pi / 2.0], [0.0, math.pi / 2.0]]))
    inside = (marks[:-1] + marks[1:]) / 2.0
    upward = outline @ np.array([-np.sin(inside), np.cos(inside)])
    diagonal = outline[upward.argmax(axis=0)] - outline[upward.argmin(axis=0)]
    length = np.hypot(*diagonal.T)
    swing = np.arccos(np.minimum(height / length, 1.0))
    lag = np.arctan2(diagonal[:, 0], diagonal[:, 1])
    found = np.concatenate([swing - lag, -swing - lag])
    low, high = np.tile(marks[:-1], 2), np.tile(marks[1:], 2)
    tilts: FloatArray = found[(found >= low - _OFF) & (found <= high + _OFF)]
    return np.clip(tilts, 0.0, math.pi / 2.0)
