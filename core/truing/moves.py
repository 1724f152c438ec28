"""How far truing moves the source's vertices, and how deep the chords are that it fills."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.angles import plane_lengths, short_way
from ..values import (
    BoolArray,
    FloatArray,
    HoleWall,
    IntArray,
    Mesh,
    RoundSurface,
)
from .rims import across_and_along

_SHOWN_BEND = math.radians(1.0)
_ASTRAY = math.radians(30.0)
_SLIVER = 0.005
"""A triangle lower than this, mm, may face any way by rounding."""

_AT_ONCE = 1 << 16
_AT_CENTRE = 1e-12
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
    x, y, excess = _seen_along(surface, mesh.vertices, members)
    greatest = float(excess.max(initial=0.0))
    chord = _deepest_chord(mesh, triangles, members, x, y, _greatest_radius(surface))
    inward = np.flatnonzero(-excess > max(greatest, _ROUNDED))
    if not len(inward):
        return Moves(greatest, chord)
    bends = _bends_at(mesh, triangles, members[inward], surface)
    moved = -float(excess[inward[bends]].min(initial=0.0))
    filled = -float(excess[inward[~bends]].min(initial=0.0))
    return Moves(max(greatest, moved), max(chord, filled))


def _seen_along(
    surface: RoundSurface | HoleWall, vertices: FloatArray, members: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Along x and y, mm, from the centre line seen along it; and how far outside the surface."""
    if isinstance(surface, HoleWall):
        x, y = across_and_along(vertices[members], surface)[0].T
        return x, y, plane_lengths(x, y) - surface.radius
    x = vertices[members, 0] - surface.offset[0]
    y = vertices[members, 1] - surface.offset[1]
    excess = plane_lengths(x, y)
    excess -= surface.radii_at(vertices[members, 2]) if surface.slope else surface.radius_at_zero
    return x, y, excess


def _greatest_radius(surface: RoundSurface | HoleWall) -> float:
    if isinstance(surface, HoleWall):
        return surface.radius
    return max(surface.radius_at(surface.start), surface.radius_at(surface.stop))


def _deepest_chord(
    mesh: Mesh, triangles: IntArray, members: IntArray, x: FloatArray, y: FloatArray, radius: float
) -> float:
    """Chord error, mm, of the facet that spans most of a turn.

    Parameters
    ----------
    x, y : (v,) mm, of the members, seen along the centre line
    """
    out = plane_lengths(x, y)
    ways = np.zeros((2, len(mesh.vertices)))  # on a circle of radius 1
    for way, part in zip(ways, (x, y), strict=True):
        way[members] = part / np.maximum(out, _AT_CENTRE)
    widest = 0.0
    for start in range(0, len(triangles), _AT_ONCE):
        corners = mesh.triangles[triangles[start : start + _AT_ONCE]].T
        across, up = ([way[corner] for corner in corners] for way in ways)
        for k in range(3):
            chord = (across[k] - across[k - 1]) ** 2 + (up[k] - up[k - 1]) ** 2
            widest = max(widest, float(chord.max()))
    half = min(widest / 4.0, 1.0)
    return radius * half / (1.0 + math.sqrt(1.0 - half))  # r (1 - cos w/2), sin2 w/2 being half


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
    x, y, _ = _seen_along(surface, mesh.vertices, vertex)
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


def _normals(mesh: Mesh, corners: IntArray) -> tuple[FloatArray, BoolArray]:
    """(k, 3) normals, of any length, and whether a triangle is high enough to have one."""
    a, b, c = (mesh.vertices[corners[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    sides = [((q - p) ** 2).sum(axis=1) for p, q in ((a, b), (b, c), (c, a))]
    told: BoolArray = (cross**2).sum(axis=1) > _SLIVER**2 * np.maximum.reduce(sides)
    return cross, told
