"""Which triangle belongs to which surface, told by where its corners lie.

A handful of passes over whole columns: normals are asked of the few triangles only
whose corners leave it open.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from ..meshes.angles import plane_lengths
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    BoolArray,
    FloatArray,
    IntArray,
    RoundSurface,
    read_only,
)
from .flats import LEVEL_COSINE, flat_facets, floor_slivers, triangle_shapes
from .surface_fit import USUAL_FACETS

_SQUARE_COSINE = math.cos(math.radians(30.0))
_DEEP = 20.0
"""A facet so many times as deep inside its circle as usual ones is a flat, whatever is beside."""

_LEAST_STEP = 0.15
"""Radii of two stretches that differ by less than this, mm, where one ends and the next
begins: they meet in a bend somewhere, not in a step here."""

_LOW_TRIANGLE = 0.35
"""A triangle less tall than this share of its width might lie level: its normal is asked."""

_AT_ONCE = 1 << 16
_ARC_OVER_CHORD = math.pi / 3.0
"""Of 60 degrees, and less of less."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A round surface as it is looked for, in the part frame.

    label, number : what its triangles are marked with
    window : stations between which the middles of its triangles lie
    facet_angle : radians, of its usual facet
    """

    label: int
    number: int
    surface: RoundSurface
    window: tuple[float, float]
    facet_angle: float


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """What kind of surface each triangle is of, and which of its kind."""

    labels: IntArray
    numbers: IntArray

    def __post_init__(self) -> None:
        read_only(self.labels)
        read_only(self.numbers)


def share_windows(surfaces: list[RoundSurface]) -> list[tuple[float, float]]:
    """Stations up to which each surface may reach, where others follow on its centre line.

    Two that meet in a bend part there; across a step, each may reach up to where the
    other was seen.
    """
    low = [-math.inf] * len(surfaces)
    high = [math.inf] * len(surfaces)
    order = sorted(range(len(surfaces)), key=lambda k: surfaces[k].start)
    for below, above in _neighbours(order, surfaces):
        first, second = surfaces[below], surfaces[above]
        meeting = _meeting(first, second)
        high[below] = second.start if meeting is None else meeting
        low[above] = first.stop if meeting is None else meeting
    return list(zip(low, high, strict=True))


def _neighbours(order: list[int], surfaces: list[RoundSurface]) -> list[tuple[int, int]]:
    """Pairs that follow each other on one centre line."""
    lines: dict[tuple[float, float], list[int]] = {}
    for number in order:
        lines.setdefault(surfaces[number].offset, []).append(number)
    return [pair for line in lines.values() for pair in pairwise(line)]


def _meeting(first: RoundSurface, second: RoundSurface) -> float | None:
    """Station at which two stretches meet in a bend, if they do; else there is a step.

    Where their slopes hardly differ, the planes between may have gone to either.
    """
    turn = first.slope - second.slope
    if abs(turn) < 1e-6:
        return None
    station = (second.radius_at_zero - first.radius_at_zero) / turn
    ends = np.array([first.stop, second.start])
    goes_on = np.abs(first.radii_at(ends) - second.radii_at(ends)).max() <= _LEAST_STEP
    gap = second.start - first.stop
    close = first.stop - gap <= station <= second.start + gap
    inside = first.start < station < second.stop
    return station if close or (goes_on and inside) else None


def label_round(
    columns: list[FloatArray], triangles: IntArray, stretches: list[Stretch], tolerance: float
) -> tuple[Regions, list[tuple[float, float]]]:
    """Mark the triangles of each stretch; all else is OTHER.

    Parameters
    ----------
    columns : x, y, z of the vertices in the part frame
    tolerance : mm, how far from a surface a corner may lie

    Returns
    -------
    The regions, and for each stretch the stations between which its triangles lie
    """
    narrow: np.dtype[Any] = np.dtype(np.int16)
    owner: IntArray = np.full(len(triangles), -1, narrow)
    with ThreadPoolExecutor(2) as pool:  # numpy lets go of the interpreter over whole columns
        views = list(pool.map(lambda one: _seen_from(columns, one, tolerance), stretches))
        bounds = range(0, len(triangles), _AT_ONCE)
        shares = pool.map(lambda low: _share(columns[2], triangles, views, owner, low), bounds)
        found = list(zip(*shares, strict=True))
    extents = []
    for number, (view, parts) in enumerate(zip(views, found, strict=True)):
        extents.append(_settled(columns, triangles, view, parts, owner, number))
    labels = np.array([*(stretch.label for stretch in stretches), OTHER])
    numbers = np.array([*(stretch.number for stretch in stretches), 0])
    return Regions(labels[owner], numbers[owner]), _apart(stretches, extents)


def _apart(
    stretches: list[Stretch], extents: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """The extents, with those of one kind and one centre line that overlap parted."""
    parted = [list(extent) for extent in extents]
    order = sorted(range(len(stretches)), key=lambda k: extents[k])
    for label in (BORE, OUTSIDE):
        alike = [k for k in order if stretches[k].label == label]
        for below, above in _neighbours(alike, [stretch.surface for stretch in stretches]):
            if parted[below][1] > parted[above][0]:
                middle = min(max(stretches[below].window[1], parted[above][0]), parted[below][1])
                parted[below][1] = parted[above][0] = middle
    return [(low, high) for low, high in parted]


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """The vertices as they are seen from a stretch's centre line.

    excess : (n,) mm, how far outside the surface
    near : (n,) bool, which are near enough to it to be of it
    ways : cosine and sine of the angle of each, (n,) both
    """

    stretch: Stretch
    tolerance: float
    excess: FloatArray
    near: BoolArray
    ways: tuple[FloatArray, FloatArray]

    @property
    def sagitta(self) -> float:
        """Of a usual facet, as a share of the radius."""
        return 1.0 - math.cos(self.stretch.facet_angle / 2.0)

    @property
    def usual(self) -> float:
        """Radians, the widest that a usual facet is."""
        return USUAL_FACETS * self.stretch.facet_angle

    @property
    def usual_chord(self) -> float:
        """Square of the chord under which, on a circle of radius 1, a facet is a usual one."""
        return min(1.0, 4.0 * math.sin(min(self.usual, math.pi) / 2.0) ** 2)


@dataclass(frozen=True, slots=True, eq=False)
class _Some:
    """Triangles that seem to lie on a stretch: numbers, stations between which, angle spanned."""

    numbers: IntArray
    low: FloatArray
    high: FloatArray
    width: FloatArray


def _seen_from(columns: list[FloatArray], stretch: Stretch, tolerance: float) -> _View:
    x, y, z = columns
    surface = stretch.surface
    across, up = x - surface.offset[0], y - surface.offset[1]
    out = plane_lengths(across, up)
    radii = surface.radii_at(z) if surface.slope else np.float64(surface.radius_at_zero)
    excess = out - radii
    sagitta = 1.0 - math.cos(stretch.facet_angle / 2.0)
    near = (excess <= tolerance) & (excess >= -tolerance - sagitta * radii)
    out[out == 0.0] = 1.0
    across /= out
    up /= out
    return _View(stretch, tolerance, excess, near, (across, up))


_Share = tuple[tuple[float, float], _Some]


def _share(
    z: FloatArray, triangles: IntArray, views: list[_View], owner: IntArray, start: int
) -> list[_Share]:
    """Mark in `owner` what is plainly of each stretch, of as many triangles as are seen at once.

    Returns
    -------
    For each stretch the stations between which those lie, and the triangles that are
    wide for facets, or low, so that they have to be looked at closely
    """
    corners = [np.ascontiguousarray(corner) for corner in triangles[start : start + _AT_ONCE].T]
    shares = []
    for number, view in enumerate(views):
        a, b, c = (view.near[corner] for corner in corners)
        on_it = np.flatnonzero(a & b & c)
        some = corners if len(on_it) == len(a) else [corner[on_it] for corner in corners]
        low, high, middle = _reach_along(z, some)
        chord = _widest_chords(view, some)
        least, most = view.stretch.window
        inside = (middle >= least) & (middle <= most)
        plain = inside & (chord <= view.usual_chord) & _are_steep(view, low, high, chord)
        owner[start : start + _AT_ONCE][on_it[plain]] = number
        extent = math.inf, -math.inf
        if plain.any():
            extent = float(low[plain].min()), float(high[plain].max())
        left = np.flatnonzero(inside & ~plain)
        doubtful = _Some(start + on_it[left], low[left], high[left], _width_over(chord[left]))
        shares.append((extent, doubtful))
    return shares


def _settled(
    columns: list[FloatArray],
    triangles: IntArray,
    view: _View,
    shares: tuple[_Share, ...],
    owner: IntArray,
    number: int,
) -> tuple[float, float]:
    """Mark those of the doubtful triangles that are of a stretch; the stations of all of it."""
    extents, parts = zip(*shares, strict=True)
    some = _Some(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in _Some.__slots__)
    )
    kept = _are_of_it(columns, triangles, view, some, np.flatnonzero(owner == number))
    mine = some.numbers[kept]
    owner[mine[owner[mine] < number]] = number
    low = min(*(extent[0] for extent in extents), some.low[kept].min(initial=math.inf))
    high = max(*(extent[1] for extent in extents), some.high[kept].max(initial=-math.inf))
    surface = view.stretch.surface
    return (surface.start, surface.stop) if low > high else (float(low), float(high))


def _are_of_it(
    columns: list[FloatArray],
    triangles: IntArray,
    view: _View,
    some: _Some,
    plain: IntArray,
) -> BoolArray:
    """Which doubtful triangles are neither flats nor floors; `plain` are of the stretch too."""
    surface, tolerance = view.stretch.surface, view.tolerance
    kept = np.ones(len(some.numbers), bool)
    wide = np.flatnonzero(some.width > view.usual)
    radii = surface.radii_at(some.low)
    bulge = radii[wide] * (1.0 - np.cos(some.width[wide] / 2.0))
    usual_bulge = radii[wide] * view.sagitta
    kept[wide[bulge > _DEEP * usual_bulge + tolerance]] = False
    wide = wide[kept[wide] & (bulge > usual_bulge + tolerance)]
    asked = kept & (some.high - some.low < _LOW_TRIANGLE * radii * some.width)
    floors = _floors(columns, triangles, some.numbers[asked], view.excess, surface.level_spread)
    kept[np.isin(some.numbers, floors)] = False
    if len(wide):
        angles = np.arctan2(view.ways[1], view.ways[0])
        on_it = np.concatenate([plain, some.numbers[kept]])
        flats = flat_facets(triangles, some.numbers[wide], on_it, angles, view.usual)
        kept[np.isin(some.numbers, flats)] = False
    return kept


def _reach_along(
    z: FloatArray, corners: list[IntArray]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lowest, highest and middle station of each triangle."""
    a, b, c = (z[corner] for corner in corners)
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c), (a + b + c) / 3.0


