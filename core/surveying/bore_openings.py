"""Where something opens in a bore's wall: loops that do not run about its centre line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from ..meshes.borders import RegionLoop, region_loops, triangles_at
from ..meshes.mesh_checks import triangle_normals
from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    RoundSurface,
    read_only,
)
from .labelling import Regions

OUTSIDE_REGION, END_REGION, OTHER_REGION = -1, -2, -3
"""Regions that are no bore line; those are numbered from 0."""

ONE_LINE = 1e-6
"""Centre lines nearer to each other, mm, are one."""

_SURROUNDED = 0.9
_LEAST_WIDTH = 0.7
_MOST_OPENINGS = 100
_MOST_FACING = 0.7
"""A patch of noise in the wall faces the centre line; the wall of a hole does not."""


@dataclass(frozen=True, slots=True, eq=False)
class Terrain:
    """The part's triangles by what they are part of, all stretches of one bore being one.

    regions : (m,) int, number of the bore line, or one of the regions above
    lines : (x, y) mm of each bore line
    others : numbers of the triangles that are part of no surface
    near : numbers of triangles, ascending: all at the corners of those and all where regions end
    loops : along which the regions end
    """

    part: Mesh
    regions: IntArray
    lines: tuple[tuple[float, float], ...]
    others: IntArray
    near: IntArray
    loops: tuple[RegionLoop, ...]

    def __post_init__(self) -> None:
        read_only(self.regions)
        read_only(self.others)
        read_only(self.near)


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A closed rim in a bore's wall, all around something that is no part of the wall.

    line : which bore line
    """

    line: int
    loop: RegionLoop


def line_numbers(bores: tuple[RoundSurface, ...]) -> IntArray:
    """(k,) int, which line each bore is about, numbered as they come."""
    lines: list[tuple[float, float]] = []
    line_of = np.zeros(len(bores), np.int64)
    for k, bore in enumerate(bores):
        same = [j for j, line in enumerate(lines) if math.dist(line, bore.offset) < ONE_LINE]
        if not same:
            lines.append(bore.offset)
        line_of[k] = same[0] if same else len(lines) - 1
    return line_of


def survey_terrain(
    part: Mesh, seen: Regions, shared: BoolArray, bores: tuple[RoundSurface, ...]
) -> Terrain:
    """The part with the stretches of each bore joined, and the loops of its regions.

    Where two regions meet, either something of no stretch is beside, or the corners there lie
    near both stretches.

    seen, shared : as in `find_openings`
    """
    line_of = line_numbers(bores)
    lines = [bores[k].offset for k in np.unique(line_of, return_index=True)[1]]
    narrow: np.dtype[Any] = np.dtype(np.int32)
    kinds: IntArray = np.full(
        max(BORE, OUTSIDE, LOW_END, HIGH_END, OTHER) + 1, OTHER_REGION, narrow
    )
    kinds[[OUTSIDE, LOW_END, HIGH_END]] = OUTSIDE_REGION, END_REGION, END_REGION
    kinds[BORE] = 0
    regions = kinds[seen.labels]
    if len(lines) > 1:
        on_bore = np.flatnonzero(seen.labels == BORE)
        regions[on_bore] = line_of[seen.numbers[on_bore]]
    marked = shared.copy()
    of_none = np.flatnonzero((seen.labels != BORE) & (seen.labels != OUTSIDE))
    marked[part.triangles[of_none].ravel()] = True
    near = triangles_at(part.triangles, marked)
    loops = region_loops(part.triangles, regions, len(part.vertices), near)
    others = near[regions[near] == OTHER_REGION]
    return Terrain(part, regions, tuple(lines), others, near, tuple(loops))


def find_openings_of_bores(terrain: Terrain) -> list[Opening]:
    """Rims of all that leads out of a bore through its wall, or into it; the longest first.

    A surface rougher than its labels allow for is full of rims: of more than a hundred
    the shorter ones count as roughness.
    """
    loops = [
        loop
        for loop in terrain.loops
        if loop.region >= 0 and (loop.beyond == OTHER_REGION).mean() >= _SURROUNDED
    ]
    for test in (_are_wide, _lead_away):
        loops = [loop for loop, passes in zip(loops, test(terrain, loops), strict=True) if passes]
    openings = [
        Opening(loop.region, loop)
        for loop in loops
        if turns_about(terrain.part, loop.vertices, terrain.lines[loop.region]) == 0
    ]
    return sorted(openings, key=lambda opening: -len(opening.loop.vertices))[:_MOST_OPENINGS]


def turns_about(part: Mesh, vertices: IntArray, line: tuple[float, float]) -> int:
    """How often a closed chain of vertices runs about a line along the axis."""
    return winding(part.vertices[vertices, :2] - np.array(line))


def winding(points: FloatArray) -> int:
    """How often a closed chain of (n, 2) points runs around the origin."""
    return int(windings(points, [len(points)])[0])


def windings(points: FloatArray, counts: list[int]) -> IntArray:
    """How often each of several closed chains runs around the origin.

    Parameters
    ----------
    points : (n, 2), chain after chain
    counts : points of each, none of them 0
    """
    stops = np.cumsum(counts)
    starts = stops - counts
    following = np.arange(1, len(points) + 1)
    following[stops - 1] = starts
    turned = points[:, 0] + 1j * points[:, 1]
    steps = np.angle(turned[following] * np.conj(turned))
    turns: IntArray = np.rint(np.add.reduceat(steps, starts) / (2.0 * math.pi)).astype(int)
    return turns


def _are_wide(terrain: Terrain, loops: list[RegionLoop]) -> BoolArray:
    """Which loops are as wide as a hole that anybody makes."""
    if not loops:
        return np.zeros(0, bool)
    starts = np.cumsum([0, *(len(loop.vertices) for loop in loops[:-1])])
    points = terrain.part.vertices[np.concatenate([loop.vertices for loop in loops])]
    spans = np.maximum.reduceat(points, starts) - np.minimum.reduceat(points, starts)
    wide: BoolArray = np.linalg.norm(spans, axis=1) >= _LEAST_WIDTH
    return wide


def _lead_away(terrain: Terrain, loops: list[RegionLoop]) -> BoolArray:
    """Which loops have triangles beyond them that do not face the bore's centre line."""
    if not loops:
        return np.zeros(0, bool)
    count = [len(loop.vertices) for loop in loops]
    which = np.repeat(np.arange(len(loops)), count)
    corners = terrain.part.triangles[np.concatenate([loop.beyond_triangles for loop in loops])]
    normals, areas = triangle_normals(Mesh(terrain.part.vertices, corners))
    centres = terrain.part.vertices[corners][..., :2].mean(axis=1)
    arms = centres - np.array(terrain.lines)[np.repeat([loop.region for loop in loops], count)]
    facing = np.abs(np.einsum("ij,ij->i", arms, normals[:, :2])) / np.hypot(*arms.T)
    total = np.bincount(which, areas * facing, len(loops))
    leads_away: BoolArray = total < _MOST_FACING * np.bincount(which, areas, len(loops))
    return leads_away
