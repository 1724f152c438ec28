"""What shape a side hole's wall has: a cylinder, a cone, a prism of some outline, or none."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from ..errors import DegeneratePoints
from ..meshes.borders import inner_edges
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .cylinder_fit import ConeFit, fit_cone, frame_rows
from .hole_outlines import fit_outline
from .hole_passages import Passage
from .triangle_facing import facings

GENERATORS = 720

_UP = np.array([0.0, 0.0, 1.0])
_GATES = (4.0, 2.0, 1.0)
_LEAST_POINTS = 8
_SAGITTA_THAT_SHOWS = 0.001
_WIDEST_FACET, _WIDEST_SHORT_FACET = math.radians(33.0), math.radians(75.0)
_SHORT_FACET = 3.0
"""Flats that span more of the circle are meant as flats, unless they are short, mm."""

_FOLLOWS = 0.8
_TREND, _TREND_OVER_ERROR = 0.01, 4.0
"""A departure from the round, mm, that counts, and how far above its error it must be."""

_LONG_SIDE = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class HoleShape:
    """Straight lines that make up a hole's wall, and its centre line.

    point, direction : of the centre line, outward
    starts, ways : (k, 3) a point of each line of the wall and where it leads, outward
    is_round : whether it is a cylinder or cone
    radius : mm, where the wall is a cylinder
    on_it : (t,) the passage's triangles that lie on that cylinder
    """

    point: FloatArray
    direction: FloatArray
    starts: FloatArray
    ways: FloatArray
    is_round: bool = False
    radius: float | None = None
    on_it: IntArray = field(default_factory=lambda: np.empty(0, np.int64))

    def __post_init__(self) -> None:
        for array in (self.point, self.direction, self.starts, self.ways, self.on_it):
            read_only(array)


@dataclass(frozen=True, slots=True, eq=False)
class _WallFacets:
    """The wall's triangles, and those of its vertices that speak for its shape.

    bending : vertices at which it bends about the hole's line: those between lie on chords
    """

    part: Mesh
    triangles: IntArray
    normals: FloatArray
    areas: FloatArray
    corners: IntArray
    bending: IntArray


def fit_shape(part: Mesh, passage: Passage, band: float) -> HoleShape | None:
    """The cylinder, cone or prism that a hole's wall follows within a band, if it does."""
    wall = _wall_facets(part, passage)
    cone = _round_fit(wall, passage.direction, band, slope_free=False)
    if cone is not None and not _shows_trend(wall, cone, band):
        return _as_shape(wall, cone, band)
    cone = _round_fit(wall, passage.direction, band, slope_free=True)
    if cone is not None and not _is_oval(wall, cone, band):
        return _as_shape(wall, cone, band)
    return _prism(wall, passage, band)


def rim_shape(part: Mesh, passage: Passage, direction: FloatArray, band: float) -> HoleShape | None:
    """The prism along a direction whose outline the outer rim follows, if it does."""
    rows = frame_rows(direction, _UP)
    local = (part.vertices[passage.rim] - passage.point) @ rows.T
    flat = _with_middles(local[:, :2], np.roll(local[:, :2], -1, axis=0))
    outline = fit_outline(flat, np.zeros(len(flat)), drifting=False)
    misses = np.abs(outline.distances(flat, np.zeros(len(flat))))
    if np.percentile(misses, 95.0) > band:
        return None
    starts = np.column_stack([outline.points(GENERATORS) + outline.centre, np.zeros(GENERATORS)])
    point = passage.point + outline.centre @ rows[:2]
    ways = np.tile(rows[2], (GENERATORS, 1))
    return HoleShape(point, rows[2].copy(), passage.point + starts @ rows, ways)