def _floors(
    columns: list[FloatArray],
    triangles: IntArray,
    asked: IntArray,
    excess: FloatArray,
    spread: float,
) -> IntArray:
    """Numbers of those of some triangles that are floors, though their corners lie on a circle.

    excess : (n,) mm, of the vertices over the surface
    spread : mm, of its corners' excess, above which a level triangle is the floor of a step
    """
    cross, length, longest = triangle_shapes(columns, triangles[asked])
    level = np.abs(cross[2]) > LEVEL_COSINE * length
    if not level.any():
        return asked[:0]
    asked = asked[level]
    heights = length[level] / np.maximum(longest[level], 1e-300)
    slivers = floor_slivers(columns, triangles, asked, heights)
    reach = excess[triangles[asked]]
    return np.union1d(slivers, asked[np.ptp(reach, axis=1) > spread])


def all_corners(marked: BoolArray, triangles: IntArray) -> BoolArray:
    """(m,) triangles of which all three corners are marked."""
    both: BoolArray = marked[triangles[:, 0]] & marked[triangles[:, 1]] & marked[triangles[:, 2]]
    return both


def _widest_chords(view: _View, corners: list[IntArray]) -> FloatArray:
    """(k,) square of the widest chord of each triangle, seen along and on a circle of radius 1."""
    cosines, sines = ([way[corner] for corner in corners] for way in view.ways)
    widest = np.zeros(len(cosines[0]))
    for k in range(3):
        across, up = cosines[k] - cosines[k - 1], sines[k] - sines[k - 1]
        across *= across
        up *= up
        across += up
        np.maximum(widest, across, out=widest)
    return widest


