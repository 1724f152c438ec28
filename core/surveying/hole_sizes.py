"""A side hole as the contract counts it: where its centre line meets the outside, its widths."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import FloatArray, HoleWall, IntArray, Mesh, RoundSurface, SideHole, read_only
from .bore_openings import Terrain
from .cylinder_fit import frame_rows
from .hole_passages import Passage
from .hole_shapes import HoleShape, fit_shape, rim_shape

Excess = Callable[[FloatArray], FloatArray]
"""(n, 3) points to (n,) mm, how far they lie outside the part's outside."""

_NEWTON_STEPS = 12
_PROBE = 1e-5
_SETTLED = 1e-7
_SKIN_REACH = 2.5
_SKIN_FACING = 0.3
_SKIN_TURNS = 6
_SKIN_NOISE = 0.02
_RIM_SLACK = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class SizedHole:
    """A side hole, and the triangles of its passage that lie on its own cylinder."""

    hole: SideHole
    on_wall: IntArray

    def __post_init__(self) -> None:
        read_only(self.on_wall)


@dataclass(frozen=True, slots=True, eq=False)
class _Mouth:
    """Where a hole's lines meet the outside.

    middle : (3,) where its centre line does
    rim : (k, 3) where the lines of its wall do
    """

    middle: FloatArray
    rim: FloatArray


def measure_hole(
    terrain: Terrain, passage: Passage, outsides: tuple[RoundSurface, ...], band: float
) -> SizedHole:
    """Station, angle and widths of a hole; its own cylinder where its wall follows one."""
    part = terrain.part
    excess, normal_at = _outside_at(terrain, passage, outsides)
    rim = part.vertices[passage.rim]
    shape = fit_shape(part, passage, band)
    mouth = None if shape is None else _mouth(shape, excess, rim)
    direction = passage.direction if shape is None else shape.direction
    middle = rim.mean(axis=0) if mouth is None else mouth.middle
    across = np.array([-normal_at(middle)[1], normal_at(middle)[0], 0.0])
    across /= np.linalg.norm(across)
    if mouth is None or _differ(mouth.rim, rim, across, 2.0 * band + _RIM_SLACK):
        outline = rim_shape(part, passage, direction, band)
        seen = None if outline is None else _mouth(outline, excess, rim)
        shown = rim if seen is None else seen.rim
        if shape is None or mouth is None or not shape.is_round:
            middle = _middle_of(shown, across, excess, direction) if seen is None else seen.middle
    else:
        shown = mouth.rim
    edges = np.concatenate([part.vertices[part.triangles[passage.triangles].ravel(), 2], rim[:, 2]])
    hole = SideHole(
        station=float(middle[2]),
        angle=half_open(math.atan2(middle[1], middle[0])),
        axial_width=float(np.ptp(shown[:, 2])),
        across_width=float(np.ptp(shown @ across)),
        low=float(edges.min()),
        high=float(edges.max()),
        wall=None if shape is None or mouth is None else _as_wall(shape, mouth),
    )
    return SizedHole(hole, np.empty(0, np.int64) if shape is None else shape.on_it)


def half_open(angle: float) -> float:
    """The angle in (-pi, pi]; what is -pi but for rounding is pi."""
    turned = math.remainder(angle, 2.0 * math.pi)
    return turned + 2.0 * math.pi if turned < -math.pi + 1e-6 else turned


def _as_wall(shape: HoleShape, mouth: _Mouth) -> HoleWall | None:
    if shape.radius is None:
        return None
    x, y, z = mouth.middle.tolist()
    a, b, c = (shape.direction / np.linalg.norm(shape.direction)).tolist()
    return HoleWall((x, y, z), (a, b, c), shape.radius)


def _differ(seen: FloatArray, rim: FloatArray, across: FloatArray, slack: float) -> bool:
    """Is the rim not where the wall would end, as where it is countersunk?"""
    for ours, theirs in ((seen[:, 2], rim[:, 2]), (seen @ across, rim @ across)):
        ends = (ours.min() - theirs.min(), ours.max() - theirs.max())
        if max(abs(float(end)) for end in ends) > slack:
            return True
    return False


def _mouth(shape: HoleShape, excess: Excess, rim: FloatArray) -> _Mouth | None:
    """Where the lines of a shape meet the outside; None where some miss it."""
    height = float(((rim - shape.point) @ shape.direction).mean())
    starts = np.vstack([shape.point, shape.starts])
    ways = np.vstack([shape.direction, shape.ways])
    gone = (height - (starts - shape.point) @ shape.direction) / (ways @ shape.direction)
    points = starts + gone[:, None] * ways
    for _ in range(_NEWTON_STEPS):
        misses = excess(points)
        slopes = (excess(points + _PROBE * ways) - misses) / _PROBE
        steps = -misses / np.where(np.abs(slopes) > 1e-6, slopes, np.inf)
        points = points + steps[:, None] * ways
        if np.abs(steps).max() < _SETTLED:
            return _Mouth(points[0], points[1:])
    return None


