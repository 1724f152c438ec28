"""How thin the wall is beside what belongs to no known surface: dents, bulbs, sockets.

In sections square to the axis, from outline to outline: what lies on one side is measured
against all that lies on the other, so a dent against the dent behind it. Known round surfaces
count as round between the corners of their facets.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import TURN, plane_lengths, short_way
from ..meshes.mesh_checks import triangle_normals
from ..meshes.plane_sections import Sections, cut_sections
from ..meshes.segments import nearest_on
from ..values import (
    BORE,
    HIGH_END,
    HOLE,
    LOW_END,
    OUTSIDE,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    NarrowArray,
    RoundSurface,
    read_only,
)
from .bore_openings import line_numbers
from .labelling import Regions
from .ornaments import Loose
from .wall_lines import distances

_LEVEL_GRAIN, _BESIDE_LEVEL = 0.01, 1e-3
_STEP = 1.0
_MOST_PLANES = 300
_MOST_SEGMENTS = 600_000
_CLOSE = 0.1
"""Places with less wall than the least and this, mm, are looked at again in closer planes."""

_RISE = 0.02
"""A wall that thickens from an end by so much a mm is the end's chamfer or rounding, if short."""

_AT_END = 0.5
_LYING = 0.9
"""Cosine from which a triangle lies across the axis: a floor or a shoulder, no side of a wall."""

_AT_ONCE = 64

_UNTOLD = 1e9
_KEY, _SLACK = 8.0, 1e-9
_SOME_HOLLOW, _SOME_OUTER = -2, -3
"""Sheets of outlines that no known surface is part of: where bores run into one, the wall
between two such hollows ends in an edge, and is none."""


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """What each triangle of a part is to a wall.

    sheet : (m,) int, the side of a wall that it is on: 0 outside, 1 and up the bore lines; -1
        where its outline tells, if that is on one side only
    counted : (m,) bool, whether it bounds a wall at all
    in_hole : (m,) bool
    featured : (m,) bool, whether it is of no known surface and more than noise
    surface : (m,) int, which of the surfaces it is of, or -1
    """

    sheet: NarrowArray
    counted: BoolArray
    in_hole: BoolArray
    featured: BoolArray
    surface: NarrowArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))


@dataclass(frozen=True, slots=True, eq=False)
class _Segments:
    """Segments of sections that bound a wall.

    start, end : (p, 2) mm
    plane : (p,) int
    sheet : (p,) int, the side of a wall that each is on; nothing is measured within one
    hollow : (p,) bool, whether it bounds a hollow
    featured, surface : as in `_Sides`
    """

    start: FloatArray
    end: FloatArray
    plane: IntArray
    sheet: IntArray
    hollow: BoolArray
    featured: BoolArray
    surface: NarrowArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))

    def picked(self, rows: IntArray | BoolArray) -> _Segments:
        """Some of them."""
        return _Segments(*(getattr(self, name)[rows] for name in self.__slots__))

    @property
    def count(self) -> int:
        """How many."""
        return len(self.plane)


def least_beside(
    part: Mesh,
    regions: Regions,
    loose: Loose,
    in_holes: IntArray,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    length: float,
) -> float:
    """The thinnest wall beside what is of no known surface, mm; infinite where all is known.

    A chamfer or rounding of the part's ends, no longer than the wall is thick, is none.

    Parameters
    ----------
    part : in its own frame
    in_holes : numbers of the triangles that are walls of side holes
    length : mm, between the ends
    """
    real = loose.triangles[loose.real]
    if not len(real):
        return float(np.inf)
    surfaces = (*bores, *outsides)
    sides = _sides(part, regions, loose, in_holes, bores, is_round=bool(outsides))
    levels = np.unique(np.round(part.vertices[part.triangles[real], 2] / _LEVEL_GRAIN))
    rough = 2.0 * max(surface.level_spread for surface in surfaces)
    levels = np.unique((levels * _LEVEL_GRAIN).clip(rough, length - rough))
    if len(levels) < 2:
        return float(np.inf)
    most = int(min(_MOST_PLANES, max(16.0, _MOST_SEGMENTS / np.sqrt(len(part.triangles)) / 4.0)))
    heights = _thinned(_planes(levels), most)
    walls = _walls(part, sides, surfaces, heights)
    heights, walls = _without_rims(heights, walls, length)
    if not np.isfinite(walls).any():
        return float(np.inf)
    closer = _thinned(_closer(levels, heights, walls), most)
    return float(min(walls.min(), _walls(part, sides, surfaces, closer).min(initial=np.inf)))


def _planes(levels: FloatArray) -> FloatArray:
    """Planes just beside levels, and between those far apart."""
    gaps = np.diff(levels)
    counts = np.ceil(gaps / _STEP).astype(np.int64) - 1
    first = np.repeat(levels[:-1], counts)
    number = np.arange(len(first)) - np.repeat(np.cumsum(counts) - counts, counts)
    between = first + (number + 1.0) * np.repeat(gaps / (counts + 1.0), counts)
    beside = np.concatenate([levels[:-1] + _BESIDE_LEVEL, levels[1:] - _BESIDE_LEVEL])
    planes: FloatArray = np.unique(np.concatenate([between, beside]))
    return planes


