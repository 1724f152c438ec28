"""The outlines of tenon and socket, seen along the axis, corner by corner.

A corner lies at a length along the tenon's outline, and its normal is that outline's
there. Every other outline (the socket's, the land's, a rib's) has its corners on the same
normals at another u (`hull`), so faces between two outlines are plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..truing.unroll import strip_count
from ..values import BoolArray, FloatArray, IntArray, Tenon, read_only
from .hull import hull_outline, outline_length, outline_place, outline_points
from .joint_design import FLANK_LEAN

_APART, _APART_SHARE = 0.15, 0.25
"""Least distance from a corner of a key or mark to any other corner: mm along the outline,
and no more than that share of a facet, or the facet beside it would be too wide."""


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """A closed outline as corners, counter-clockwise.

    places : (n,) mm along the tenon's outline, ascending
    bases, normals : (n, 2) a corner at u lies at base + u * normal
    swells : (n,) mm, by which the arc that a corner lies on is wider than its u
    u : (n,) of this outline's corners
    bounds : where arcs and flanks of a hull of two discs begin: corners' numbers, of the
        second disc's arc, the left flank, the first disc's arc, the right flank; of one disc 0
    marks : of each witness mark its first and last corner
    """

    places: FloatArray
    bases: FloatArray
    normals: FloatArray
    swells: FloatArray
    u: FloatArray
    bounds: IntArray
    marks: tuple[tuple[int, int], ...]

    def __post_init__(self) -> None:
        assert (np.diff(self.places) > 0.0).all()
        for array in (self.places, self.bases, self.normals, self.swells, self.u, self.bounds):
            read_only(array)

    def points(self, u: FloatArray, stations: FloatArray) -> FloatArray:
        """(n, 3) points on the corners' normals, at other u and at stations."""
        return np.column_stack([self.bases + u[:, None] * self.normals, stations])

    def chain(self, part: int) -> IntArray:
        """Corners of an arc or a flank, first and last included; see `bounds`."""
        return self._onward(int(self.bounds[part]), int(self.bounds[(part + 1) % len(self.bounds)]))

    def mark_chains(self) -> list[IntArray]:
        """Corners of each witness mark, first and last included."""
        return [self._onward(*mark) for mark in self.marks]

    def _onward(self, first: int, last: int) -> IntArray:
        steps = (last - first) % len(self.places)
        return (first + np.arange(steps + 1)) % len(self.places)


def tenon_footprint(tenon: Tenon, generators: tuple[FloatArray, ...]) -> Footprint:
    """The tenon's outline: corners on its circles, so that facets lie inside them.

    Parameters
    ----------
    generators : of each of the tenon's bores, so that roof and bore share their facets
    """
    return _footprint(tenon, generators, tenon.tenon_radius, socket=False)


def socket_footprint(tenon: Tenon, generators: tuple[FloatArray, ...]) -> Footprint:
    """The socket's outline: facets touch its circles, so that the least gap is the clearance."""
    plain = _footprint(tenon, generators, tenon.socket_radius, socket=True)
    return Footprint(
        plain.places,
        plain.bases,
        plain.normals,
        plain.swells,
        _circumscribed(plain),
        plain.bounds,
        plain.marks,
    )


def _discs(tenon: Tenon) -> tuple[FloatArray, FloatArray]:
    """Centres of the tenon's discs and their radii."""
    return np.array(tenon.centres), tenon.tenon_radius + np.array(tenon.swells)


@dataclass(frozen=True, slots=True)
class _Feature:
    """A key or a mark on an outline: its middle's place, half its length, its corners, mm."""

    middle: float
    half: float
    corners: tuple[float, ...]
    relief: float


def _footprint(
    tenon: Tenon, generators: tuple[FloatArray, ...], radius: float, *, socket: bool
) -> Footprint:
    """An outline with its keys and marks.

    socket : a rib's groove is wider than the rib, by its gap on each flank
    """
    discs = _discs(tenon)
    whole = outline_length(*discs, 0.0)
    ribs, marks = _features(tenon, discs, socket=socket)
    plain, starts = _plain_places(tenon, generators)
    first = ribs[0].middle + whole / 2.0 if ribs else 0.0
    apart = min(_APART, _APART_SHARE * whole / len(plain))
    every = _with_features(plain, [*ribs, *marks], whole, apart)
    places = np.sort(np.mod(every - first, whole)) + first
    points, normals = outline_points(*discs, 0.0, places)
    relief = np.zeros(len(places))
    for rib in ribs:
        top = np.abs(_apart(places, rib.middle, whole)) <= rib.half - FLANK_LEAN + 1e-9
        relief[top] = rib.relief
    return Footprint(
        places=places,
        bases=points - tenon.tenon_radius * normals,
        normals=normals,
        swells=_swells_along(tenon, points, normals),
        u=radius + relief,
        bounds=_nearest(places, starts, whole),
        marks=tuple(
            tuple(_nearest(places, mark.middle + np.array(mark.corners), whole).tolist())
            for mark in marks
        ),
    )


def _features(
    tenon: Tenon, discs: tuple[FloatArray, FloatArray], *, socket: bool
) -> tuple[list[_Feature], list[_Feature]]:
    """Keys and marks of an outline."""
    ribs, marks = [], []
    for key in tenon.keys:
        half = (key.half_width + socket * key.side_gap) * tenon.tenon_radius
        top = half - FLANK_LEAN
        middle = outline_place(*discs, 0.0, key.angle)
        ribs.append(_Feature(middle, half, (-half, -top, top, half), key.relief))
    for mark in tenon.marks:
        half = mark.half_width * tenon.tenon_radius
        middle = outline_place(*discs, 0.0, mark.angle)
        marks.append(_Feature(middle, half, (-half, half), 0.0))
    return ribs, marks


