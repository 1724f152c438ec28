"""The outside about a side hole, as a surface that goes on where the hole is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import FloatArray, IntArray, Mesh, RoundSurface
from .bore_openings import Terrain
from .cylinder_fit import frame_rows
from .hole_passages import Passage

_REACH = 2.5
_FACING = 0.3
_STEEP = 0.2
_TURNS = 6
_NOISE = 0.02


@dataclass(frozen=True, slots=True)
class Skin:
    """The outside at a hole.

    excess : (n, 3) points to (n,) mm, how far outside it they lie
    normal_at : (3,) point to (3,), outward
    """

    excess: Callable[[FloatArray], FloatArray]
    normal_at: Callable[[FloatArray], FloatArray]


def skin_at(terrain: Terrain, passage: Passage, outsides: tuple[RoundSurface, ...]) -> Skin:
    """The round outside where a hole ends on it, else a quadratic surface through what is there."""
    if passage.on_outside:
        station = float(terrain.part.vertices[passage.rim, 2].mean())
        return _round_skin(_stretch_at(outsides, station))
    return _fitted_skin(terrain, passage)


def _stretch_at(surfaces: tuple[RoundSurface, ...], station: float) -> RoundSurface:
    """The stretch that a station lies in, or the nearest."""
    return min(surfaces, key=lambda s: max(s.start - station, station - s.stop, 0.0))


def _round_skin(surface: RoundSurface) -> Skin:
    centre = np.array(surface.offset)

    def excess(points: FloatArray) -> FloatArray:
        arms = points[:, :2] - centre
        beyond: FloatArray = np.hypot(arms[:, 0], arms[:, 1]) - surface.radii_at(points[:, 2])
        return beyond

    def normal_at(point: FloatArray) -> FloatArray:
        return np.array([*(point[:2] - centre), 0.0])

    return Skin(excess, normal_at)


def _fitted_skin(terrain: Terrain, passage: Passage) -> Skin:
    """Height over the plane of the rim, as a quadratic, from the vertices and slopes about it."""
    vertices = terrain.part.vertices
    normals, areas = _normals(terrain.part, passage.skin)
    rows = frame_rows((normals * areas[:, None]).sum(axis=0))
    middle = vertices[passage.rim].mean(axis=0)
    rim = (vertices[passage.rim] - middle) @ rows.T
    reach = float(np.hypot(rim[:, 0], rim[:, 1]).mean())
    near = _vertices_about(terrain, passage, middle, rows, reach)
    points = np.vstack([rim, (vertices[near] - middle) @ rows.T])
    factors = _quadratic(points, rim, normals @ rows.T, reach)

    def excess(points: FloatArray) -> FloatArray:
        u, v, height = ((points - middle) @ rows.T).T
        beyond: FloatArray = height - _powers(u, v) @ factors
        return beyond

    def normal_at(point: FloatArray) -> FloatArray:
        u, v, _ = ((point - middle) @ rows.T)[:, None]
        rising = _rising(u, v)
        slopes = np.array([-float(rising[k][0] @ factors) for k in range(2)] + [1.0])
        turned: FloatArray = slopes @ rows
        return turned

    return Skin(excess, normal_at)


def _normals(part: Mesh, triangles: IntArray) -> tuple[FloatArray, FloatArray]:
    return triangle_normals(Mesh(part.vertices, part.triangles[triangles]))


def _vertices_about(
    terrain: Terrain, passage: Passage, middle: FloatArray, rows: FloatArray, reach: float
) -> IntArray:
    """Vertices near a rim of what faces outward there and is part of no surface."""
    part, others = terrain.part, terrain.others
    stations = part.vertices[part.triangles[others, 0], 2]
    near = others[np.abs(stations - middle[2]) < _REACH * reach]
    near = np.union1d(near[~np.isin(near, passage.triangles)], passage.skin)
    facing = _normals(part, near)[0] @ rows[2] > _FACING
    corners = np.setdiff1d(part.triangles[near[facing]], passage.rim)
    local = (part.vertices[corners] - middle) @ rows.T
    close = (np.hypot(local[:, 0], local[:, 1]) < _REACH * reach) & (np.abs(local[:, 2]) < reach)
    found: IntArray = corners[close]
    return found


def _powers(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(u)), u, v, u * u, u * v, v * v])


def _rising(u: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Derivatives of the powers along u and along v."""
    one, none = np.ones(len(u)), np.zeros(len(u))
    return (
        np.column_stack([none, one, none, 2.0 * u, v, none]),
        np.column_stack([none, none, one, none, u, 2.0 * v]),
    )


def _quadratic(
    points: FloatArray, rim: FloatArray, normals: FloatArray, reach: float
) -> FloatArray:
    """(6,) factors by least squares; what is far or astray counts less.

    Without the slopes at the rim, points along one circle could not tell how far the
    surface bulges within it.

    Parameters
    ----------
    points : (n, 3) in the plane and over it, mm
    rim, normals : (r, 3) the rim's vertices, in order, and the normals beyond its edges
    """
    u, v, heights = points.T
    ahead = np.roll(rim, -1, axis=0)
    edge = float(np.linalg.norm(ahead - rim, axis=1).mean())
    level = normals[:, 2] > _STEEP
    middles = ((rim + ahead) / 2.0)[level]
    slopes = -normals[level, :2] / normals[level, 2:]
    system = np.vstack([_powers(u, v), *(edge * r for r in _rising(middles[:, 0], middles[:, 1]))])
    wanted = np.concatenate([heights, edge * slopes[:, 0], edge * slopes[:, 1]])
    far = np.hypot(u, v) / reach
    weights = np.concatenate([1.0 / (1.0 + far**4), np.ones(2 * len(middles))])
    scale = np.array([1.0, reach, reach, reach**2, reach**2, reach**2])
    robust = np.ones(len(wanted))
    factors = np.zeros(6)
    for _ in range(_TURNS):
        root = np.sqrt(weights * robust)
        factors = np.linalg.lstsq(system / scale * root[:, None], wanted * root, rcond=1e-6)[0]
        misses = np.abs(wanted - system / scale @ factors)
        robust = _NOISE / np.maximum(misses, _NOISE)
    quadratic: FloatArray = factors / scale
    return quadratic
