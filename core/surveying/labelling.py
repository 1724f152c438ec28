"""Which triangle belongs to which surface, told by where its corners lie.

A handful of passes over whole columns: normals are asked of the few triangles only
whose corners leave it open.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..meshes.angles import plane_lengths
from ..meshes.in_blocks import in_blocks
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    BoolArray,
    FloatArray,
    IntArray,
    NarrowArray,
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

_MOST_VIEWS = 30
"""Surfaces told apart by the bits of one number."""

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


@dataclass(frozen=True, slots=True)
class Extent:
    """Where a stretch's triangles were seen.

    low, high : stations between which they lie
    widest : radians about its centre line, that the widest of them spans
    """

    low: float
    high: float
    widest: float


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
) -> tuple[Regions, list[Extent], BoolArray]:
    """Mark the triangles of each stretch; all else is OTHER.

    Parameters
    ----------
    columns : x, y, z of the vertices in the part frame
    tolerance : mm, how far from a surface a corner may lie

    Returns
    -------
    The regions; for each stretch where its triangles lie; (n,) which vertices lie near two
    stretches or more, among them all at which triangles of two stretches meet
    """
    views = [_View(stretch, tolerance) for stretch in stretches]
    near, shared = np.zeros((2, len(columns[0])), bool)
    narrow: np.dtype[Any] = np.dtype(np.int16)
    owner: IntArray = np.full(len(triangles), -1, narrow)
    found: list[tuple[_Share, ...]] = []
    for first in range(0, len(views), _MOST_VIEWS):
        some = views[first : first + _MOST_VIEWS]
        seen = _seen(columns, some, near, shared)
        share = partial(_share, seen, triangles, some, first, owner)
        found += zip(*in_blocks(share, len(triangles)), strict=True)
    extents = []
    for number, (view, parts) in enumerate(zip(views, found, strict=True)):
        extents.append(_settled(columns, triangles, view, parts, owner, number))
    labels: IntArray = np.array([*(stretch.label for stretch in stretches), OTHER], narrow)
    numbers: IntArray = np.array([*(stretch.number for stretch in stretches), 0], narrow)
    return Regions(labels[owner], numbers[owner]), _apart(stretches, extents), shared


def _apart(stretches: list[Stretch], extents: list[Extent]) -> list[Extent]:
    """The extents, with those of one kind and one centre line that overlap parted."""
    parted = [[extent.low, extent.high] for extent in extents]
    order = sorted(range(len(stretches)), key=lambda k: stretches[k].surface.start)
    for label in (BORE, OUTSIDE):
        alike = [k for k in order if stretches[k].label == label]
        for below, above in _neighbours(alike, [stretch.surface for stretch in stretches]):
            if parted[below][1] > parted[above][0]:
                middle = min(max(stretches[below].window[1], parted[above][0]), parted[below][1])
                parted[below][1] = parted[above][0] = middle
    return [
        replace(extent, low=low, high=high)
        for extent, (low, high) in zip(extents, parted, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class _View:
    """The vertices as they are seen from a stretch's centre line."""

    stretch: Stretch
    tolerance: float

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

    def radii(self, stations: FloatArray) -> FloatArray | np.float64:
        """Of the surface; one, where it is the same everywhere."""
        surface = self.stretch.surface
        return surface.radii_at(stations) if surface.slope else np.float64(surface.radius_at_zero)

    def excess(self, columns: list[FloatArray]) -> FloatArray:
        """(n,) mm, how far outside the surface vertices lie, given their x, y, z."""
        x, y, z = columns
        offset = self.stretch.surface.offset
        excess: FloatArray = plane_lengths(x - offset[0], y - offset[1]) - self.radii(z)
        return excess

    def inner_radii(self, low: FloatArray, high: FloatArray) -> FloatArray | np.float64:
        """No corner of a triangle between such stations that is near the surface lies nearer."""
        radii = np.minimum(self.radii(low), self.radii(high))
        return np.maximum((1.0 - self.sagitta) * radii - self.tolerance, 1e-6)

    def depth(self, stations: FloatArray) -> FloatArray | np.float64:
        """How far inside the surface a vertex of it may lie, mm: on a chord, and by noise.

        Of fine facets that is no farther than it may be moved: what blends into the
        surface is cut off there.
        """
        on_chord = self.sagitta * self.radii(stations) + self.tolerance / 2.0
        return np.maximum(on_chord, self.tolerance)


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The vertices, as all views ask for them.

    flat : (n,) x + i y, as finely as an STL has it
    near : (n,) bits, for each view whether a vertex is near enough to the surface to be of it
    """

    flat: NDArray[np.complex64]
    z: FloatArray
    near: NarrowArray


def _seen(
    columns: list[FloatArray], views: list[_View], seen_near: BoolArray, shared: BoolArray
) -> _Seen:
    """The vertices from these views.

    seen_near, shared : (n,) are told which are near a surface of theirs, and which near another
        one too
    """
    flat = np.empty(len(columns[0]), np.complex64)
    bits = np.zeros(len(flat), np.int32)

    def look(block: slice) -> None:
        x, y, z = some = [column[block] for column in columns]
        flat.real[block], flat.imag[block] = x, y
        for number, view in enumerate(views):
            excess = view.excess(some)
            is_near = excess <= view.tolerance
            is_near &= excess >= -view.depth(z)
            bits[block] += is_near * np.int32(1 << number)
            shared[block] |= is_near & seen_near[block]
            seen_near[block] |= is_near

    in_blocks(look, len(flat))
    return _Seen(flat, columns[2], bits)


@dataclass(frozen=True, slots=True, eq=False)
class _Some:
    """Triangles that seem to lie on a stretch: numbers, stations between which, angle spanned."""

    numbers: IntArray
    low: FloatArray
    high: FloatArray
    width: FloatArray


_Share = tuple[Extent, _Some]


def _share(
    seen: _Seen,
    triangles: IntArray,
    views: list[_View],
    first: int,
    owner: IntArray,
    block: slice,
) -> list[_Share]:
    """Mark in `owner` what is plainly of each stretch, of as many triangles as are seen at once.

    first : number of the first of the views

    Returns
    -------
    For each stretch where those lie, and the triangles that are
    wide for facets, or low, so that they have to be looked at closely
    """
    corners = np.ascontiguousarray(triangles[block].T, np.intp)
    near = np.bitwise_and.reduce(seen.near.take(corners))
    flat = seen.flat.take(corners)
    every = _Measured(
        np.arange(len(near)), *_reach_along(seen.z.take(corners)), _longest_across(flat)
    )
    at_some, at_all = (int(way.reduce(near)) for way in (np.bitwise_or, np.bitwise_and))
    shares = []
    for number, view in enumerate(views):
        bit, some = 1 << number, every
        if not at_all & bit:
            rows = np.flatnonzero(near & bit) if at_some & bit else slice(0)
            some = some.picked(rows)
        some = some.within(view.stretch.window)
        plain, left = _parted(view, some)
        owner[block][plain.rows] = first + number
        extent = _extent_of(view, plain, flat)
        width = _widths(view, flat.take(left.rows, axis=1))
        shares.append((extent, _Some(block.start + left.rows, left.low, left.high, width)))
    return shares


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """Triangles of a block: rows in it, stations, and longest sides as `_longest_across`."""

    rows: IntArray
    low: FloatArray
    high: FloatArray
    middle: FloatArray
    chord: FloatArray

    def picked(self, rows: IntArray | slice) -> _Measured:
        """Some of them."""
        return _Measured(*(getattr(self, name)[rows] for name in self.__slots__))

    def within(self, window: tuple[float, float]) -> _Measured:
        """Those with their middles between two stations."""
        if window == (-math.inf, math.inf):
            return self
        return self.picked(np.flatnonzero((self.middle >= window[0]) & (self.middle <= window[1])))


def _parted(view: _View, some: _Measured) -> tuple[_Measured, _Measured]:
    """Those that are plainly of a stretch, and those left to look at."""
    plain = _are_plain(view, some)
    if plain.all():
        return some, some.picked(slice(0))
    return some.picked(np.flatnonzero(plain)), some.picked(np.flatnonzero(~plain))


def _extent_of(view: _View, some: _Measured, flat: NDArray[np.complex64]) -> Extent:
    """Of triangles that are plainly of a stretch; none reach from +inf to -inf.

    flat : (3, k) corners of all triangles of the block, as in `_Seen`
    """
    low, high = float(some.low.min(initial=math.inf)), float(some.high.max(initial=-math.inf))
    return Extent(low, high, _widest(view, some, flat) if len(some.rows) else 0.0)


def _widest(view: _View, some: _Measured, flat: NDArray[np.complex64]) -> float:
    """Radians, that the widest spans: of a taper those are asked that may, by their chords."""
    if not view.stretch.surface.slope:
        chord = math.sqrt(some.chord.max()) / view.stretch.surface.radius_at_zero
        return 2.0 * math.asin(min(chord / 2.0, 1.0))
    most = some.chord / np.minimum(view.radii(some.low), view.radii(some.high)) ** 2
    widest = float(_widths(view, flat[:, some.rows[[most.argmax()]]])[0])
    asked = some.rows[most > 4.0 * math.sin(widest / 2.0) ** 2]
    return max(widest, float(_widths(view, flat.take(asked, axis=1)).max(initial=0.0)))


def _settled(
    columns: list[FloatArray],
    triangles: IntArray,
    view: _View,
    shares: tuple[_Share, ...],
    owner: IntArray,
    number: int,
) -> Extent:
    """Mark those of the doubtful triangles that are of a stretch; where all of it lies."""
    extents, parts = zip(*shares, strict=True)
    some = _Some(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in _Some.__slots__)
    )
    kept = _are_of_it(columns, triangles, view, some, np.flatnonzero(owner == number))
    mine = some.numbers[kept]
    owner[mine[owner[mine] < number]] = number
    low = min(*(extent.low for extent in extents), some.low[kept].min(initial=math.inf))
    high = max(*(extent.high for extent in extents), some.high[kept].max(initial=-math.inf))
    widest = max(*(extent.widest for extent in extents), some.width[kept].max(initial=0.0))
    surface = view.stretch.surface
    if low > high:
        low, high = surface.start, surface.stop
    return Extent(float(low), float(high), float(widest))


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
    floors = _floors(columns, triangles, some.numbers[asked], view, surface.level_spread)
    kept[np.isin(some.numbers, floors)] = False
    if len(wide):
        x, y = surface.offset
        angles = np.arctan2(columns[1] - y, columns[0] - x)
        on_it = np.concatenate([plain, some.numbers[kept]])
        flats = flat_facets(triangles, some.numbers[wide], on_it, angles, view.usual)
        kept[np.isin(some.numbers, flats)] = False
    return kept


def _reach_along(stations: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lowest, highest and middle station of each triangle, given those of its corners (3, k)."""
    middle: FloatArray = stations.sum(axis=0)
    middle /= 3.0
    return stations.min(axis=0), stations.max(axis=0), middle