def _apart(places: FloatArray, other: float | FloatArray, whole: float) -> FloatArray:
    """How far places lie past another along a closed outline, mm, the short way."""
    apart: FloatArray = np.mod(places - other + whole / 2.0, whole) - whole / 2.0
    return apart


def _nearest(places: FloatArray, wanted: FloatArray, whole: float) -> IntArray:
    """The corners nearest to places along the outline."""
    off = np.abs(_apart(places[None], wanted[:, None], whole))
    nearest: IntArray = off.argmin(axis=1)
    return nearest


def _with_features(
    plain: FloatArray, features: list[_Feature], whole: float, least: float
) -> FloatArray:
    """Places of corners with those of keys and marks among them, and none on their flanks."""
    kept = np.ones(len(plain), bool)
    corners = []
    for feature in features:
        past = _apart(plain, feature.middle, whole)
        kept &= _clear_of(past, feature, least)
        corners.append(feature.middle + np.array(feature.corners))
    return np.concatenate([plain[kept], *corners])


def _clear_of(past: FloatArray, feature: _Feature, least: float) -> BoolArray:
    """(n,) whether corners, so far past a feature's middle, are clear of its own corners."""
    own = np.array(feature.corners)
    apart = np.abs(past[:, None] - own[None]).min(axis=1)
    inside = np.abs(past)
    on_flank = (inside < own[-1]) & (inside > own[-2] if len(own) > 2 else False)
    clear: BoolArray = (apart > least) & ~on_flank
    return clear


def _swells_along(tenon: Tenon, points: FloatArray, normals: FloatArray) -> FloatArray:
    """By how much the disc whose arc a point lies on is wider than the first."""
    centres, radii = _discs(tenon)
    off = points[:, None] - centres[None] - radii[:, None] * normals[:, None]
    swells: FloatArray = np.array(tenon.swells)[np.linalg.norm(off, axis=2).argmin(axis=1)]
    return swells


def _plain_places(
    tenon: Tenon, generators: tuple[FloatArray, ...]
) -> tuple[FloatArray, FloatArray]:
    """Places of all corners but of keys and marks along the outline, and its parts' starts.

    Corners lie on generators, at both ends of arcs, and between where the chord error asks
    for it.
    """
    centres, radii = _discs(tenon)
    wide = tenon.socket_radius - tenon.tenon_radius
    if len(centres) == 1:
        of_bore = generators[0] if generators else np.empty(0)
        angles = _divided(of_bore, strip_count(radii[0] + wide))
        return np.mod(angles, 2.0 * math.pi) * radii[0], np.zeros(1)
    points, normals = hull_outline(centres, radii, 0.0, math.inf)
    firsts = np.arctan2(normals[:, 1], normals[:, 0])
    flank = float(np.linalg.norm(points[2] - points[1]))
    places, start = [], 0.0
    starts = []
    for disc, first, last in ((1, firsts[0], firsts[1]), (0, firsts[2], firsts[3])):
        span = float(np.mod(last - first, 2.0 * math.pi))
        angles = _arc_angles(generators[disc], first, span, radii[disc], wide)
        places.append(start + angles * radii[disc])
        starts += [start, start + span * radii[disc]]
        start = starts[-1] + flank
    return np.concatenate(places), np.array(starts)


def _arc_angles(
    generators: FloatArray, first: float, span: float, radius: float, wide: float
) -> FloatArray:
    """Angles from an arc's start to its end: both, the generators between, and what they need."""
    inside = np.sort(np.mod(generators - first, 2.0 * math.pi))
    clear = _APART / radius
    marks = np.concatenate([[0.0], inside[(inside > clear) & (inside < span - clear)], [span]])
    count = strip_count(radius + wide)
    parts = np.maximum(np.ceil(np.diff(marks) * count / (2.0 * math.pi) - 1e-6), 1.0)
    return np.append(_spread(marks, parts.astype(np.int64)), span)


def _divided(generators: FloatArray, count: int) -> FloatArray:
    """All generators, and more between them where a circle of `count` strips asks for it."""
    if not len(generators):
        regular: FloatArray = -math.pi + (np.arange(count) + 0.5) * 2.0 * math.pi / count
        return regular
    marks = np.append(generators, generators[0] + 2.0 * math.pi)
    parts = np.maximum(np.ceil(np.diff(marks) * count / (2.0 * math.pi) - 1e-6), 1.0)
    return _spread(marks, parts.astype(np.int64))


def _spread(marks: FloatArray, parts: IntArray) -> FloatArray:
    """The marks, the last left out, with each step between them divided into parts."""
    number = np.repeat(np.arange(len(parts)), parts)
    step = np.arange(len(number)) - np.repeat(np.cumsum(parts) - parts, parts)
    spread: FloatArray = marks[number] + step * (np.diff(marks) / parts)[number]
    return spread


def _circumscribed(plain: Footprint) -> FloatArray:
    """Each corner's u, such that edges between corners of one circle touch it."""
    normals, ahead = plain.normals, np.roll(plain.normals, -1, axis=0)
    turns = np.arctan2(
        normals[:, 0] * ahead[:, 1] - normals[:, 1] * ahead[:, 0], (normals * ahead).sum(axis=1)
    )
    level = plain.u == np.roll(plain.u, -1)
    wide = np.where(level, turns, 0.0)
    widest = np.maximum(wide, np.roll(wide, 1))
    radii = plain.u + plain.swells
    grown: FloatArray = plain.u + radii * (1.0 / np.cos(widest / 2.0) - 1.0)
    return grown