def _wall_facets(part: Mesh, passage: Passage) -> _WallFacets:
    triangles = part.triangles[passage.triangles]
    normals, areas = facings(part.vertices, triangles)
    corners = np.unique(triangles)
    lateral = normals - (normals @ passage.direction)[:, None] * passage.direction
    lateral /= np.maximum(np.linalg.norm(lateral, axis=1, keepdims=True), 1e-12)
    first, second = inner_edges(triangles)
    cosines = np.einsum("ij,ij->i", lateral[first // 3], lateral[second // 3])
    reach = _lateral_reach(part.vertices[corners], passage)
    least = 2.0 * math.acos(max(0.0, 1.0 - _SAGITTA_THAT_SHOWS / reach))
    bends = (cosines < math.cos(least)) & (np.minimum(areas[first // 3], areas[second // 3]) > 0.0)
    ends = triangles.ravel()
    bending = np.unique(np.concatenate([ends[first[bends]], ends[second[bends]]]))
    return _WallFacets(
        part,
        passage.triangles,
        normals,
        areas,
        corners,
        bending if len(bending) >= _LEAST_POINTS else corners,
    )


def _lateral_reach(points: FloatArray, passage: Passage) -> float:
    arms = points - passage.point
    arms = arms - (arms @ passage.direction)[:, None] * passage.direction
    return float(np.linalg.norm(arms, axis=1).max())


def _round_fit(
    wall: _WallFacets, direction: FloatArray, band: float, *, slope_free: bool
) -> ConeFit | None:
    """The cylinder or cone through the wall, what lies off it left out step by step."""
    points = wall.part.vertices[wall.bending]
    try:
        cone = fit_cone(points, direction, slope_free=slope_free)
        used = np.ones(len(points), bool)
        for widths in _GATES:
            misses = np.abs(_distances(cone, points))
            near = misses <= max(widths * band, min(widths, 2.0) * float(np.median(misses)))
            if near.sum() < _LEAST_POINTS:
                return None
            if not np.array_equal(near, used):
                cone = fit_cone(points[near], cone.direction, start=cone, slope_free=slope_free)
                used = near
    except (DegeneratePoints, np.linalg.LinAlgError):
        return None
    area = float(wall.areas[_lie_on(wall, cone, band)].sum())
    return cone if area >= _FOLLOWS * wall.areas.sum() else None


def _distances(cone: ConeFit, points: FloatArray) -> FloatArray:
    arms = points - cone.point
    heights = arms @ cone.direction
    reach = np.linalg.norm(arms - heights[:, None] * cone.direction, axis=1)
    distances: FloatArray = (reach - cone.radius_at_point - cone.slope * heights) / math.hypot(
        1.0, cone.slope
    )
    return distances


def _lie_on(wall: _WallFacets, cone: ConeFit, band: float) -> BoolArray:
    """Triangles with all corners within the band, or inside by no more than their chord."""
    rows = frame_rows(cone.direction)
    corners = wall.part.triangles[wall.triangles]
    points = wall.part.vertices[corners.ravel()]
    local = (points - cone.point) @ rows.T
    angles = np.arctan2(local[:, 1], local[:, 0]).reshape(-1, 3)
    turns = np.abs(np.angle(np.exp(1j * (angles - np.roll(angles, 1, axis=1))))).max(axis=1)
    chord = cone.radius_at_point * (1.0 - np.cos(turns / 2.0))
    misses = _distances(cone, points).reshape(-1, 3)
    is_short = 2.0 * cone.radius_at_point * np.sin(turns / 2.0) <= _SHORT_FACET
    is_facet = turns <= np.where(is_short, _WIDEST_SHORT_FACET, _WIDEST_FACET)
    near = (misses.max(axis=1) <= band) & (misses.min(axis=1) >= -band - chord)
    on_it: BoolArray = near & is_facet
    return on_it


def _shows_trend(wall: _WallFacets, cone: ConeFit, band: float) -> bool:
    """Is the wall tapered or oval by more than its noise explains?"""
    points = wall.part.vertices[wall.bending]
    points = points[np.abs(_distances(cone, points)) <= band]
    heights = (points - cone.point) @ cone.direction
    return _is_oval(wall, cone, band) or _exceeds(
        _distances(cone, points), [(heights - heights.mean()) / max(np.ptp(heights) / 2.0, 1e-9)]
    )


def _is_oval(wall: _WallFacets, cone: ConeFit, band: float) -> bool:
    points = wall.part.vertices[wall.bending]
    misses = _distances(cone, points)
    points, misses = points[np.abs(misses) <= band], misses[np.abs(misses) <= band]
    local = (points - cone.point) @ frame_rows(cone.direction).T
    angles = np.arctan2(local[:, 1], local[:, 0])
    return _exceeds(misses, [np.cos(2.0 * angles), np.sin(2.0 * angles)])


def _exceeds(misses: FloatArray, patterns: list[FloatArray]) -> bool:
    """Do the misses follow one of the patterns, clear of their noise?"""
    for pattern in patterns:
        weight = max(float(pattern @ pattern), 1e-12)
        size = float(pattern @ misses) / weight
        error = math.sqrt(float(np.mean((misses - size * pattern) ** 2)) / weight)
        if abs(size) > max(_TREND, _TREND_OVER_ERROR * error):
            return True
    return False


def _as_shape(wall: _WallFacets, cone: ConeFit, band: float) -> HoleShape:
    turn = 2.0 * math.pi * np.arange(GENERATORS) / GENERATORS
    rows = frame_rows(cone.direction, _UP)
    arms = np.column_stack([np.cos(turn), np.sin(turn)]) @ rows[:2]
    is_cylinder = cone.slope == 0.0
    return HoleShape(
        cone.point.copy(),
        cone.direction.copy(),
        cone.point + cone.radius_at_point * arms,
        cone.direction + cone.slope * arms,
        is_round=True,
        radius=cone.radius_at_point if is_cylinder else None,
        on_it=wall.triangles[_lie_on(wall, cone, band)] if is_cylinder else np.empty(0, np.int64),
    )


def _prism(wall: _WallFacets, passage: Passage, band: float) -> HoleShape | None:
    """The prism of a fitted outline, where the wall follows one."""
    rows = frame_rows(passage.direction, _UP)
    local = (wall.part.vertices[wall.part.triangles[wall.triangles]] - passage.point) @ rows.T
    own = (wall.part.vertices[wall.corners] - passage.point) @ rows.T
    starts, ends = local.reshape(-1, 3), np.roll(local, -1, axis=1).reshape(-1, 3)
    size = float(np.ptp(own[:, :2], axis=0).max())
    long = np.hypot(*(ends - starts)[:, :2].T) > _LONG_SIDE * size
    points = np.vstack([own, (starts[long] + ends[long]) / 2.0])
    outline = fit_outline(points[:, :2], points[:, 2], drifting=True)
    misses = np.abs(outline.distances(points[:, :2], points[:, 2]))
    if (misses <= band).mean() < _FOLLOWS or outline.rms > band:
        return None
    direction = rows[2] + outline.drift @ rows[:2]
    point = passage.point + outline.centre @ rows[:2]
    return HoleShape(
        point,
        direction / np.linalg.norm(direction),
        point + outline.points(GENERATORS) @ rows[:2],
        np.tile(direction, (GENERATORS, 1)),
    )


def _with_middles(points: FloatArray, ends: FloatArray) -> FloatArray:
    """Points and the middles of the long sides between them: those lie along flats."""
    size = float(np.ptp(points, axis=0).max())
    long = np.hypot(*(ends - points).T) > _LONG_SIDE * size
    return np.vstack([points, (points[long] + ends[long]) / 2.0])
