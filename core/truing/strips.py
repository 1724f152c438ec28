"""The triangles of an unrolled round surface, strip by strip.

Lines along the surface cross its loops. Between two crossings that follow each
other a loop is a *part*; from a part's end one goes along the line, across the
surface, to where the next part starts, and so around a face. Most faces are
plain: one edge below and one above, or two chains of growing angle. These are
meshed all at once; what is left is clipped into ears.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import TruingRefused
from ..meshes.ear_clipping import clip_ears
from ..values import BoolArray, FloatArray, IntArray, read_only

_LEAST_HEIGHT = 2e-4
"""A triangle lower than this, mm, is left to the clipping of ears, which knows such."""

_CROSSED = 0.02
"""Loops that pass each other by more than this, mm, cross; less is rounding of the source."""


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The loops about one round surface, one after another, the surface on their left.

    first : (loops + 1,) place at which each loop starts
    vertices : (n,) numbers of vertices
    lines : (n,) the line that each vertex lies on, or -1
    arcs : (n,) mm, unrolled angle times radius
    stations : (n,) mm
    around : mm, one turn
    """

    first: IntArray
    vertices: IntArray
    lines: IntArray
    arcs: FloatArray
    stations: FloatArray
    around: float

    def __post_init__(self) -> None:
        for array in (self.first, self.vertices, self.lines, self.arcs, self.stations):
            read_only(array)

    def step(self, start: IntArray, end: IntArray) -> FloatArray:
        """Arc, mm, the short way from some places to others."""
        arcs: FloatArray = self.arcs[end] - self.arcs[start]
        way: FloatArray = arcs - self.around * np.round(arcs / self.around)
        return way


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """The outline cut where it crosses lines.

    place : (p,) where each part starts; the end is that of the part `following`
    steps : (p,) how many edges it has
    after : (p,) the part that comes next around the face
    """

    outline: Outline
    place: IntArray
    following: IntArray
    steps: IntArray
    after: IntArray

    def along(self, parts: IntArray) -> tuple[IntArray, IntArray]:
        """Places of several parts, one after another, ends included; and which part each is of."""
        sizes = self.steps[parts] + 1
        which = np.repeat(np.arange(len(parts)), sizes)
        rank = np.arange(len(which)) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        start = self.place[parts][which]
        first = self.outline.first
        loop = np.searchsorted(first, start, side="right") - 1
        low, size = first[loop], first[loop + 1] - first[loop]
        return low + (start - low + rank) % size, which


def strip_faces(outline: Outline, taken: set[tuple[int, int]] | None) -> IntArray:
    """(k, 3) numbers of vertices: the triangles of the surface within its outline.

    Parameters
    ----------
    taken : pairs of vertices, lower number first, that have an edge elsewhere; edges
        made here are added. None: no care is taken, and it is faster.

    Raises
    ------
    TruingRefused : the loops cross each other
    """
    parts = _cut_at_lines(outline)
    number = np.arange(len(parts.place))
    after = parts.after
    paired = (after[after] == number) & (number < after)
    plain = paired & (parts.steps == 1) & (parts.steps[after] == 1)
    two_chains = paired & ~plain & (taken is None)
    quads = _quads(parts, number[plain])
    bands, failed = _bands(parts, number[two_chains])
    left = np.ones(len(number), bool)
    for done in (number[plain], number[two_chains][~failed]):
        left[done] = False
        left[after[done]] = False
    faces = np.vstack([quads, bands])
    whole = [outline.vertices[faces]]
    if taken is not None:
        taken |= edge_pairs(whole[0])
    whole += _clipped(parts, left, taken)
    return np.vstack(whole)


def edge_pairs(triangles: IntArray) -> set[tuple[int, int]]:
    """The edges of triangles as pairs of vertices, lower number first."""
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    pairs = np.column_stack([np.minimum(start, end), np.maximum(start, end)])
    return set(map(tuple, pairs.tolist()))


def _cut_at_lines(outline: Outline) -> _Parts:
    place = np.flatnonzero(outline.lines >= 0)
    loop = np.searchsorted(outline.first, place, side="right") - 1
    number = np.arange(len(place))
    is_last = np.append(loop[1:] != loop[:-1], True) if len(place) else np.empty(0, bool)
    starts = np.searchsorted(loop, loop, side="left")
    following = np.where(is_last, starts, number + 1)
    if len(np.unique(loop)) < len(outline.first) - 1:
        raise _tangled(float(outline.stations[0]))
    size = np.diff(outline.first)[loop]
    steps = (place[following] - place) % size
    steps = np.where(steps == 0, size, steps)
    partner = _partners(outline, place)
    return _Parts(outline, place, following, steps, partner[following])


def _partners(outline: Outline, place: IntArray) -> IntArray:
    """For each crossing the one across the surface from it, along its line.

    Where a loop crosses a line to the right, the surface lies above; to the left, below.
    """
    first, loop = outline.first, np.searchsorted(outline.first, place, side="right") - 1
    low, size = first[loop], np.diff(first)[loop]
    ahead, behind = low + (place - low + 1) % size, low + (place - low - 1) % size
    rising = outline.step(behind, place) + outline.step(place, ahead) > 0.0
    lines, stations = outline.lines[place], outline.stations[place]
    order = np.lexsort((stations, lines))
    floors, roofs = order[rising[order]], order[~rising[order]]
    if len(floors) != len(roofs) or (lines[floors] != lines[roofs]).any():
        raise _tangled(_odd_station(lines, stations, rising))
    under = stations[roofs] < stations[floors] - _CROSSED
    next_line = lines[floors][1:] == lines[floors][:-1]
    within = next_line & (stations[floors][1:] < stations[roofs][:-1] - _CROSSED)
    if under.any() or within.any():
        crossing = np.concatenate([floors[under], floors[1:][within]])
        raise _tangled(float(stations[crossing].min()))
    partner = np.empty(len(place), np.int64)
    partner[floors], partner[roofs] = roofs, floors
    return partner


