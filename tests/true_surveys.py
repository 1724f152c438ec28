"""Surveys of generated parts, labelled by the closed form of their true surfaces.

No code of the survey is asked: a triangle belongs to the surface that all corners of
all triangles of its owner lie on.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from borewright.core.values import (
    BORE,
    HIGH_END,
    HOLE,
    LOW_END,
    OTHER,
    OUTSIDE,
    Frame,
    HoleWall,
    Mesh,
    RoundSurface,
    SideHole,
    Survey,
    WallStretch,
)
from numpy.typing import NDArray

from tests.families.truth import Part, Stretch, Truth

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Miss = Callable[[FloatArray], FloatArray]

_ON = 1e-5


def round_surface(stretch: Stretch) -> RoundSurface:
    """The cylinder or cone of a stretch."""
    low, high = (diameter / 2.0 for diameter in stretch.diameters)
    slope = (high - low) / (stretch.stop - stretch.start)
    return RoundSurface(
        low - slope * stretch.start, slope, stretch.start, stretch.stop, stretch.offset
    )


def off_round(surface: RoundSurface, points: FloatArray) -> FloatArray:
    """(n,) mm, how far points lie outside a round surface, square to the axis."""
    x, y = surface.offset
    wanted: FloatArray = np.hypot(points[:, 0] - x, points[:, 1] - y) - surface.radii_at(
        points[:, 2]
    )
    return wanted


def off_wall(wall: HoleWall, points: FloatArray) -> FloatArray:
    """(n,) mm, how far points lie outside a hole's cylinder."""
    arms = points - np.array(wall.point)
    along = arms @ np.array(wall.direction)
    wanted: FloatArray = (
        np.linalg.norm(arms - along[:, None] * np.array(wall.direction), axis=1) - wall.radius
    )
    return wanted


def drilled(
    outside: float, station: float, angle_deg: float, diameter: float, lean_deg: float = 0.0
) -> HoleWall:
    """A hole whose centre line meets the axis, leaning along it, in an outside of a radius."""
    angle, lean = math.radians(angle_deg), math.radians(lean_deg)
    out = math.cos(angle), math.sin(angle)
    return HoleWall(
        (outside * out[0], outside * out[1], station),
        (math.cos(lean) * out[0], math.cos(lean) * out[1], math.sin(lean)),
        diameter / 2.0,
    )


def true_survey(part: Part, walls: Sequence[HoleWall] = (), found: Part | None = None) -> Survey:
    """The survey that a part ought to get.

    walls : of round side holes
    found : the same part as a scan has it; its vertices are taken, as an STL holds them
    """
    truth = part.truth
    bores = tuple(round_surface(stretch) for stretch in truth.bores)
    outsides = tuple(round_surface(stretch) for stretch in truth.outsides)
    labels, numbers = _labelled(part, bores, outsides, walls)
    bores, outsides = (
        tuple(
            replace(one, widest=widest_facet(part.vertices, part.triangles[chosen], one.offset))
            for number, one in enumerate(surfaces)
            for chosen in [(labels == label) & (numbers == number)]
        )
        for label, surfaces in ((BORE, bores), (OUTSIDE, outsides))
    )
    vertices = (found or part).vertices.astype(np.float32).astype(np.float64)
    return Survey(
        mesh=Mesh(vertices, part.triangles),
        labels=labels,
        numbers=numbers,
        frame=Frame(np.zeros(3), np.eye(3)),
        length=truth.length,
        bores=bores,
        outsides=outsides,
        walls=_walls(truth, bores, outsides),
        side_holes=tuple(_side_hole(wall) for wall in walls),
        ornaments=(),
        wall_least=truth.least_wall or 1.0,
        wall_median=truth.least_wall or 1.0,
    )


def widest_facet(vertices: FloatArray, triangles: IntArray, centre: tuple[float, float]) -> float:
    """Radians about a centre line along z, that the widest of some triangles spans."""
    arms = vertices[triangles][..., :2] - np.array(centre)
    angles = np.arctan2(arms[..., 1], arms[..., 0])
    turns = np.abs(angles - np.roll(angles, 1, axis=1))
    return float(np.minimum(turns, 2.0 * math.pi - turns).max(initial=0.0))


def _labelled(
    part: Part,
    bores: Sequence[RoundSurface],
    outsides: Sequence[RoundSurface],
    walls: Sequence[HoleWall],
) -> tuple[IntArray, IntArray]:
    kinds: list[tuple[int, int, Miss, tuple[float, float]]] = [
        (LOW_END, 0, lambda points: points[:, 2], (0.0, 0.0)),
        (HIGH_END, 0, lambda points: points[:, 2] - part.truth.length, (part.truth.length,) * 2),
    ]
    for label, surfaces in ((BORE, bores), (OUTSIDE, outsides)):
        for number, surface in enumerate(surfaces):
            miss = _miss(off_round, surface)
            kinds.append((label, number, miss, (surface.start, surface.stop)))
    for number, wall in enumerate(walls):
        kinds.append((HOLE, number, _miss(off_wall, wall), (0.0, part.truth.length)))
    labels = np.full(len(part.triangles), OTHER)
    numbers = np.zeros(len(part.triangles), np.int64)
    for owner in np.unique(part.owner):
        own = part.owner == owner
        corners = part.vertices[np.unique(part.triangles[own])]
        for label, number, miss, (start, stop) in kinds:
            within = corners[:, 2].min() > start - _ON and corners[:, 2].max() < stop + _ON
            if within and np.abs(miss(corners)).max() < _ON:
                labels[own], numbers[own] = label, number
    return labels, numbers


def _miss(measure: Callable[..., FloatArray], surface: RoundSurface | HoleWall) -> Miss:
    return lambda points: measure(surface, points)


def _walls(
    truth: Truth, bores: Sequence[RoundSurface], outsides: Sequence[RoundSurface]
) -> tuple[WallStretch, ...]:
    """Each bore with each outside along it; without any, a ring of 1 mm about each bore."""
    made = []
    for number, bore in enumerate(bores):
        ring = RoundSurface(
            bore.radius_at_zero + 1.0, bore.slope, bore.start, bore.stop, bore.offset
        )
        for outer in outsides or (ring,):
            start, stop = max(bore.start, outer.start), min(bore.stop, outer.stop)
            if start < stop:
                made.append(WallStretch((number,), bore, outer, start, stop))
    assert made, truth
    return tuple(made)


def _side_hole(wall: HoleWall) -> SideHole:
    station, width = wall.point[2], 2.0 * wall.radius
    angle = math.atan2(wall.point[1], wall.point[0])
    return SideHole(
        station, angle, width, width, station - wall.radius, station + wall.radius, 0, wall
    )
