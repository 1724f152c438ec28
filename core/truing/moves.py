"""How far truing moves the source's vertices, and how deep the chords are that it fills."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from ..meshes.angles import plane_lengths, short_way
from ..meshes.in_blocks import in_blocks
from ..values import (
    BoolArray,
    FloatArray,
    HoleWall,
    IntArray,
    Mesh,
    RoundSurface,
)
from .rims import across_and_along
from .source import Source
from .targets import Flat, Target

_SHOWN_BEND = math.radians(1.0)
_ASTRAY = math.radians(30.0)
_SLIVER = 0.005
"""A triangle lower than this, mm, may face any way by rounding."""

_ROUNDED = 1e-5
"""Nearer than this to a surface, mm, float32 alone keeps a vertex off it."""


@dataclass(frozen=True, slots=True)
class Moves:
    """What making a surface exact comes to.

    greatest : mm, farthest that a vertex is moved, chord error apart
    chord : mm, deepest chord that is filled: of the widest facet, or, where that is
        more than any move, of a vertex within a flat facet
    """

    greatest: float
    chord: float


def greatest_moves(source: Source, flats: tuple[Flat, ...]) -> Moves:
    """What making all flats and round surfaces exact comes to, side holes' walls apart."""
    targets = list(source.targets.values())
    members = iter(source.members([*(f.region for f in flats), *(t.region for t in targets)]))
    level = [_level_moves(source.mesh, next(members), flat.station) for flat in flats]
    moves = [_target_moves(source, target, next(members)) for target in targets]
    chords = [_deepest_chord(target.surface) for target in targets]
    return Moves(
        max([0.0, *level, *(found.greatest for found in moves)]),
        max([0.0, *(found.chord for found in moves), *chords]),
    )


def wall_move(mesh: Mesh, triangles: IntArray, wall: HoleWall) -> float:
    """Farthest, mm, that vertices of a hole's wall are moved onto its cylinder, chords apart."""
    members = np.unique(mesh.triangles[triangles])
    x, y = _seen_along(wall, mesh.vertices[members])
    excess = plane_lengths(x, y) - wall.radius
    greatest = float(excess.max(initial=0.0))
    inward = _beyond_rounding(excess)
    return _with_inward(
        mesh, lambda: triangles, members[inward], excess[inward], wall, greatest
    ).greatest


def _level_moves(mesh: Mesh, members: IntArray, station: float) -> float:
    """Farthest, mm, that vertices lie off a level plane."""
    return float(np.abs(mesh.vertices[members, 2] - station).max(initial=0.0))


def _target_moves(source: Source, target: Target, members: IntArray) -> Moves:
    """Moves of the vertices of one round surface onto it, and the chords that they lie on."""
    seen = in_blocks(partial(_seen, source.mesh, target.surface, members), len(members))
    if not seen:
        return Moves(0.0, 0.0)
    outward, inward, excess = zip(*seen, strict=True)
    return _with_inward(
        source.mesh,
        partial(source.triangles_of, target.region),
        np.concatenate(inward),
        np.concatenate(excess),
        target.surface,
        max(outward),
    )


def _seen(
    mesh: Mesh, surface: RoundSurface, members: IntArray, block: slice
) -> tuple[float, IntArray, FloatArray]:
    """How far, mm, any of some vertices lies outside their surface; those inside, and how far."""
    some = members[block]
    points = mesh.vertices.take(some, axis=0)
    x, y = _seen_along(surface, points)
    excess = plane_lengths(x, y) - surface.radii_at(points[:, 2])
    inward = _beyond_rounding(excess)
    return float(excess.max(initial=0.0)), some[inward], excess[inward]


def _beyond_rounding(excess: FloatArray) -> IntArray:
    """(k,) places of the vertices that lie farther inside their surface than float32 rounds."""
    return np.flatnonzero(excess < -_ROUNDED)


def _with_inward(
    mesh: Mesh,
    triangles: Callable[[], IntArray],
    inward: IntArray,
    excess: FloatArray,
    surface: RoundSurface | HoleWall,
    greatest: float,
) -> Moves:
    """The moves of one surface, with those of vertices that lie inside it.

    A vertex within a flat facet lies on a chord: its way out to the circle is chord
    error, not a move. A vertex at which the surface bends lies on the circle itself.

    Parameters
    ----------
    triangles : gives (k,) those of the surface, where they are needed
    inward, excess : (v,) the vertices, and how far outside it each lies, mm
    greatest : mm, that those outside it are moved; what moves less need not be told apart
    """
    deep = excess < -greatest
    inward, excess = inward[deep], excess[deep]
    if not len(inward):
        return Moves(greatest, 0.0)
    bends = _bends_at(mesh, triangles(), inward, surface)
    moved = -float(excess[bends].min(initial=0.0))
    filled = -float(excess[~bends].min(initial=0.0))
    return Moves(max(greatest, moved), filled)


def _deepest_chord(surface: RoundSurface) -> float:
    """Chord error, mm, of the facet of a round surface that spans most of a turn."""
    return _greatest_radius(surface) * (1.0 - math.cos(surface.widest / 2.0))


def _greatest_radius(surface: RoundSurface) -> float:
    return max(surface.radius_at(surface.start), surface.radius_at(surface.stop))


def _bends_at(
    mesh: Mesh, triangles: IntArray, asked: IntArray, surface: RoundSurface | HoleWall
) -> BoolArray:
    """(k,) whether the surface's triangles about each vertex asked for face several ways.

    One that faces far from the surface's own way is a sliver that only passes for it.
    """
    is_asked = np.zeros(len(mesh.vertices), bool)
    is_asked[asked] = True
    near = np.zeros(len(triangles), bool)
    for k in range(3):
        near |= is_asked[mesh.triangles[:, k][triangles]]
    corners = mesh.triangles[triangles[near]]
    normals, told = _normals(mesh, corners)
    facing = (
        across_and_along(normals + np.array(surface.point), surface)[0]
        if isinstance(surface, HoleWall)
        else normals[:, :2]
    )
    ways = np.arctan2(facing[:, 1], facing[:, 0])[told].repeat(3)
    vertex, corner = np.unique(corners[told], return_inverse=True)
    corner = corner.reshape(-1)
    x, y = _seen_along(surface, mesh.vertices[vertex])
    turn = short_way(ways - np.arctan2(y, x)[corner])
    turn -= math.pi * np.round(turn / math.pi)
    radial = np.abs(turn) < _ASTRAY
    least, most = np.full((2, len(vertex)), [[math.pi], [-math.pi]])
    np.minimum.at(least, corner[radial], turn[radial])
    np.maximum.at(most, corner[radial], turn[radial])
    bending = np.zeros(len(mesh.vertices), bool)
    bending[vertex] = most - least > _SHOWN_BEND
    bends: BoolArray = bending[asked]
    return bends


def _seen_along(
    surface: RoundSurface | HoleWall, points: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Along x and y, mm, from the centre line seen along it."""
    if isinstance(surface, HoleWall):
        x, y = across_and_along(points, surface)[0].T
        return x, y
    return points[:, 0] - surface.offset[0], points[:, 1] - surface.offset[1]


def _normals(mesh: Mesh, corners: IntArray) -> tuple[FloatArray, BoolArray]:
    """(k, 3) normals, of any length, and whether a triangle is high enough to have one."""
    a, b, c = (mesh.vertices[corners[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    sides = [((q - p) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))]
    told: BoolArray = (cross**2).sum(axis=1) > _SLIVER**2 * np.maximum.reduce(sides)
    return cross, told
