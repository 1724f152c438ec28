"""Sections of a closed mesh by planes of constant z, many at once: outlines and their areas.

All of it works on the part frame. Every segment of an outline has the material on its
left, so that an outline runs counter-clockwise round material and clockwise round a void.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import compact
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """Where the planes z = stations cut a closed mesh: segments, k of them, and loops.

    stations : (s,) mm, ascending
    starts, stops : (k, 2) mm, x and y of the ends of each segment, material on the left
    level : (k,) int, which station
    along : (k,) mm, along its loop, to the start of each segment
    loop : (k,) int, which loop; loops of one level have neighbouring numbers
    loop_level : (l,) int
    loop_area : (l,) mm2, negative round a void
    loop_length : (l,) mm
    """

    stations: FloatArray
    starts: FloatArray
    stops: FloatArray
    level: IntArray
    along: FloatArray
    loop: IntArray
    loop_level: IntArray
    loop_area: FloatArray
    loop_length: FloatArray

    def __post_init__(self) -> None:
        assert self.starts.shape == self.stops.shape == (len(self.level), 2)
        for name in self.__slots__:
            read_only(getattr(self, name))

    def material_areas(self) -> FloatArray:
        """(s,) mm2, within outlines round material, what is void in them counted too."""
        return self._areas(self.loop_area > 0.0)

    def areas(self) -> FloatArray:
        """(s,) mm2, of material."""
        return self._areas(np.ones(len(self.loop_area), bool))

    def void_areas(self) -> FloatArray:
        """(s,) mm2, within outlines round voids, as a positive number."""
        return -self._areas(self.loop_area < 0.0)

    def outline_lengths(self) -> FloatArray:
        """(s,) mm, of all outlines together."""
        return _summed(self.loop_level, self.loop_length, len(self.stations))

    def _areas(self, chosen: BoolArray) -> FloatArray:
        return _summed(self.loop_level[chosen], self.loop_area[chosen], len(self.stations))


def _summed(groups: IntArray, values: FloatArray, count: int) -> FloatArray:
    """(count,) the sum of the values in each group."""
    return np.bincount(groups, values, minlength=count).astype(np.float64)


def band_of(mesh: Mesh, low: float, high: float) -> Mesh:
    """The triangles that reach into the stations from low to high, others left out."""
    heights = mesh.vertices[:, 2]
    under, over = (heights <= high), (heights >= low)
    kept = any_corner(under, mesh.triangles) & any_corner(over, mesh.triangles)
    return compact(mesh.vertices, mesh.triangles[kept])


def any_corner(marked: BoolArray, triangles: IntArray) -> BoolArray:
    """(m,) whether any corner of each triangle is marked; three passes beat one by rows."""
    found: BoolArray = marked[triangles[:, 0]] | marked[triangles[:, 1]] | marked[triangles[:, 2]]
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Segments:
    """Where planes cut triangles, a segment each.

    starts, stops : (k, 2) mm, material on the left
    first_edge, last_edge : (k,) int, which edge of the mesh each end lies on, of one plane
    level : (k,) int, which plane
    """

    starts: FloatArray
    stops: FloatArray
    first_edge: IntArray
    last_edge: IntArray
    level: IntArray


def cut_segments(mesh: Mesh, stations: FloatArray) -> Segments:
    """Cut a mesh by the planes z = stations, which ascend.

    A vertex in a plane counts as above it, so a closed mesh always gives closed loops.
    Both triangles at an edge compute its crossing alike, to the bit.
    """
    below = np.searchsorted(stations, mesh.vertices[:, 2], "right")  # planes not above a vertex
    triangle, level = _crossed(below, mesh.triangles)
    corners = [mesh.triangles[triangle, k] for k in range(3)]
    raised = [below[corner] > level for corner in corners]
    upward = raised[0].astype(np.int64) + raised[1] + raised[2] == 1
    lone = np.where(raised[1] == upward, 1, 2)
    lone = np.where(raised[0] == upward, 0, lone)
    apex, ahead, behind = (_turned(corners, lone, turn) for turn in range(3))
    points, codes = [], []
    for other in (np.where(upward, ahead, behind), np.where(upward, behind, ahead)):
        lower, upper = np.where(upward, other, apex), np.where(upward, apex, other)
        points.append(_crossings(mesh.vertices, lower, upper, stations[level]))
        codes.append((lower * len(mesh.vertices) + upper) * len(stations) + level)
    return Segments(points[0], points[1], codes[0], codes[1], level)


def cut_sections(mesh: Mesh, stations: FloatArray) -> Sections:
    """Sections of a closed mesh by the planes z = stations, which ascend."""
    cut = cut_segments(mesh, stations)
    first, before = _loops(cut.first_edge, cut.last_edge)
    heads = np.flatnonzero(first == np.arange(len(first)))
    heads = heads[np.argsort(cut.level[heads], kind="stable")]
    number = np.empty(len(first), np.int64)
    number[heads] = np.arange(len(heads))
    loop = number[first]
    origin = cut.starts[first]  # a loop's area is summed about a point of its own: no digits lost
    p, q = cut.starts - origin, cut.stops - origin
    doubled = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    areas = np.bincount(loop, doubled, minlength=len(heads)) / 2.0
    lengths = np.hypot(*(cut.stops - cut.starts).T)
    return Sections(
        stations,
        cut.starts,
        cut.stops,
        cut.level,
        _positions(first, before, lengths),
        loop,
        cut.level[heads],
        areas,
        _summed(loop, lengths, len(heads)),
    )


def _crossed(below: IntArray, triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Every triangle and level of which the plane has corners on both sides, by level."""
    a, b, c = (below[triangles[:, k]] for k in range(3))
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    crossed = np.flatnonzero(high > low)
    low, count = low[crossed], (high - low)[crossed]
    triangle = np.repeat(crossed, count)
    level = np.arange(len(triangle)) + np.repeat(low - (np.cumsum(count) - count), count)
    return triangle, level