def _middle_of(
    rim: FloatArray, across: FloatArray, excess: Excess, direction: FloatArray
) -> FloatArray:
    """The middle of a rim of any shape, taken to the outside along the hole."""
    beside = rim @ across
    centre = rim.mean(axis=0)
    centre = centre + ((beside.min() + beside.max()) / 2.0 - centre @ across) * across
    centre[2] = (rim[:, 2].min() + rim[:, 2].max()) / 2.0
    line = HoleShape(centre, direction, centre[None], direction[None])
    mouth = _mouth(line, excess, rim)
    return centre if mouth is None else mouth.middle


# The outside at a hole


def _outside_at(
    terrain: Terrain, passage: Passage, outsides: tuple[RoundSurface, ...]
) -> tuple[Excess, Callable[[FloatArray], FloatArray]]:
    """The outside about a hole as a function, and its normal at a point."""
    if passage.on_outside:
        surface = _stretch_at(outsides, float(terrain.part.vertices[passage.rim, 2].mean()))
        return _round_excess(surface)
    return _skin_excess(terrain, passage)


def _stretch_at(surfaces: tuple[RoundSurface, ...], station: float) -> RoundSurface:
    """The stretch that a station lies in, or the nearest."""
    return min(surfaces, key=lambda s: max(s.start - station, station - s.stop, 0.0))


def _round_excess(
    surface: RoundSurface,
) -> tuple[Excess, Callable[[FloatArray], FloatArray]]:
    centre = np.array(surface.offset)

    def excess(points: FloatArray) -> FloatArray:
        arms = points[:, :2] - centre
        beyond: FloatArray = np.hypot(arms[:, 0], arms[:, 1]) - surface.radii_at(points[:, 2])
        return beyond

    def normal_at(point: FloatArray) -> FloatArray:
        return np.array([*(point[:2] - centre), 0.0])

    return excess, normal_at


def _skin_excess(
    terrain: Terrain, passage: Passage
) -> tuple[Excess, Callable[[FloatArray], FloatArray]]:
    """A quadratic surface through the outside about the rim, for one that is not round."""
    part = terrain.part
    normals, areas = triangle_normals(Mesh(part.vertices, part.triangles[passage.skin]))
    normal = (normals * areas[:, None]).sum(axis=0)
    rows = frame_rows(normal)
    middle = part.vertices[passage.rim].mean(axis=0)
    rim = (part.vertices[passage.rim] - middle) @ rows.T
    reach = float(np.hypot(rim[:, 0], rim[:, 1]).mean())
    corners = np.concatenate([passage.rim, _skin_about(terrain, passage, middle, rows, reach)])
    local = (part.vertices[np.unique(corners)] - middle) @ rows.T
    factors = _quadratic(local, reach)

    def excess(points: FloatArray) -> FloatArray:
        u, v, height = ((points - middle) @ rows.T).T
        beyond: FloatArray = height - _powers(u, v) @ factors
        return beyond

    def normal_at(point: FloatArray) -> FloatArray:
        u, v, _ = (point - middle) @ rows.T
        _, a, b, c, d, e = factors
        slopes = np.array([-(a + 2.0 * c * u + d * v), -(b + d * u + 2.0 * e * v), 1.0])
        turned: FloatArray = slopes @ rows
        return turned

    return excess, normal_at


def _skin_about(
    terrain: Terrain, passage: Passage, middle: FloatArray, rows: FloatArray, reach: float
) -> IntArray:
    """Vertices of what faces outward about a rim, and is part of no surface."""
    part = terrain.part
    others = terrain.others
    stations = part.vertices[part.triangles[others, 0], 2]
    near = others[np.abs(stations - middle[2]) < _SKIN_REACH * reach]
    near = np.union1d(near[~np.isin(near, passage.triangles)], passage.skin)
    corners = part.triangles[near]
    arms = (part.vertices[corners[:, 0]] - middle) @ rows.T
    close = (np.hypot(arms[:, 0], arms[:, 1]) < _SKIN_REACH * reach) & (np.abs(arms[:, 2]) < reach)
    corners = corners[close]
    normals, _ = triangle_normals(Mesh(part.vertices, corners))
    facing: IntArray = np.unique(corners[normals @ rows[2] > _SKIN_FACING])
    return facing


def _powers(u: FloatArray, v: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(u)), u, v, u * u, u * v, v * v])


def _quadratic(local: FloatArray, reach: float) -> FloatArray:
    """(6,) factors of the height over the plane: least squares, far and stray points counting less.

    Where too few points tell, the surface is as flat as can be.
    """
    u, v, heights = local.T
    weights = 1.0 / (1.0 + (np.hypot(u, v) / reach) ** 4)
    scale = np.array([1.0, reach, reach, reach**2, reach**2, reach**2])
    system = _powers(u, v) / scale
    robust = np.ones(len(u))
    factors = np.zeros(6)
    for _ in range(_SKIN_TURNS):
        root = np.sqrt(weights * robust)
        factors = np.linalg.lstsq(system * root[:, None], heights * root, rcond=1e-6)[0]
        misses = np.abs(heights - system @ factors)
        robust = _SKIN_NOISE / np.maximum(misses, _SKIN_NOISE)
    quadratic: FloatArray = factors / scale
    return quadratic
