"""What is no round surface, end or side hole: where it lies, and whether it is noise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.borders import connected_patches
from ..meshes.mesh_checks import triangle_normals
from ..meshes.segments import shares_along
from ..values import (
    CHORD_TOLERANCE,
    ROUND_OFF,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    read_only,
)
from .bore_openings import OTHER_REGION, OUTSIDE_REGION, Terrain

_NOISE_REACH = 6.0
"""How many times its rms noise may reach: of a million normal deviates the largest is 4.9."""

_LEAST_LEANING, _LEANING_SHARE = 12, 0.8
"""So many more vertices off to one side than to the other are no noise."""

_SEEN_FROM_BORE = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class _Patches:
    """Connected triangles that are part of nothing, patch by patch.

    number : (k,) the patch of each of `triangles`
    line : (p,) int, which bore line each patch borders on, the highest of several; or -1
    is_between : (p,) whether it borders on the outside, or on several bore lines
    """

    triangles: IntArray
    number: IntArray
    count: int
    line: IntArray
    is_between: BoolArray

    def __post_init__(self) -> None:
        for array in (self.triangles, self.number, self.line, self.is_between):
            read_only(array)

    @property
    def at_bore(self) -> BoolArray:
        """(p,) which patches border on a bore."""
        at_bore: BoolArray = self.line >= 0
        return at_bore


@dataclass(frozen=True, slots=True, eq=False)
class Loose:
    """Triangles that are of no known surface and no walls of side holes.

    Where the outside is not round, only those that face a bore.

    triangles : (k,) int, numbers
    line : (k,) int, which bore line their patches border on, or -1
    is_between : (k,) bool, whether those border on the outside as well, or on two bore lines
    real : (k,) bool, whether those are ornaments, which is more than noise
    """

    triangles: IntArray
    line: IntArray
    is_between: BoolArray
    real: BoolArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))


def find_ornaments(
    terrain: Terrain,
    in_holes: IntArray,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    length: float,
    band: float,
) -> tuple[tuple[Ornament, ...], Loose]:
    """Patches of no surface that are more than noise, by station; and all such triangles.

    Where the outside is not round, only what interrupts a bore counts.

    Parameters
    ----------
    in_holes : numbers of the triangles that are walls of side holes
    band : mm, how far off its surface a vertex may lie
    """
    free = np.setdiff1d(terrain.others, in_holes, assume_unique=True)
    if not outsides:
        free = free[_faces_a_bore(terrain, free)]
    if not len(free):
        return (), Loose(free, free, *np.zeros((2, 0), bool))
    patches = _patches(terrain, free)
    real = _stand_out(terrain.part, patches, (*bores, *outsides), length, band)
    if not outsides:
        real &= patches.at_bore
    between = patches.at_bore & patches.is_between
    loose = Loose(free, patches.line[patches.number], between[patches.number], real[patches.number])
    return _described(terrain.part, patches, real, length), loose


def _faces_a_bore(terrain: Terrain, triangles: IntArray) -> BoolArray:
    """Which triangles could be seen from the nearest bore's line."""
    part = terrain.part
    corners = part.triangles[triangles]
    normals, _ = triangle_normals(Mesh(part.vertices, corners))
    centres = sum(part.vertices[corners[:, k], :2] for k in range(3)) / 3.0
    facing, nearest = np.full(len(corners), np.inf), np.full(len(corners), np.inf)
    for line in terrain.lines:
        arms = centres - np.array(line)
        reach = np.hypot(arms[:, 0], arms[:, 1])
        outward = (arms * normals[:, :2]).sum(axis=1) / np.maximum(reach, 1e-12)
        facing = np.where(reach < nearest, outward, facing)
        nearest = np.minimum(reach, nearest)
    seen: BoolArray = facing < _SEEN_FROM_BORE
    return seen


def _patches(terrain: Terrain, free: IntArray) -> _Patches:
    number = connected_patches(terrain.part.triangles, free)
    count = int(number.max()) + 1
    place = np.full(len(terrain.part.triangles), -1, np.int32)
    place[free] = number
    line, is_between = np.full(count, -1), np.zeros(count, bool)
    for loop in (loop for loop in terrain.loops if loop.region == OTHER_REGION):
        patch = place[loop.triangles]
        known = patch >= 0
        patch, beyond = patch[known], loop.beyond[known]
        is_between[patch[beyond == OUTSIDE_REGION]] = True
        for bore in np.unique(beyond[beyond >= 0]).tolist():
            mine = patch[beyond == bore]
            is_between[mine[(line[mine] >= 0) & (line[mine] != bore)]] = True
            line[mine] = bore
    return _Patches(free, number, count, line, is_between)


