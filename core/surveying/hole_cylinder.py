"""The cylinder or cone that a side hole's wall follows, if it follows one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import DegeneratePoints
from ..meshes.angles import short_way
from ..meshes.borders import inner_edges
from ..meshes.mesh_checks import triangle_normals
from ..meshes.products import heights_along, row_lengths
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .cylinder_fit import ConeFit, fit_cone, frame_rows
from .hole_passages import Passage

_GATES = (4.0, 2.0, 1.0)
_LEAST_POINTS = 8
_SAGITTA_THAT_SHOWS = 0.001
_WIDEST_FACET, _WIDEST_SHORT_FACET = math.radians(33.0), math.radians(75.0)
_SHORT_FACET = 3.0
"""Flats that span more of the circle are meant as flats, unless they are short, mm."""

_FOLLOWS = 0.8
_TREND, _TREND_OVER_ERROR = 0.01, 4.0
"""A departure from the round, mm, that counts, and how far above its error it must be."""


@dataclass(frozen=True, slots=True, eq=False)
class WallFacets:
    """A hole's wall by itself.

    points : (n, 3) its vertices
    faces : (t, 3) its triangles, by those
    areas : (t,) mm2
    bending : those of the vertices at which it bends about the hole's line: the others
        lie on chords
    """

    points: FloatArray
    faces: IntArray
    areas: FloatArray
    bending: FloatArray

    def __post_init__(self) -> None:
        for array in (self.points, self.faces, self.areas, self.bending):
            read_only(array)


@dataclass(frozen=True, slots=True, eq=False)
class RoundWall:
    """A cylinder or cone, and which triangles (t,) of the wall lie on it."""

    cone: ConeFit
    on_it: BoolArray

    def __post_init__(self) -> None:
        read_only(self.on_it)


def wall_facets(part: Mesh, passage: Passage) -> WallFacets:
    """The wall of a passage."""
    triangles = part.triangles[passage.triangles]
    corners, faces = np.unique(triangles, return_inverse=True)
    points, faces = part.vertices[corners], faces.reshape(-1, 3)
    normals, areas = triangle_normals(Mesh(points, faces))
    bending = points[_bending(points, faces, normals, passage)]
    return WallFacets(points, faces, areas, bending if len(bending) >= _LEAST_POINTS else points)


def _bending(
    points: FloatArray, faces: IntArray, normals: FloatArray, passage: Passage
) -> IntArray:
    arms = points - passage.point
    arms = arms - heights_along(arms, passage.direction)[:, None] * passage.direction
    reach = float(row_lengths(arms).max())
    least = 2.0 * math.acos(max(0.0, 1.0 - _SAGITTA_THAT_SHOWS / reach))
    lateral = normals - heights_along(normals, passage.direction)[:, None] * passage.direction
    lateral /= np.maximum(row_lengths(lateral), 1e-12)[:, None]
    first, second = inner_edges(faces)
    cosines = np.einsum("ij,ij->i", lateral[first // 3], lateral[second // 3])
    bends = np.concatenate([edges[cosines < math.cos(least)] for edges in (first, second)])
    marked = np.zeros(len(points), bool)
    marked[faces.ravel()[bends]] = True
    return np.flatnonzero(marked)


def fit_round(
    wall: WallFacets, direction: FloatArray, band: float, *, slope_free: bool
) -> RoundWall | None:
    """The cylinder (or cone) through a wall; None where too little of it lies within the band.

    What lies off it is left out step by step.
    """
    try:
        cone = fit_cone(wall.bending, direction, slope_free=slope_free)
        used = np.ones(len(wall.bending), bool)
        for widths in _GATES:
            misses = np.abs(_distances(cone, wall.bending))
            near = misses <= max(widths * band, min(widths, 2.0) * float(np.median(misses)))
            if near.sum() < _LEAST_POINTS:
                return None
            if not np.array_equal(near, used):
                points = wall.bending[near]
                cone = fit_cone(points, cone.direction, start=cone, slope_free=slope_free)
                used = near
    except (DegeneratePoints, np.linalg.LinAlgError):
        return None
    on_it = _lie_on(wall, cone, band)
    enough = float(wall.areas[on_it].sum()) >= _FOLLOWS * float(wall.areas.sum())
    return RoundWall(cone, on_it) if enough else None


def _distances(cone: ConeFit, points: FloatArray) -> FloatArray:
    arms = points - cone.point
    heights = heights_along(arms, cone.direction)
    arms = arms - heights[:, None] * cone.direction
    reach = row_lengths(arms)
    distances: FloatArray = (reach - cone.radius_at_point - cone.slope * heights) / math.hypot(
        1.0, cone.slope
    )
    return distances


def _lie_on(wall: WallFacets, cone: ConeFit, band: float) -> BoolArray:
    """Triangles with all corners within the band, or inside by no more than their chord."""
    local = (wall.points - cone.point) @ frame_rows(cone.direction)[:2].T
    angles = np.arctan2(local[:, 1], local[:, 0])[wall.faces.T]
    turns = np.abs(short_way(angles - angles[[2, 0, 1]])).max(axis=0)
    misses = _distances(cone, wall.points)[wall.faces.T]
    chord = cone.radius_at_point * (1.0 - np.cos(turns / 2.0))
    is_short = 2.0 * cone.radius_at_point * np.sin(turns / 2.0) <= _SHORT_FACET
    is_facet = turns <= np.where(is_short, _WIDEST_SHORT_FACET, _WIDEST_FACET)
    near = (misses.max(axis=0) <= band) & (misses.min(axis=0) >= -band - chord)
    on_it: BoolArray = near & is_facet
    return on_it


def shows_taper(wall: WallFacets, cone: ConeFit, band: float) -> bool:
    """Does the wall widen along the hole by more than its noise explains?"""
    points, misses = _within(wall, cone, band)
    heights = heights_along(points - cone.point, cone.direction)
    span = max(float(np.ptp(heights)) / 2.0, 1e-9)
    return _follow(misses, [(heights - heights.mean()) / span])


def shows_oval(wall: WallFacets, cone: ConeFit, band: float) -> bool:
    """Is the wall wider one way than the other by more than its noise explains?"""
    points, misses = _within(wall, cone, band)
    local = (points - cone.point) @ frame_rows(cone.direction).T
    angles = np.arctan2(local[:, 1], local[:, 0])
    return _follow(misses, [np.cos(2.0 * angles), np.sin(2.0 * angles)])


def _within(wall: WallFacets, cone: ConeFit, band: float) -> tuple[FloatArray, FloatArray]:
    """Points that speak for the shape and lie within the band, and how far off they are."""
    misses = _distances(cone, wall.bending)
    near = np.abs(misses) <= band
    return wall.bending[near], misses[near]


def _follow(misses: FloatArray, patterns: list[FloatArray]) -> bool:
    """Do the misses follow one of the patterns, clear of their noise?"""
    for pattern in patterns:
        weight = max(float((pattern * pattern).sum()), 1e-12)
        size = float((pattern * misses).sum()) / weight
        error = math.sqrt(float(np.mean((misses - size * pattern) ** 2)) / weight)
        if abs(size) > max(_TREND, _TREND_OVER_ERROR * error):
            return True
    return False