def _width_over(chord: FloatArray) -> FloatArray:
    """The angle over a chord, given by its square, of a circle of radius 1."""
    width: FloatArray = 2.0 * np.arcsin(np.minimum(np.sqrt(chord) / 2.0, 1.0))
    return width


def _are_steep(view: _View, low: FloatArray, high: FloatArray, chord: FloatArray) -> BoolArray:
    """Which triangles are surely not low for their width; chords under 60 degrees."""
    surface = view.stretch.surface
    share = _LOW_TRIANGLE * _ARC_OVER_CHORD
    rise = high - low
    radii = surface.radii_at(low) if surface.slope else surface.radius_at_zero
    steep: BoolArray = rise * rise >= (share * radii) ** 2 * chord
    return steep


def label_ends(
    columns: list[FloatArray],
    triangles: IntArray,
    labels: IntArray,
    band: float,
    stretches: list[Stretch],
) -> tuple[float, float]:
    """Mark the flat ends in `labels`; their stations, else those of the farthest vertices.

    An end is square to the axis, near the part's extreme, and level within the noise of the
    surfaces found: domes and rounded rims are none, however near they come to its plane.

    band : mm, the most that a corner of an end may lie off its plane
    """
    z = columns[2]
    spread = min(max((one.surface.level_spread for one in stretches), default=band), band)
    stations = []
    rest = np.flatnonzero(labels == OTHER)
    others = triangles[rest]
    for label, sign in ((LOW_END, -1.0), (HIGH_END, 1.0)):
        extreme = sign * float((sign * z).max())
        near = rest[all_corners(np.abs(z - extreme) <= 2.0 * spread, others)]
        cross, length, _ = triangle_shapes(columns, triangles[near])
        square = sign * cross[2] > _SQUARE_COSINE * length
        near, heights = near[square], z[triangles[near[square]]]
        plane = _middle_height(heights, length[square]) if len(near) else extreme
        labels[near[(np.abs(heights - plane) <= spread).all(axis=1)]] = label
        stations.append(plane)
    return stations[0], stations[1]


def _middle_height(heights: FloatArray, areas: FloatArray) -> float:
    """Of triangles with these heights of their corners, the one with as much area on each side."""
    middles = heights.mean(axis=1)
    order = np.argsort(middles)
    growing = np.cumsum(areas[order])
    return float(middles[order][np.searchsorted(growing, growing[-1] / 2.0)])
