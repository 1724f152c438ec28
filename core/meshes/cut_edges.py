"""Dividing triangles at stations, with one new vertex on each edge cut."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import BoolArray, FloatArray, IntArray, read_only
from .connected import connected_groups

_TOGETHER = 2e-4
"""Crossings nearer than this, mm, beside each other on an outline become one vertex."""


def _divided(triangles: IntArray, new: IntArray, number: IntArray) -> tuple[IntArray, IntArray]:
    """Triangles with the new vertices on their edges (-1: none) made into whole ones."""
    count = (new >= 0).sum(axis=1)
    assert int(count.max(initial=0)) <= 2, "a plane cuts at most two edges of a triangle"
    parts = [triangles[count == 0]]
    origins = [number[count == 0]]
    for cuts in (1, 2):
        some = np.flatnonzero(count == cuts)
        # turn each so that its one cut edge, or its one whole edge, comes first
        lead = (new[some] >= 0).argmax(axis=1) if cuts == 1 else (new[some] < 0).argmax(axis=1)
        order = (lead[:, None] + np.arange(3)) % 3
        a, b, c = np.take_along_axis(triangles[some], order, axis=1).T
        on_ab, on_bc, on_ca = np.take_along_axis(new[some], order, axis=1).T
        if cuts == 1:
            faces = [(a, on_ab, c), (on_ab, b, c)]
        else:
            faces = [(a, b, on_bc), (a, on_bc, on_ca), (on_ca, on_bc, c)]
        parts += [np.column_stack(face) for face in faces]
        origins += [number[some]] * len(faces)
    return np.vstack(parts), np.concatenate(origins)


def cut_at_stations(
    vertices: FloatArray, triangles: IntArray, stations: FloatArray, chosen: BoolArray
) -> tuple[FloatArray, IntArray, IntArray]:
    """The chosen triangles divided at stations (heights along z), all at once.

    New vertices lie on the edges of the triangles given only: cutting at one
    station after another would put ever closer ones on the edges that the
    earlier cuts made.

    Parameters
    ----------
    stations : (k,) ascending mm
    chosen : (m,) bool; both triangles of an edge that is cut must be chosen

    Returns
    -------
    vertices, triangles, and (m,) the number of the triangle that each came from
    """
    low, high = height_spans(vertices, triangles)
    first = np.searchsorted(stations, low, side="right")
    last = np.searchsorted(stations, high, side="left")
    cut = chosen & (last > first)
    number = np.flatnonzero(cut)
    ladder = _cut_edges(vertices, triangles[number], stations)
    bands, origin = _bands(ladder, triangles[number], first[number], last[number])
    return (
        ladder.vertices,
        np.vstack([triangles[~cut], bands]),
        np.concatenate([np.flatnonzero(~cut), number[origin]]),
    )


def height_spans(vertices: FloatArray, triangles: IntArray) -> tuple[FloatArray, FloatArray]:
    """(m,) z of each triangle's lowest and highest corner."""
    stations = np.ascontiguousarray(vertices[:, 2])
    a, b, c = (stations[triangles[:, k]] for k in range(3))
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)


@dataclass(frozen=True, slots=True, eq=False)
class _Ladder:
    """All edges that stations cut, and the number of the vertex at each crossing.

    codes : (e,) ascending, lower end * count + upper end, of each edge
    before : (e,) such that the vertex at station j is before + j
    """

    vertices: FloatArray
    stations: FloatArray
    count: int
    codes: IntArray
    before: IntArray

    def __post_init__(self) -> None:
        read_only(self.codes)
        read_only(self.before)

    def at(self, low: IntArray, high: IntArray, station: IntArray) -> IntArray:
        """Vertex numbers on edges, given lower end first, at the numbers of stations."""
        heights = self.stations[station]
        place = np.searchsorted(self.codes, low * self.count + high)
        crossing = self.before[place.clip(0, max(len(self.before) - 1, 0))] + station
        at_low = self.vertices[low, 2] == heights
        at_high = self.vertices[high, 2] == heights
        numbers: IntArray = np.where(at_low, low, np.where(at_high, high, crossing))
        return numbers