def _floors(
    columns: list[FloatArray],
    triangles: IntArray,
    asked: IntArray,
    view: _View,
    spread: float,
) -> IntArray:
    """Numbers of those of some triangles that are floors, though their corners lie on a circle.

    spread : mm, of its corners' excess over the surface, above which a level triangle is
        the floor of a step
    """
    cross, length, longest = triangle_shapes(columns, triangles[asked])
    level = np.abs(cross[2]) > LEVEL_COSINE * length
    if not level.any():
        return asked[:0]
    asked = asked[level]
    heights = length[level] / np.maximum(longest[level], 1e-300)
    slivers = floor_slivers(columns, triangles, asked, heights)
    reach = view.excess([column[triangles[asked]] for column in columns])
    return np.union1d(slivers, asked[np.ptp(reach, axis=1) > spread])


def _longest_across(flat: NDArray[np.complex64]) -> FloatArray:
    """(k,) square of the longest side of each triangle (3, k) as seen along, mm2."""
    sides = np.empty_like(flat)
    np.subtract(flat[1:], flat[:2], out=sides[:2])
    np.subtract(flat[0], flat[2], out=sides[2])
    squares = sides.view(np.float32)
    squares *= squares
    longest: FloatArray = (squares[:, ::2] + squares[:, 1::2]).max(axis=0).astype(np.float64)
    return longest