def _odd_station(lines: IntArray, stations: FloatArray, rising: BoolArray) -> float:
    """The lowest station on a line that is not crossed as often one way as the other."""
    balance = np.bincount(lines, np.where(rising, 1.0, -1.0))
    return float(stations[balance[lines] != 0.0].min())


def _tangled(station: float) -> TruingRefused:
    return TruingRefused(
        f"a round surface whose edges cross each other near station {station:.2f} mm",
        "edges that run about the surface or about openings in it, crossed 0 times",
        "--true none, or mend the mesh there",
    )


def _quads(parts: _Parts, lower: IntArray) -> IntArray:
    """Faces of one edge below and one above, as places of triangles' corners."""
    a, c = parts.place[lower], parts.place[parts.after[lower]]
    b = parts.place[parts.following[lower]]
    d = parts.place[parts.following[parts.after[lower]]]
    return np.vstack([np.column_stack([a, b, c]), np.column_stack([a, c, d])])


def _bands(parts: _Parts, some: IntArray) -> tuple[IntArray, BoolArray]:
    """Faces between two chains of growing arc, and which of them could not be made so.

    The chains' edges are taken in the order of their middles; each makes a triangle
    with the last corner reached on the other chain.
    """
    outline = parts.outline
    start, end = parts.place[some], parts.place[parts.following[some]]
    rising = outline.step(start, end) > 0.0
    lower = np.where(rising, some, parts.after[some])
    upper = np.where(rising, parts.after[some], some)
    below, face_below = parts.along(lower)
    above, face_above = parts.along(upper)
    above = above[::-1]
    face_above = face_above[::-1]
    order = np.argsort(face_above, kind="stable")
    above, face_above = above[order], face_above[order]
    origin = parts.place[lower]
    arcs_below = outline.step(origin[face_below], below)
    arcs_above = outline.step(origin[face_above], above)
    edge_below = np.flatnonzero(face_below[1:] == face_below[:-1])
    edge_above = np.flatnonzero(face_above[1:] == face_above[:-1])
    face = np.concatenate([face_below[edge_below], face_above[edge_above]])
    middle = np.concatenate(
        [arcs[e] + arcs[e + 1] for arcs, e in ((arcs_below, edge_below), (arcs_above, edge_above))]
    )
    is_above = np.repeat([False, True], [len(edge_below), len(edge_above)])
    order = np.lexsort((is_above, middle, face))
    is_above, face = is_above[order], face[order]
    seen_above = np.cumsum(is_above) - is_above
    seen_below = np.cumsum(~is_above) - ~is_above
    # the k-th face has had k corners more than edges before it, on either chain
    i, j = seen_below + face, seen_above + face
    low, high = below[i], above[j]
    third = np.where(is_above, above[(j + 1).clip(max=len(above) - 1)], high)
    second = np.where(is_above, third, below[(i + 1).clip(max=len(below) - 1)])
    triangles = np.column_stack([low, second, high])
    bad = _too_low(outline, triangles)
    failed = np.zeros(len(some), bool)
    failed[face[bad]] = True
    return triangles[~failed[face]], failed


def _too_low(outline: Outline, triangles: IntArray) -> BoolArray:
    """(k,) whether triangles are turned inside out, or so low that rounding decides it."""
    a, b, c = triangles.T
    ux, uy = outline.step(a, b), outline.stations[b] - outline.stations[a]
    vx, vy = outline.step(a, c), outline.stations[c] - outline.stations[a]
    longest = np.sqrt(
        np.maximum(np.maximum(ux**2 + uy**2, vx**2 + vy**2), (vx - ux) ** 2 + (vy - uy) ** 2)
    )
    low: BoolArray = ux * vy - uy * vx < _LEAST_HEIGHT * longest
    return low


def _clipped(parts: _Parts, left: BoolArray, taken: set[tuple[int, int]] | None) -> list[IntArray]:
    """Faces of any shape, one after another."""
    waiting = set(np.flatnonzero(left).tolist())
    after = parts.after.tolist()
    whole = []
    while waiting:
        face, following = [], min(waiting)
        while following in waiting:
            waiting.remove(following)
            face.append(following)
            following = after[following]
        places, _ = parts.along(np.array(face))
        whole.append(_clip(parts.outline, places, taken))
    return whole


def _clip(outline: Outline, places: IntArray, taken: set[tuple[int, int]] | None) -> IntArray:
    points = np.column_stack(
        [outline.step(np.full(len(places), places[0]), places), outline.stations[places]]
    )
    numbers = outline.vertices[places]
    if taken is None:
        quick: IntArray = numbers[np.array(clip_ears(points))]
        return quick
    names = numbers.tolist()

    def is_taken(a: int, b: int) -> bool:
        return (min(names[a], names[b]), max(names[a], names[b])) in taken

    faces: IntArray = numbers[np.array(clip_ears(points, is_taken))]
    taken |= edge_pairs(faces)
    return faces