def _thinned(heights: FloatArray, most: int) -> FloatArray:
    """No more than so many of some planes, evenly chosen, the first and last among them."""
    if len(heights) <= most:
        return heights
    chosen: FloatArray = heights[np.linspace(0, len(heights) - 1, most).round().astype(np.int64)]
    return chosen


def _closer(levels: FloatArray, heights: FloatArray, walls: FloatArray) -> FloatArray:
    """Planes about those with hardly more wall than the least, up to the next ones."""
    few = np.flatnonzero(walls <= walls.min() + _CLOSE)
    low, high = heights[np.maximum(few - 1, 0)], heights[np.minimum(few + 1, len(heights) - 1)]
    shares = np.linspace(0.0, 1.0, 9)
    even = (low[:, None] + (high - low)[:, None] * shares).ravel()
    near = ((levels[:, None] >= low) & (levels[:, None] <= high)).any(axis=1)
    every = np.concatenate([even, levels[near] - _BESIDE_LEVEL, levels[near] + _BESIDE_LEVEL])
    planes: FloatArray = np.unique(every[(every >= heights[0]) & (every <= heights[-1])])
    return planes


def _without_rims(
    heights: FloatArray, walls: FloatArray, length: float
) -> tuple[FloatArray, FloatArray]:
    """The planes without those in a chamfer or rounding of the part's ends."""
    first = _rim(heights, walls)
    last = len(walls) - _rim((length - heights)[::-1], walls[::-1])
    return heights[first:last], walls[first:last]


def _rim(heights: FloatArray, walls: FloatArray) -> int:
    """How many planes from an end at height 0 on are in its rim: while the wall thickens.

    A rim longer than the wall within is thick is a part of its own: a bell, a funnel.
    """
    told = np.flatnonzero(np.isfinite(walls))
    if not len(told) or heights[told[0]] > _AT_END:
        return 0
    first = int(told[0])
    known = np.minimum(walls[first:], _UNTOLD)
    grows = np.diff(known) > _RISE * np.diff(heights[first:])
    last = first + int(np.append(grows, False).argmin())
    within = last if np.isfinite(walls[last]) else last - 1
    return last if heights[within] <= walls[within] else 0


def _sides(
    part: Mesh,
    regions: Regions,
    loose: Loose,
    in_holes: IntArray,
    bores: tuple[RoundSurface, ...],
    *,
    is_round: bool,
) -> _Sides:
    """What each triangle is to a wall.

    is_round : whether the outside is; else what hangs on a bore may reach round an end
    """
    labels, narrow = regions.labels, np.dtype(np.int32)
    in_hole = labels == HOLE
    in_hole[in_holes] = True
    featured = np.zeros(len(labels), bool)
    featured[loose.triangles[loose.real]] = True
    surface: NarrowArray = np.full(len(labels), -1, narrow)
    sheet: NarrowArray = np.zeros(len(labels), narrow)
    on_bore, on_outside = np.flatnonzero(labels == BORE), np.flatnonzero(labels == OUTSIDE)
    surface[on_bore] = regions.numbers[on_bore]
    surface[on_outside] = regions.numbers[on_outside] + len(bores)
    sheet[on_bore] = 1 + line_numbers(bores)[regions.numbers[on_bore]]
    unsure = loose.is_between | (loose.line >= 0) & (not is_round)
    sheet[loose.triangles] = np.where(unsure, -1, loose.line + 1)
    counted = (labels != LOW_END) & (labels != HIGH_END) & ~in_hole
    rows = np.flatnonzero(surface < 0)
    normals, _ = triangle_normals(Mesh(part.vertices, part.triangles[rows]))
    counted[rows[np.abs(normals[:, 2]) > _LYING]] = False
    return _Sides(sheet, counted, in_hole, featured, surface)


def _walls(
    part: Mesh, sides: _Sides, surfaces: tuple[RoundSurface, ...], heights: FloatArray
) -> FloatArray:
    """(k,) the least wall beside features in each plane, mm; infinite where there is none."""
    columns = [np.ascontiguousarray(part.vertices[:, axis]) for axis in range(3)]
    segments = _segments(cut_sections(columns, part.triangles, heights), sides)
    walls = np.full(len(heights), np.inf)
    for number, surface in enumerate(surfaces):
        _against_round(segments, number, surface, heights, walls)
    _against_loose(segments, walls)
    return walls