def _are_plain(view: _View, some: _Measured) -> BoolArray:
    """Which triangles are surely no wider than facets are, and surely not low for their width.

    Seen from the centre line a side spans no more than such a chord does on the circle
    nearest to it.
    """
    chord = some.chord / view.inner_radii(some.low, some.high) ** 2
    share = _LOW_TRIANGLE * _ARC_OVER_CHORD
    rise = some.high - some.low
    rise *= rise
    plain: BoolArray = rise >= (share * view.radii(some.low)) ** 2 * chord
    plain &= chord <= view.usual_chord
    return plain


def _widths(view: _View, flat: NDArray[np.complex64]) -> FloatArray:
    """(k,) the widest angle, under half a turn, that a side of each triangle (3, k) spans."""
    arms = flat - complex(*view.stretch.surface.offset)
    arms /= np.maximum(plane_lengths(arms.real, arms.imag), 1e-30)
    chord = _longest_across(arms)
    width: FloatArray = 2.0 * np.arcsin(np.minimum(np.sqrt(chord) / 2.0, 1.0))
    return width


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
    first = z[triangles[rest, 0]]
    for label, sign, extreme in ((LOW_END, -1.0, float(z.min())), (HIGH_END, 1.0, float(z.max()))):
        near = rest[np.abs(first - extreme) <= 2.0 * spread]
        near = near[(np.abs(z[triangles[near]] - extreme) <= 2.0 * spread).all(axis=1)]
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