def _cut_edges(vertices: FloatArray, triangles: IntArray, stations: FloatArray) -> _Ladder:
    """New vertices wherever an edge of the triangles passes a station."""
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    falls = vertices[start, 2] > vertices[end, 2]
    low, high = np.where(falls, end, start), np.where(falls, start, end)
    codes = np.unique(low * len(vertices) + high)
    low, high = codes // len(vertices), codes % len(vertices)
    first = np.searchsorted(stations, vertices[low, 2], side="right")
    last = np.searchsorted(stations, vertices[high, 2], side="left")
    counts = np.maximum(last - first, 0)
    before = len(vertices) + np.cumsum(counts) - counts - first
    edge = np.repeat(np.arange(len(codes)), counts)
    station = np.arange(int(counts.sum())) + len(vertices) - before[edge]
    low, high = low[edge], high[edge]
    heights = stations[station]
    share = (heights - vertices[low, 2]) / (vertices[high, 2] - vertices[low, 2])
    points = vertices[low] + share[:, None] * (vertices[high] - vertices[low])
    points[:, 2] = heights
    return _Ladder(np.vstack([vertices, points]), stations, len(vertices), codes, before)


def _bands(
    ladder: _Ladder, triangles: IntArray, first: IntArray, last: IntArray
) -> tuple[IntArray, IntArray]:
    """Triangles between each two stations, and the number of the one they came from.

    Seen with its corners sorted by height, a triangle has one long side and two
    short ones that meet in its middle corner. A band is bounded below and above
    by a station (or by the lowest or highest corner), and holds the middle corner
    or not: at most five corners.
    """
    order = np.argsort(ladder.vertices[triangles, 2], axis=1, kind="stable")
    low, middle, high = np.take_along_axis(triangles, order, axis=1).T
    even = (order[:, 1] - order[:, 0]) % 3 == 1
    counts = last - first
    origin = np.repeat(np.arange(len(triangles)), counts + 1)
    rung = np.arange(len(origin)) - np.repeat(np.cumsum(counts + 1) - counts - 1, counts + 1)
    bottom, top = rung == 0, rung == counts[origin]
    low, middle, high, even = low[origin], middle[origin], high[origin], even[origin]
    below = (first[origin] + rung - 1).clip(0)
    above = (first[origin] + rung).clip(max=len(ladder.stations) - 1)
    heights = ladder.vertices[:, 2]

    def short(station: IntArray) -> IntArray:
        upper = ladder.stations[station] > heights[middle]
        return ladder.at(np.where(upper, middle, low), np.where(upper, high, middle), station)

    long_below = np.where(bottom, low, ladder.at(low, high, below))
    short_below = np.where(bottom, low, short(below))
    long_above = np.where(top, high, ladder.at(low, high, above))
    short_above = np.where(top, high, short(above))
    holds = (bottom | (heights[middle] > ladder.stations[below])) & (
        top | (heights[middle] < ladder.stations[above])
    )
    corner = np.where(holds, middle, short_below)
    faces = np.stack(
        [
            np.column_stack([long_below, short_below, corner]),
            np.column_stack([long_below, corner, short_above]),
            np.column_stack([long_below, short_above, long_above]),
        ],
        axis=1,
    )
    faces[~even] = faces[~even][:, :, ::-1]
    joined = _joined(ladder, long_below[~bottom], short_below[~bottom])
    whole = joined[faces.reshape(-1, 3)]
    a, b, c = whole.T
    real = (a != b) & (b != c) & (c != a)
    return whole[real], np.repeat(origin, 3)[real]


def _joined(ladder: _Ladder, first: IntArray, second: IntArray) -> IntArray:
    """(n,) the vertex that each becomes; first and second are the ends of the cuts made."""
    gaps = np.linalg.norm(ladder.vertices[first] - ladder.vertices[second], axis=1)
    close = (gaps < _TOGETHER) & (np.minimum(first, second) >= ladder.count)
    groups = connected_groups(len(ladder.vertices), first[close], second[close])
    number: IntArray = np.unique(groups, return_index=True)[1][groups]
    return number