def _segments(sections: Sections, sides: _Sides) -> _Segments:
    """The segments that bound walls, with whose sides they are.

    An outline is on several sides where a hole or a slit joins bore and outside, or bores.
    """
    triangle, outline = sections.triangle, sections.outline
    sheet = sides.sheet[triangle]
    highest = np.full(sections.count, -1)
    np.maximum.at(highest, outline, sheet)
    lowest = np.full(sections.count, len(sides.sheet))
    np.minimum.at(lowest, outline[sheet >= 0], sheet[sheet >= 0])
    several = (lowest < highest) | _has(sections, sides.in_hole[triangle])
    alone = np.where(
        highest < 0, np.where(sections.areas < 0.0, _SOME_HOLLOW, _SOME_OUTER), highest
    )
    hollow = np.where(several[outline], sheet > 0, sections.areas[outline] < 0.0)
    kept = np.flatnonzero(sides.counted[triangle] & ~(several[outline] & (sheet < 0)))
    every = _Segments(
        sections.starts,
        sections.ends,
        sections.plane[outline],
        np.where(sheet < 0, alone[outline], sheet),
        hollow,
        sides.featured[triangle],
        sides.surface[triangle],
    )
    return every.picked(kept)


def _has(sections: Sections, chosen: BoolArray) -> BoolArray:
    """(q,) outlines with a chosen segment."""
    has = np.zeros(sections.count, bool)
    has[sections.outline[chosen]] = True
    return has


def _against_round(
    segments: _Segments, number: int, surface: RoundSurface, heights: FloatArray, walls: FloatArray
) -> None:
    """Bring walls down to what lies between features and a round surface where it is there."""
    asked, arcs = segments.picked(segments.featured), segments.picked(segments.surface == number)
    if not (asked.count and arcs.count):
        return
    middle = np.array(surface.offset)
    first, last = _angles(arcs.start - middle), _angles(arcs.end - middle)
    turn = short_way(last - first)
    low = np.where(turn >= 0.0, first, last)
    order = np.argsort(arcs.plane * _KEY + low)
    arcs, low, width = arcs.picked(order), low[order], np.abs(turn[order])
    keys = arcs.plane * _KEY + low
    for points in (asked.start, asked.end, nearest_on(middle, asked.start, asked.end)):
        angle = _angles(points - middle)
        at = np.searchsorted(keys, asked.plane * _KEY + angle, side="right") - 1
        around = np.searchsorted(keys, (asked.plane + 1) * _KEY) - 1
        at = np.where((at < 0) | (arcs.plane[at] != asked.plane), around, at)
        there = (arcs.plane[at] == asked.plane) & (arcs.sheet[at] != asked.sheet)
        there &= np.mod(angle - low[at] + _SLACK, TURN) <= width[at] + 2.0 * _SLACK
        there &= arcs.hollow[at] | asked.hollow
        planes = asked.plane[there]
        reach = plane_lengths(*(points[there] - middle).T)
        np.minimum.at(walls, planes, np.abs(reach - surface.radii_at(heights[planes])))


def _angles(arms: FloatArray) -> FloatArray:
    """(p,) angles in [0, 2 pi)."""
    angles: FloatArray = np.mod(np.arctan2(arms[:, 1], arms[:, 0]), TURN)
    return angles


def _against_loose(segments: _Segments, walls: FloatArray) -> None:
    """Bring walls down to what lies between features and whatever is of no known surface."""
    loose = segments.picked(np.flatnonzero(segments.surface < 0))
    turned = np.arctan2(loose.start[:, 1], loose.start[:, 0])
    loose = loose.picked(np.lexsort((turned, loose.plane)))
    planes = np.unique(loose.plane[loose.featured])
    bounds = np.searchsorted(loose.plane, np.column_stack([planes, planes + 1]))
    for plane, (first, last) in zip(planes.tolist(), bounds.tolist(), strict=True):
        here = loose.picked(np.arange(first, last))
        if here.hollow.any() and (here.sheet != here.sheet[0]).any():
            walls[plane] = min(walls[plane], _between(here, float(walls[plane])))


def _between(here: _Segments, least: float) -> float:
    """The least distance, under one known, of features from what is on another outline.

    here : segments of one plane by angle; looked at some at a time, against what may be near
    """
    low, high = np.minimum(here.start, here.end), np.maximum(here.start, here.end)
    asked = np.flatnonzero(here.featured)
    for some in np.split(asked, range(_AT_ONCE, len(asked), _AT_ONCE)):
        box = low[some].min(axis=0) - least, high[some].max(axis=0) + least
        near = np.flatnonzero(((high >= box[0]) & (low <= box[1])).all(axis=1))
        apart = here.sheet[some][:, None] != here.sheet[near]
        apart &= here.hollow[some][:, None] | here.hollow[near]
        near, apart = near[apart.any(axis=0)], apart[:, apart.any(axis=0)]
        if len(near):
            least = min(least, _least_of(here.picked(some), here.picked(near), apart))
    return least


def _least_of(first: _Segments, second: _Segments, asked: BoolArray) -> float:
    """Least distance of segments that do not cross, of the pairs asked for.

    asked : (p, q) bool
    """
    pairs = np.nonzero(asked)
    one, other = first.picked(pairs[0]), second.picked(pairs[1])
    found = [
        distances(other.start, other.end, one.start),
        distances(other.start, other.end, one.end),
        distances(one.start, one.end, other.start),
        distances(one.start, one.end, other.end),
    ]
    return float(min(some.min() for some in found))
