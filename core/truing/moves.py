"""How far truing moves the source's vertices, and how deep the chords are that it fills."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import (
    BoolArray,
    FloatArray,
    HoleWall,
    IntArray,
    Mesh,
    RoundSurface,
)
from .lines import short_way
from .rims import across_and_along

_SHOWN_BEND = math.radians(1.0)
_SLIVER = 0.005
"""A triangle lower than this, mm, may face any way by rounding."""

_FULL_TURN = 2.0**32


@dataclass(frozen=True, slots=True)
class Moves:
    """What making a surface exact comes to.

    greatest : mm, farthest that a vertex is moved, chord error apart
    chord : mm, deepest chord that is filled: of the widest facet, or, where that is
        more than any move, of a vertex within a flat facet
    """

    greatest: float
    chord: float


def level_moves(mesh: Mesh, members: IntArray, station: float) -> float:
    """Farthest, mm, that vertices lie off a level plane."""
    return float(np.abs(mesh.vertices[members, 2] - station).max(initial=0.0))


def round_moves(
    mesh: Mesh, triangles: IntArray, members: IntArray, surface: RoundSurface | HoleWall
) -> Moves:
    """Moves of the vertices of one round surface onto it.

    A vertex within a flat facet lies on a chord: its way out to the circle is chord
    error, not a move. A vertex at which the surface bends lies on the circle itself.

    Parameters
    ----------
    triangles : (k,) those of the surface
    members : (v,) its vertices
    """
    across, excess = _seen_along(surface, mesh.vertices[members])
    greatest = float(excess.max(initial=0.0))
    inward = np.flatnonzero(-excess > greatest)
    corners = mesh.triangles.take(triangles, axis=0)
    chord = _deepest_chord(len(mesh.vertices), corners, members, across, surface)
    if not len(inward):
        return Moves(greatest, chord)
    bends = _bends_at(mesh, corners, members[inward], surface)
    moved = -float(excess[inward[bends]].min(initial=0.0))
    filled = -float(excess[inward[~bends]].min(initial=0.0))
    return Moves(max(greatest, moved), max(chord, filled))


def _seen_along(
    surface: RoundSurface | HoleWall, points: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """(n, 2) mm from the centre line, seen along it, and (n,) how far outside the surface."""
    if isinstance(surface, HoleWall):
        across = across_and_along(points, surface)[0]
        radii: FloatArray | float = surface.radius
    else:
        across = points[:, :2] - np.array(surface.offset)
        radii = surface.radii_at(points[:, 2])
    x, y = across[:, 0], across[:, 1]
    return across, np.sqrt(x * x + y * y) - radii


def _deepest_chord(
    count: int,
    corners: IntArray,
    members: IntArray,
    across: FloatArray,
    surface: RoundSurface | HoleWall,
) -> float:
    """Chord error, mm, of the facet that spans most of a turn.

    Angles are whole numbers of which 2^32 make a turn, so that differences wrap.
    """
    if not len(corners):
        return 0.0
    angles = np.zeros(count, np.int32)
    turned = np.arctan2(across[:, 1], across[:, 0]) * (0.5 * _FULL_TURN / math.pi)
    angles[members] = np.floor(turned).astype(np.int64).astype(np.int32)
    a, b, c = (angles[corners[:, k]] for k in range(3))
    with np.errstate(over="ignore"):
        widest = max(int(max(-int(way.min()), int(way.max()))) for way in (b - a, c - b, a - c))
    if isinstance(surface, HoleWall):
        radius = surface.radius
    else:
        radius = max(surface.radius_at(surface.start), surface.radius_at(surface.stop))
    return radius * (1.0 - math.cos(math.pi * widest / _FULL_TURN))


def _bends_at(
    mesh: Mesh, corners: IntArray, asked: IntArray, surface: RoundSurface | HoleWall
) -> BoolArray:
    """(k,) whether the surface's triangles about each vertex asked for face several ways."""
    place = np.full(len(mesh.vertices), -1)
    place[asked] = np.arange(len(asked))
    near = corners[(place[corners] >= 0).any(axis=1)]
    a, b, c = (mesh.vertices[near[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    longest = np.maximum.reduce([((q - p) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))])
    told = np.linalg.norm(cross, axis=1) > _SLIVER * np.sqrt(longest)
    near, cross = near[told], cross[told]
    if isinstance(surface, HoleWall):
        facing = across_and_along(cross + np.array(surface.point), surface)[0]
    else:
        facing = cross[:, :2]
    ways = np.arctan2(facing[:, 1], facing[:, 0])
    at = place[near].ravel()
    ways, at = ways.repeat(3)[at >= 0], at[at >= 0]
    first, least, most = np.zeros((3, len(asked)))
    first[at] = ways
    turn = short_way(ways - first[at])
    np.minimum.at(least, at, turn)
    np.maximum.at(most, at, turn)
    bends: BoolArray = most - least > _SHOWN_BEND
    return bends
