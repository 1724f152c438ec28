"""A side hole as the contract counts it: where its centre line meets the outside, its widths."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.products import row_lengths
from ..values import FloatArray, HoleWall, IntArray, RoundSurface, SideHole, read_only
from .bore_openings import Terrain
from .hole_passages import Passage
from .hole_shapes import HoleShape, fit_shape, rim_shape
from .hole_skin import Skin, skin_at

_NEWTON_STEPS = 12
_PROBE = 1e-5
_SETTLED = 1e-7
_RIM_SLACK = 0.05
_MUCH = 0.3
_ABOUT_SQUARE = math.cos(math.radians(10.0))


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
    skin = skin_at(terrain, passage, outsides)
    rim = part.vertices[passage.rim]
    shape = fit_shape(part, passage, band)
    mouth = None if shape is None else _mouth(shape, skin, rim)
    direction = passage.direction if shape is None else shape.direction
    middle = rim.mean(axis=0) if mouth is None else mouth.middle
    across = _across(skin.normal_at(middle), direction, passage)
    slack = 2.0 * band + _RIM_SLACK
    if mouth is None or (passage.on_outside and _differ(mouth.rim, rim, slack)):
        outline = rim_shape(part, passage, direction, band)
        seen = None if outline is None else _mouth(outline, skin, rim)
        shown = rim if seen is None else seen.rim
        if shape is None or mouth is None or not shape.is_round:
            middle = _middle_of(shown, across, skin, direction) if seen is None else seen.middle
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


def _across(normal: FloatArray, direction: FloatArray, passage: Passage) -> FloatArray:
    """The way along which a hole is wide across the axis: square to the outside's normal.

    Where the outside had to be guessed at and the hole is about square to it, the hole
    tells the normal better.
    """
    ways = [way[:2] / max(float(np.hypot(*way[:2])), 1e-12) for way in (normal, direction)]
    about_square = not passage.on_outside and float(ways[0] @ ways[1]) > _ABOUT_SQUARE
    x, y = ways[1] if about_square else ways[0]
    return np.array([-y, x, 0.0])


def _as_wall(shape: HoleShape, mouth: _Mouth) -> HoleWall | None:
    if shape.radius is None:
        return None
    x, y, z = mouth.middle.tolist()
    a, b, c = (shape.direction / np.linalg.norm(shape.direction)).tolist()
    return HoleWall((x, y, z), (a, b, c), shape.radius)


def _differ(seen: FloatArray, rim: FloatArray, slack: float) -> bool:
    """Is much of the rim not where the wall would end, as where it is countersunk?"""
    steps = row_lengths(np.roll(rim, -1, axis=0) - rim)
    squares = np.zeros((len(rim), len(seen)))
    for one, other in zip(rim.T, seen.T, strict=True):
        squares += np.subtract.outer(one, other) ** 2
    off = squares.min(axis=1) > slack**2
    return float((steps + np.roll(steps, 1)) @ off) > _MUCH * 2.0 * float(steps.sum())


def _mouth(shape: HoleShape, skin: Skin, rim: FloatArray) -> _Mouth | None:
    """Where the lines of a shape meet the outside; None where some miss it."""
    height = float(((rim - shape.point) @ shape.direction).mean())
    starts = np.vstack([shape.point, shape.starts])
    ways = np.vstack([shape.direction, shape.ways])
    gone = (height - (starts - shape.point) @ shape.direction) / (ways @ shape.direction)
    points = starts + gone[:, None] * ways
    for _ in range(_NEWTON_STEPS):
        misses = skin.excess(points)
        slopes = (skin.excess(points + _PROBE * ways) - misses) / _PROBE
        steps = -misses / np.where(np.abs(slopes) > 1e-6, slopes, np.inf)
        points = points + steps[:, None] * ways
        if np.abs(steps).max() < _SETTLED:
            return _Mouth(points[0], points[1:])
    return None


def _middle_of(
    rim: FloatArray, across: FloatArray, skin: Skin, direction: FloatArray
) -> FloatArray:
    """The middle of a rim of any shape, taken to the outside along the hole."""
    beside = rim @ across
    centre = rim.mean(axis=0)
    centre = centre + ((beside.min() + beside.max()) / 2.0 - centre @ across) * across
    centre[2] = (rim[:, 2].min() + rim[:, 2].max()) / 2.0
    line = HoleShape(centre, direction, centre[None], direction[None])
    mouth = _mouth(line, skin, rim)
    return centre if mouth is None else mouth.middle
