"""Sections of a closed mesh by planes of constant z, many at once: outlines and their areas.

All of it works on the part frame. Every segment of an outline has the material on its
left, so that an outline runs counter-clockwise round material and clockwise round a void.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import plane_lengths
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
    level : (k,) int, which plane
    """

    starts: FloatArray
    stops: FloatArray
    level: IntArray


def cut_segments(mesh: Mesh, stations: FloatArray) -> Segments:
    """Cut a mesh by the planes z = stations, which ascend."""
    below = np.searchsorted(stations, mesh.vertices[:, 2], "right")
    cut = _cut(below, mesh.triangles)
    at = stations[cut.level]
    starts, stops = (_edge_lines(mesh, edges).at(at) for edges in (cut.first, cut.last))
    return Segments(starts.T, stops.T, cut.level)


def cut_sections(mesh: Mesh, stations: FloatArray) -> Sections:
    """Sections of a closed mesh by the planes z = stations, which ascend.

    Planes between which no vertex lies cut the same edges: those are found, and put in
    order along their loops, once for all such planes.
    """
    below = np.searchsorted(stations, mesh.vertices[:, 2], "right")
    begins = np.bincount(below, minlength=len(stations) + 1)[:-1] > 0
    begins[:1] = True
    runs = np.cumsum(begins)
    cut = _cut(np.concatenate([[0], runs])[below], mesh.triangles)
    order, is_head = _along_loops(cut, len(mesh.vertices))
    sizes = np.bincount(cut.level, minlength=len(stations))
    first = np.cumsum(sizes) - sizes
    sizes, first = sizes[runs - 1], first[runs - 1]
    level = np.arange(len(stations)).repeat(sizes)
    which = np.arange(len(level)) - (np.cumsum(sizes) - sizes - first).repeat(sizes)
    lines = _edge_lines(mesh, (cut.first[0][order], cut.first[1][order]))
    starts = lines.taken(which).at(stations[level])
    return _sections(stations, starts, level, np.flatnonzero(is_head[which]))


def _sections(
    stations: FloatArray, starts: FloatArray, level: IntArray, heads: IntArray
) -> Sections:
    """The sections whose segments start at points (2, k), those of a loop in order.

    heads : (l,) places of the first of each loop
    """
    sizes = np.diff(heads, append=len(level))
    loop = np.arange(len(heads)).repeat(sizes)
    onward = np.arange(1, len(level) + 1)
    onward[heads + sizes - 1] = heads
    stops = starts.take(onward, axis=1)
    origin = starts[:, heads].repeat(sizes, axis=1)  # of each loop its own: no digits are lost
    (px, py), (qx, qy) = starts - origin, stops - origin
    lengths = plane_lengths(*(stops - starts))
    passed = np.cumsum(lengths) - lengths
    return Sections(
        stations=stations,
        starts=starts.T,
        stops=stops.T,
        level=level,
        along=passed - passed[heads].repeat(sizes),
        loop=loop,
        loop_level=level[heads],
        loop_area=_summed(loop, px * qy - py * qx, len(heads)) / 2.0,
        loop_length=_summed(loop, lengths, len(heads)),
    )


_EdgeEnds = tuple[IntArray, IntArray]
"""(k,), (k,) the lower and the higher vertex of each edge."""


@dataclass(frozen=True, slots=True, eq=False)
class _Cut:
    """Triangles that planes pass between their corners, each once for each plane.

    level : (k,) which plane
    first, last : the edge at which its segment starts, and at which it stops, the material
        on its left
    """

    level: IntArray
    first: _EdgeEnds
    last: _EdgeEnds


