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
from ..values import FloatArray, IntArray, Joint, read_only
from .hull import hull_outline, outline_length, outline_place, outline_points
from .joint_design import FLANK_LEAN

_APART = 0.15
"""Least distance, mm along the outline, from a key's corner to any other corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """An outline as corners, counter-clockwise.

    places : (n,) mm along the tenon's outline from the key's middle, ascending
    bases, normals : (n, 2) a corner at u lies at base + u * normal
    swells : (n,) mm, by which the arc that a corner lies on is wider than its u
    u : (n,) of this outline's corners
    closed : it runs once around; else it is an arc that ends at a notch's flanks
    bounds : where arcs and flanks of a hull of two discs begin: corners' numbers, of the
        second disc's arc, the left flank, the first disc's arc, the right flank; of one disc 0
    """

    places: FloatArray
    bases: FloatArray
    normals: FloatArray
    swells: FloatArray
    u: FloatArray
    closed: bool
    bounds: IntArray

    def __post_init__(self) -> None:
        assert (np.diff(self.places) > 0.0).all()
        for array in (self.places, self.bases, self.normals, self.swells, self.u, self.bounds):
            read_only(array)

    def points(self, u: FloatArray, stations: FloatArray) -> FloatArray:
        """(n, 3) points on the corners' normals, at other u and at stations."""
        return np.column_stack([self.bases + u[:, None] * self.normals, stations])

    def chain(self, part: int) -> IntArray:
        """Corners of an arc or a flank, first and last included; see `bounds`."""
        first, last = int(self.bounds[part]), int(self.bounds[(part + 1) % len(self.bounds)])
        steps = (last - first) % len(self.places)
        return (first + np.arange(steps + 1)) % len(self.places)

    def angle(self, corner: int) -> float:
        """Direction of a corner's normal."""
        return math.atan2(self.normals[corner, 1], self.normals[corner, 0])


def tenon_footprint(joint: Joint, generators: tuple[FloatArray, ...]) -> Footprint:
    """The tenon's outline: corners on its circles, so that facets lie inside them.

    Parameters
    ----------
    generators : of each of the joint's bores, so that roof and bore share their facets
    """
    return _footprint(joint, generators, joint.tenon_radius, 0.0)


def socket_footprint(joint: Joint, generators: tuple[FloatArray, ...]) -> Footprint:
    """The socket's outline: facets touch its circles, so that the least gap is the clearance."""
    plain = _footprint(joint, generators, joint.socket_radius, joint.key.side_gap)
    return Footprint(
        plain.places,
        plain.bases,
        plain.normals,
        plain.swells,
        _circumscribed(plain),
        plain.closed,
        plain.bounds,
    )


def _discs(joint: Joint) -> tuple[FloatArray, FloatArray]:
    """Centres of the tenon's discs and their radii."""
    return np.array(joint.centres), joint.tenon_radius + np.array(joint.swells)


def _footprint(
    joint: Joint, generators: tuple[FloatArray, ...], radius: float, gap: float
) -> Footprint:
    """An outline with its key.

    gap : radians by which a rib's groove is wider than the rib, on each flank;
        a lug is narrower than its notch by as much
    """
    discs = _discs(joint)
    whole = outline_length(*discs, 0.0)
    key = joint.key
    middle = outline_place(*discs, 0.0, key.angle)
    plain, starts = _plain_places(joint, generators)
    plain = np.mod(plain - middle, whole)
    if key.kind == "notch":
        half = (key.half_width - gap) * joint.tenon_radius
        inner = plain[(plain > half + _APART) & (plain < whole - half - _APART)]
        places = np.concatenate([[half], np.sort(inner), [whole - half]])
        relief = np.zeros(len(places))
    else:
        half = (key.half_width + gap) * joint.tenon_radius
        places = _with_rib(np.where(plain > whole / 2.0, plain - whole, plain), half)
        relief = np.where(np.abs(places) <= half - FLANK_LEAN + 1e-9, key.relief, 0.0)
    points, normals = outline_points(*discs, 0.0, places + middle)
    turns = np.abs(np.mod(places[None] - (starts - middle)[:, None] + whole / 2.0, whole))
    return Footprint(
        places=places,
        bases=points - joint.tenon_radius * normals,
        normals=normals,
        swells=_swells_along(joint, points, normals),
        u=radius + relief,
        closed=key.kind == "rib",
        bounds=np.abs(turns - whole / 2.0).argmin(axis=1),
    )


def _with_rib(plain: FloatArray, half: float) -> FloatArray:
    """Places of corners with those of a rib among them: two on each leaning flank."""
    corners = np.array([-half, -half + FLANK_LEAN, half - FLANK_LEAN, half])
    distance = np.abs(plain[:, None] - corners[None]).min(axis=1)
    on_flank = (np.abs(plain) < half) & (np.abs(plain) > half - FLANK_LEAN)
    return np.sort(np.concatenate([plain[(distance > _APART) & ~on_flank], corners]))


def _swells_along(joint: Joint, points: FloatArray, normals: FloatArray) -> FloatArray:
    """By how much the disc whose arc a point lies on is wider than the first."""
    centres, radii = _discs(joint)
    off = points[:, None] - centres[None] - radii[:, None] * normals[:, None]
    swells: FloatArray = np.array(joint.swells)[np.linalg.norm(off, axis=2).argmin(axis=1)]
    return swells


def _plain_places(
    joint: Joint, generators: tuple[FloatArray, ...]
) -> tuple[FloatArray, FloatArray]:
    """Places of all corners but the key's along the tenon's outline, and its parts' starts.

    Corners lie on generators, at both ends of arcs, and between where the chord error asks
    for it.
    """
    centres, radii = _discs(joint)
    points, normals = hull_outline(centres, radii, 0.0, math.inf)
    firsts = np.arctan2(normals[:, 1], normals[:, 0])
    wide = joint.socket_radius - joint.tenon_radius
    if len(centres) == 1:
        angles = _divided(generators[0], strip_count(radii[0] + wide))
        return np.mod(angles, 2.0 * math.pi) * radii[0], np.zeros(1)
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
    if not plain.closed:
        level[-1] = False
    wide = np.where(level, turns, 0.0)
    widest = np.maximum(wide, np.roll(wide, 1))
    radii = plain.u + plain.swells
    grown: FloatArray = plain.u + radii * (1.0 / np.cos(widest / 2.0) - 1.0)
    return grown