def _turned(corners: list[IntArray], lone: IntArray, turn: int) -> IntArray:
    """Of each triangle the corner that many places on from its lone one."""
    place = (lone + turn) % 3
    return np.where(place == 0, corners[0], np.where(place == 1, corners[1], corners[2]))


def _crossings(
    vertices: FloatArray, lower: IntArray, upper: IntArray, stations: FloatArray
) -> FloatArray:
    """(k, 2) where edges from lower to upper vertices pass their stations."""
    x, y, z = (np.ascontiguousarray(vertices[:, k]) for k in range(3))
    bottom = z[lower]
    share = (stations - bottom) / (z[upper] - bottom)
    columns = [line[lower] + share * (line[upper] - line[lower]) for line in (x, y)]
    return np.column_stack(columns)


def _loops(starts: IntArray, stops: IntArray) -> tuple[IntArray, IntArray]:
    """(k,), (k,) the first segment of each segment's loop, and the segment before each.

    Each starts where one other stops.
    """
    after = np.empty(len(starts), np.int64)
    after[np.argsort(stops, kind="stable")] = np.argsort(starts, kind="stable")
    before = np.empty_like(after)
    before[after] = np.arange(len(after))
    first, reach = np.arange(len(starts)), 1
    while reach < len(starts):
        further = np.minimum(first, first[after])
        if reach > 1 and np.array_equal(further, first):
            break
        first, after, reach = further, after[after], 2 * reach
    return first, before


def _positions(first: IntArray, before: IntArray, lengths: FloatArray) -> FloatArray:
    """(k,) mm along each loop, from its first segment to the start of each."""
    back = np.where(first == np.arange(len(first)), first, before)
    passed = np.where(back == np.arange(len(back)), 0.0, lengths[back])
    while (back != first).any():
        passed, back = passed + passed[back], back[back]
    return passed