def _cut(below: IntArray, triangles: IntArray) -> _Cut:
    """The edges at which planes cut a mesh.

    A vertex in a plane counts as above it, so a closed mesh always gives closed loops.

    Parameters
    ----------
    below : (n,) how many of the planes are not above each vertex
    """
    triangle, level = _crossed(below, triangles)
    corners = [triangles[:, k].take(triangle) for k in range(3)]
    raised = [below.take(corner) > level for corner in corners]
    upward = raised[0] ^ raised[1] ^ raised[2]  # one, not two, is above
    lone = np.where(raised[0] == upward, 0, np.where(raised[1] == upward, 1, 2))
    flat, row = triangles.ravel(), 3 * triangle
    apex, ahead, behind = (flat.take(row + _TURNED[turn].take(lone)) for turn in range(3))
    first, last = (
        (np.where(upward, other, apex), np.where(upward, apex, other))
        for other in (np.where(upward, ahead, behind), np.where(upward, behind, ahead))
    )
    return _Cut(level, first, last)


_TURNED = np.array([[0, 1, 2], [1, 2, 0], [2, 0, 1]])
"""The corner so many places on from each."""


def _crossed(below: IntArray, triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Every triangle and level of which the plane has corners on both sides, by level."""
    a, b, c = (below.take(triangles[:, k]) for k in range(3))
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    crossed = np.flatnonzero(high > low)
    low, count = low[crossed], (high - low)[crossed]
    triangle = np.repeat(crossed, count)
    level = np.arange(len(triangle)) + np.repeat(low - (np.cumsum(count) - count), count)
    return triangle, level


@dataclass(frozen=True, slots=True, eq=False)
class _EdgeLines:
    """Edges as lines along the axis.

    numbers : (5, k) x, y and z of a point, and how far x and y go with z
    """

    numbers: FloatArray

    def taken(self, which: IntArray) -> _EdgeLines:
        return _EdgeLines(self.numbers.take(which, axis=1))

    def at(self, stations: FloatArray) -> FloatArray:
        """(2, k) where the edges pass their stations."""
        found: FloatArray = self.numbers[3:] * (stations - self.numbers[2])
        found += self.numbers[:2]
        return found


def _edge_lines(mesh: Mesh, edges: _EdgeEnds) -> _EdgeLines:
    """Both triangles at an edge have its line alike, to the bit."""
    low, high = (mesh.vertices.take(end, axis=0).T for end in edges)
    along = high - low
    return _EdgeLines(np.vstack([low, along[:2] / along[2]]))


def _along_loops(cut: _Cut, vertices: int) -> tuple[IntArray, BoolArray]:
    """The segments by level, those of a loop together and in order, and whether each begins one.

    Each starts where one other stops. By pointer jumping: after k rounds every place knows
    the least of the 2^k places from it on; then how far on that one is.
    """
    after = _following(cut, vertices)
    every = np.arange(len(after))
    head, away, jump, reach = every, np.zeros_like(every), after, 1
    while reach < 2 * len(every):
        further = head.take(jump)
        nearer = further < head
        if not nearer.any():
            break
        away = np.where(nearer, reach + away.take(jump), away)
        head, jump, reach = np.minimum(head, further), jump.take(jump), 2 * reach
    heads = np.flatnonzero(head == every)
    heads = heads[np.argsort(cut.level[heads], kind="stable")]
    sizes = np.bincount(head, minlength=len(every))
    first = np.empty(len(every), np.int64)
    first[heads] = np.cumsum(sizes[heads]) - sizes[heads]
    order = np.empty(len(every), np.int64)
    order[first.take(head) + np.where(away > 0, sizes.take(head) - away, 0)] = every
    return order, (away == 0)[order]


def _following(cut: _Cut, vertices: int) -> IntArray:
    """(k,) the segment that comes after each: the one that starts on the edge where it stops."""
    planes = int(cut.level.max(initial=0)) + 1
    starts, stops = (
        (low * vertices + high) * planes + cut.level for low, high in (cut.first, cut.last)
    )
    after = np.empty(len(starts), np.int64)
    after[np.argsort(stops)] = np.argsort(starts)
    return after
