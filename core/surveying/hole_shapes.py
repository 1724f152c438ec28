"""What shape a side hole's wall has: a cylinder, a cone, a prism of some outline, or none."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from ..values import FloatArray, IntArray, Mesh, read_only
from .cylinder_fit import frame_rows
from .hole_cylinder import (
    RoundWall,
    WallFacets,
    fit_round,
    shows_oval,
    shows_taper,
    wall_facets,
)
from .hole_outlines import Outline, fit_outline
from .hole_passages import Passage

GENERATORS = 720

_UP = np.array([0.0, 0.0, 1.0])
_GATES = (4.0, 2.0, 1.0)
_LEAST_POINTS = 8
_MOSTLY = 80.0
_ALL_BUT_NOISE = 95.0
_LONG_SIDE = 0.25


@dataclass(frozen=True, slots=True, eq=False)
class HoleShape:
    """Straight lines that make up a hole's wall, and its centre line.

    point, direction : of the centre line, outward
    starts, ways : (k, 3) a point of each line of the wall and where it leads, outward
    is_round : whether it is a cylinder or cone
    radius : mm, where the wall is a cylinder
    on_it : (t,) the part's triangles that lie on that cylinder
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


def fit_shape(part: Mesh, passage: Passage, band: float) -> HoleShape | None:
    """The cylinder, cone or prism that a hole's wall follows within a band, if it does."""
    wall = wall_facets(part, passage)
    found = fit_round(wall, passage.direction, band, slope_free=False)
    if (
        found is not None
        and not shows_taper(wall, found.cone, band)
        and not shows_oval(wall, found.cone, band)
    ):
        return _round_shape(found, passage)
    found = fit_round(wall, passage.direction, band, slope_free=True)
    if found is not None and not shows_oval(wall, found.cone, band):
        return _round_shape(found, passage)
    return _prism(wall, passage, band)


def rim_shape(part: Mesh, passage: Passage, direction: FloatArray, band: float) -> HoleShape | None:
    """The prism along a direction whose outline the outer rim follows, if it does."""
    rows = frame_rows(direction, _UP)
    local = (part.vertices[passage.rim] - passage.point) @ rows.T
    flat = np.vstack([local, _middles_of_long(local, np.roll(local, -1, axis=0))])[:, :2]
    outline = fit_outline(flat, np.zeros(len(flat)), drifting=False)
    misses = np.abs(outline.distances(flat, np.zeros(len(flat))))
    if np.percentile(misses, _ALL_BUT_NOISE) > band:
        return None
    return _prism_of(outline, passage, rows)


def _round_shape(found: RoundWall, passage: Passage) -> HoleShape:
    cone = found.cone
    turn = 2.0 * math.pi * np.arange(GENERATORS) / GENERATORS
    arms = np.column_stack([np.cos(turn), np.sin(turn)]) @ frame_rows(cone.direction, _UP)[:2]
    starts = cone.point + cone.radius_at_point * arms
    ways = cone.direction + cone.slope * arms
    point, direction = cone.point.copy(), cone.direction.copy()
    if cone.slope != 0.0:
        return HoleShape(point, direction, starts, ways, is_round=True)
    return HoleShape(
        point,
        direction,
        starts,
        ways,
        is_round=True,
        radius=cone.radius_at_point,
        on_it=passage.triangles[found.on_it],
    )


def _prism(wall: WallFacets, passage: Passage, band: float) -> HoleShape | None:
    """The prism of a fitted outline, where the wall follows one."""
    rows = frame_rows(passage.direction, _UP)
    local = (wall.points - passage.point) @ rows.T
    corners = local[wall.faces]
    sides = corners.reshape(-1, 3), np.roll(corners, -1, axis=1).reshape(-1, 3)
    points = np.vstack([local, _middles_of_long(*sides)])
    outline = _trimmed_outline(points, band)
    misses = np.abs(outline.distances(points[:, :2], points[:, 2]))
    if max(float(np.percentile(misses, _MOSTLY)), outline.rms) > band:
        return None
    return _prism_of(outline, passage, rows)


def _trimmed_outline(points: FloatArray, band: float) -> Outline:
    """The outline that most points follow, what lies off it left out step by step."""
    outline = fit_outline(points[:, :2], points[:, 2], drifting=True)
    used = np.ones(len(points), bool)
    for widths in _GATES:
        misses = np.abs(outline.distances(points[:, :2], points[:, 2]))
        near = misses <= max(widths * band, min(widths, 2.0) * float(np.median(misses)))
        if near.sum() < _LEAST_POINTS or np.array_equal(near, used):
            continue
        outline = fit_outline(points[near, :2], points[near, 2], drifting=True)
        used = near
    return outline


def _prism_of(outline: Outline, passage: Passage, rows: FloatArray) -> HoleShape:
    direction = rows[2] + outline.drift @ rows[:2]
    point = passage.point + outline.centre @ rows[:2]
    starts = point + outline.points(GENERATORS) @ rows[:2]
    ways = np.tile(direction, (len(starts), 1))
    return HoleShape(point, direction / np.linalg.norm(direction), starts, ways)


def _middles_of_long(starts: FloatArray, ends: FloatArray) -> FloatArray:
    """The middles of the sides that are long across the hole: those lie along flats."""
    size = float(np.ptp(starts[:, :2], axis=0).max())
    long = np.hypot(*(ends - starts)[:, :2].T) > _LONG_SIDE * size
    middles: FloatArray = (starts[long] + ends[long]) / 2.0
    return middles