def _stand_out(
    part: Mesh,
    patches: _Patches,
    surfaces: tuple[RoundSurface, ...],
    length: float,
    band: float,
) -> BoolArray:
    """(p,) which patches are more than noise.

    A triangle is explained if one surface, or end, passes through it within what its
    noise and its facets allow. Noise leans neither way: a patch whose vertices lie off
    a surface to one side is a step, however small.
    """
    corners = part.triangles[patches.triangles]
    points = _corners_and_nearest(part.vertices[corners])
    explained = np.zeros(len(corners), bool)
    off, least = np.full(corners.shape, np.inf), np.full(corners.shape, np.inf)
    for surface in surfaces:
        excess = _excess(points.reshape(-1, 3), surface).reshape(len(corners), 6)
        reach = _NOISE_REACH * surface.rms + CHORD_TOLERANCE
        explained |= (excess.max(axis=1) <= reach) & (
            excess.min(axis=1) >= -reach - surface.sagitta
        )
        nearer = np.abs(excess[:, :3]) < least
        off = np.where(nearer, excess[:, :3], off)
        least = np.minimum(least, np.abs(excess[:, :3]))
    noise = max((_NOISE_REACH * surface.rms for surface in surfaces), default=0.0)
    for end in (0.0, length):
        explained |= (np.abs(points[:, :, 2] - end) <= noise + CHORD_TOLERANCE).all(axis=1)
    stands_out = np.zeros(patches.count, bool)
    stands_out[patches.number[~explained]] = True
    return stands_out | _leaning(corners, off, patches, band)


def _excess(points: FloatArray, surface: RoundSurface) -> FloatArray:
    """(n,) mm outside a surface, infinite where it does not reach."""
    arms = points[:, :2] - np.array(surface.offset)
    excess = np.hypot(arms[:, 0], arms[:, 1]) - surface.radii_at(points[:, 2])
    reach = _NOISE_REACH * surface.rms + CHORD_TOLERANCE
    beside = (points[:, 2] < surface.start - reach) | (points[:, 2] > surface.stop + reach)
    limited: FloatArray = np.where(beside, np.inf, excess)
    return limited


def _leaning(corners: IntArray, off: FloatArray, patches: _Patches, band: float) -> BoolArray:
    """(p,) patches with many more vertices beyond the band on one side than on the other."""
    _, first = np.unique(corners.ravel(), return_index=True)
    excess = off.ravel()[first]
    patch = patches.number.repeat(3)[first]
    sides = np.where(np.abs(excess) > band, np.sign(excess), 0.0)
    net = np.abs(np.bincount(patch, sides, patches.count))
    beyond = np.bincount(patch, np.abs(sides), patches.count)
    leaning: BoolArray = net >= np.maximum(_LEAST_LEANING, _LEANING_SHARE * beyond)
    return leaning


def _described(
    part: Mesh, patches: _Patches, real: BoolArray, length: float
) -> tuple[Ornament, ...]:
    chosen = real[patches.number]
    number = patches.number[chosen]
    points = _corners_and_nearest(part.vertices[part.triangles[patches.triangles[chosen]]])
    radii = np.hypot(points[..., 0], points[..., 1])
    low, high = _extent(points[..., 2], number, patches.count)
    least, greatest = _extent(radii, number, patches.count)
    found = [
        Ornament(
            _at_end(float(low[k]), length),
            _at_end(float(high[k]), length),
            float(least[k]),
            float(greatest[k]),
            "bore" if patches.at_bore[k] else "outside",
        )
        for k in np.flatnonzero(real)
    ]
    return tuple(sorted(found, key=lambda ornament: (ornament.start, ornament.stop)))


def _at_end(station: float, length: float) -> float:
    """The station, or the part's end that it is but for rounding: no -0.00 is told of one."""
    ends = [end for end in (0.0, length) if abs(station - end) < ROUND_OFF]
    return ends[0] if ends else station


def _corners_and_nearest(triangles: FloatArray) -> FloatArray:
    """(m, 6, 3): each triangle's corners, and each edge's point nearest the axis.

    The middle of a flat lies nearer the axis than any of its corners.
    """
    ends = np.roll(triangles, -1, axis=1)
    share = shares_along(np.zeros(2), triangles[..., :2], ends[..., :2])
    nearest = triangles + share[..., None] * (ends - triangles)
    points: FloatArray = np.concatenate([triangles, nearest], axis=1)
    return points


def _extent(values: FloatArray, group: IntArray, count: int) -> tuple[FloatArray, FloatArray]:
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, group, values.min(axis=1))
    np.maximum.at(high, group, values.max(axis=1))
    return low, high
