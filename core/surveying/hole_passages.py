"""The walls of side holes, traced from an opening in a bore to the outside.

Where a hole's wall is all that lies between bore and outside, the labels tell it. Where
it runs on into a block or into an outside that is no round surface, it is followed up
to the crease at which the surface turns to face outward.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..meshes.angles import plane_lengths
from ..meshes.borders import RegionLoop, connected_patches, inner_edges, region_loops, triangles_at
from ..meshes.connected import connected_groups
from ..meshes.mesh_checks import triangle_normals
from ..meshes.products import heights_along, row_lengths
from ..values import BoolArray, FloatArray, IntArray, Mesh, RoundSurface, read_only
from .bore_openings import (
    END_REGION,
    OTHER_REGION,
    OUTSIDE_REGION,
    Opening,
    Terrain,
    winding,
    windings,
)
from .cylinder_fit import frame_rows

_OUTWARD = 0.5
"""A triangle whose normal has this much along the hole's way out is no wall of it."""

_LEANING_OUT, _OUTWARD_CREASE = 0.25, math.cos(math.radians(35.0))
_ANY_CREASE = math.cos(math.radians(60.0))
_FACING_OUT = 0.2
_NOISE_REACH = 6.0
_FACING_AS_SURFACE = 0.8
_MOSTLY = 0.6
_ALL_BUT_NOISE = 0.9
_NEAR_LEAST = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class Passage:
    """A side hole's way from a bore to the outside.

    triangles : (k,) its wall
    point, direction : of a line through it, roughly its middle, outward
    rim : (r,) chain of vertices along which the wall meets the outside
    skin : (r,) the triangle of the outside at each edge of the rim
    on_outside : whether those are of a round outside
    """

    opening: Opening
    triangles: IntArray
    point: FloatArray
    direction: FloatArray
    rim: IntArray
    skin: IntArray
    on_outside: bool

    def __post_init__(self) -> None:
        for array in (self.triangles, self.point, self.direction, self.rim, self.skin):
            read_only(array)


@dataclass(frozen=True, slots=True, eq=False)
class _Aim:
    """A line from a bore's opening outward, and how far from it the rim lies."""

    opening: Opening
    rows: FloatArray
    point: FloatArray
    reach: float

    def local(self, points: FloatArray) -> FloatArray:
        """(..., 3) across, across, along."""
        turned: FloatArray = (points - self.point) @ self.rows.T
        return turned


def find_passages(
    terrain: Terrain,
    openings: list[Opening],
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    band: float,
) -> list[Passage]:
    """Those openings that lead to the outside, with their walls.

    Parameters
    ----------
    band : mm, how far off its surface a vertex may lie
    """
    aims = [_aim(terrain, opening) for opening in openings]
    owner = np.full(len(terrain.part.triangles), -1, np.int64)
    patches = _Patches(terrain, outsides, band) if outsides else None
    rough = _Rough(terrain.part, (*bores, *outsides), band)
    width = float(np.abs(terrain.part.vertices[:, :2]).max()) if aims else 0.0
    for k, aim in enumerate(aims):
        wall = None if patches is None else patches.plain_wall(aim)
        wall = _traced(terrain, aim, width) if wall is None else wall
        wall = wall[~rough.among(wall)]
        if np.count_nonzero(owner[wall] < 0) > _MOSTLY * len(wall):
            owner[wall[owner[wall] < 0]] = k
    passages = _leading_out(terrain, aims, owner, outsides, band)
    if patches is None:
        return passages
    return [patches.to_round_rim(passage) for passage in passages]


def outward_excess(points: FloatArray, outsides: tuple[RoundSurface, ...]) -> FloatArray:
    """(n,) mm, how far points stand out of the widest of the outsides there."""
    radii = [
        np.hypot(points[:, 0] - s.offset[0], points[:, 1] - s.offset[1])
        - s.radii_at(points[:, 2].clip(s.start, s.stop))
        for s in outsides
    ]
    gaps = [np.maximum(s.start - points[:, 2], points[:, 2] - s.stop).clip(0.0) for s in outsides]
    nearest = np.argmin(np.array(gaps), axis=0)
    excess: FloatArray = np.array(radii)[nearest, np.arange(len(points))]
    return excess


def _roughness(surface: RoundSurface, band: float) -> float:
    """How far off a surface what belongs to it may lie, mm, where labels left it out."""
    return max(2.0 * band, _NOISE_REACH * surface.rms)


def _roughest(surfaces: tuple[RoundSurface, ...], band: float) -> float:
    return max(_roughness(surface, band) for surface in surfaces)


def _rough_triangles(
    part: Mesh, triangles: IntArray, surfaces: tuple[RoundSurface, ...], band: float
) -> BoolArray:
    """Which triangles are of a round surface, but for its noise: near it and facing its way."""
    corners = part.triangles[triangles]
    x, y, z = np.moveaxis(part.vertices[corners.T], 2, 0).copy()
    rough = np.zeros(len(triangles), bool)
    for surface in surfaces:
        across, up = x - surface.offset[0], y - surface.offset[1]
        excess = np.abs(plane_lengths(across, up) - surface.radii_at(z))
        near = np.flatnonzero(excess.max(axis=0) <= _roughness(surface, band))
        normals, _ = triangle_normals(Mesh(part.vertices, corners[near]))
        middle = across[:, near].mean(axis=0), up[:, near].mean(axis=0)
        facing = np.abs(middle[0] * normals[:, 0] + middle[1] * normals[:, 1])
        rough[near[facing > _FACING_AS_SURFACE * plane_lengths(*middle)]] = True
    return rough


class _Rough:
    """Which triangles are rough ones of a part's surfaces: each is asked once at the most.

    Of a noisy part many openings lie in one patch.
    """

    def __init__(self, part: Mesh, surfaces: tuple[RoundSurface, ...], band: float) -> None:
        self._part, self._surfaces, self._band = part, surfaces, band
        self._asked, self._rough = np.zeros((2, len(part.triangles)), bool)

    def among(self, triangles: IntArray) -> BoolArray:
        """As `_rough_triangles`."""
        new = triangles[~self._asked[triangles]]
        self._rough[new] = _rough_triangles(self._part, new, self._surfaces, self._band)
        self._asked[new] = True
        rough: BoolArray = self._rough[triangles]
        return rough


def _aim(terrain: Terrain, opening: Opening) -> _Aim:
    """The way that all normals of the wall beside the rim are square to.

    Where the wall is two flats and little else, of all such ways the one most straight
    out of the bore.
    """
    part, loop = terrain.part, opening.loop
    seeds = np.unique(loop.beyond_triangles)
    normals, areas = triangle_normals(Mesh(part.vertices, part.triangles[seeds]))
    rim = part.vertices[loop.vertices]
    steps = row_lengths(np.roll(rim, -1, axis=0) - rim)
    point = np.average((rim + np.roll(rim, -1, axis=0)) / 2.0, axis=0, weights=steps)
    outward = np.array([*(point[:2] - terrain.lines[opening.line]), 0.0])
    outward /= max(float(np.linalg.norm(outward)), 1e-12)
    sizes, ways = np.linalg.eigh((normals * areas[:, None]).T @ normals / areas.sum())
    square = ways[:, sizes <= 2.0 * sizes[0] + 0.02]
    direction = square @ (square.T @ outward)
    length = float(np.linalg.norm(direction))
    rows = frame_rows(direction / length if length > 0.3 else outward)
    reach = float(np.hypot(*((rim - point) @ rows[:2].T).T).max())
    return _Aim(opening, rows, point, reach)


@dataclass(frozen=True, slots=True, eq=False)
class _Rims:
    """What a patch borders on.

    points : (p, 3) mm, of the loops one after another; counts : of each
    at_end : whether it meets an end of the part
    """

    loops: list[RegionLoop]
    points: FloatArray
    counts: list[int]
    at_end: bool

    def __post_init__(self) -> None:
        read_only(self.points)


class _Patches:
    """Connected patches of what is part of no surface, and what they border on."""

    def __init__(self, terrain: Terrain, outsides: tuple[RoundSurface, ...], band: float) -> None:
        self.terrain, self.outsides, self.band = terrain, outsides, band
        self._triangles: dict[int, IntArray] = {}
        self._rims: dict[int, _Rims] = {}
        self._within: dict[int, bool] = {}
        self.number = np.full(len(terrain.part.triangles), -1, np.int64)
        self.number[terrain.others] = connected_patches(terrain.part.triangles, terrain.others)
        self.loops = [loop for loop in terrain.loops if loop.region == OTHER_REGION]
        self.loop_patch = np.array([self.number[loop.triangles[0]] for loop in self.loops], int)
        self.meets_end = np.array([(loop.beyond == END_REGION).any() for loop in self.loops], bool)

    def triangles_of(self, patch: int) -> IntArray:
        """Numbers of the triangles of a patch; -1 is none."""
        if patch not in self._triangles:
            others = self.terrain.others
            self._triangles[patch] = others[self.number[others] == patch]
        return self._triangles[patch]

    def rims_of(self, patch: int) -> _Rims:
        """What borders on a patch."""
        if patch not in self._rims:
            chosen = np.flatnonzero(self.loop_patch == patch)
            loops = [self.loops[k] for k in chosen]
            rims = [loop.vertices for loop in loops]
            points = self.terrain.part.vertices[np.concatenate([*rims, np.empty(0, np.int64)])]
            counts, at_end = [len(rim) for rim in rims], bool(self.meets_end[chosen].any())
            self._rims[patch] = _Rims(loops, points, counts, at_end)
        return self._rims[patch]

    def is_within_outside(self, patch: int) -> bool:
        """Whether nothing of a patch stands out of the round outsides; worked out once."""
        if patch not in self._within:
            part = self.terrain.part
            corners = part.vertices[np.unique(part.triangles[self.triangles_of(patch)])]
            most = outward_excess(corners, self.outsides).max()
            self._within[patch] = bool(most <= _roughest(self.outsides, self.band))
        return self._within[patch]

    def plain_wall(self, aim: _Aim) -> IntArray | None:
        """The patch at an opening if it is a hole's wall from rim to rim, and no more."""
        patch = int(self.number[aim.opening.loop.beyond_triangles[0]])
        rims = self.rims_of(patch)
        if not rims.loops or rims.at_end:
            return None
        turns = windings(aim.local(rims.points)[:, :2], rims.counts)
        around = [rims.loops[k] for k in np.flatnonzero(turns)]
        outer = [loop for loop in around if _share(loop.beyond, OUTSIDE_REGION) > _MOSTLY]
        if len(around) != 2 or len(outer) != 1:
            return None
        return self.triangles_of(patch) if self.is_within_outside(patch) else None

    def to_round_rim(self, passage: Passage) -> Passage:
        """The passage up to the round outside, where it widens within it on its way."""
        if passage.on_outside:
            return passage
        part = self.terrain.part
        patch = int(self.number[passage.triangles[0]])
        if not self.is_within_outside(patch):
            return passage
        rows = frame_rows(passage.direction)
        for loop in self.terrain.loops:
            leads_here = (self.number[loop.beyond_triangles] == patch).all()
            if loop.region != OUTSIDE_REGION or not leads_here:
                continue
            if winding(((part.vertices[loop.vertices] - passage.point) @ rows.T)[:, :2]) != 0:
                return replace(passage, rim=loop.vertices, skin=loop.triangles, on_outside=True)
        return passage


def _share(regions: IntArray, wanted: int) -> float:
    return float((regions == wanted).mean())


def _traced(terrain: Terrain, aim: _Aim, width: float) -> IntArray:
    """The wall from an opening up to where the surface turns to face outward.

    width : mm, that the part reaches from the axis along x or y
    """
    part = terrain.part
    seeds = np.unique(aim.opening.loop.beyond_triangles)
    near = _near_wall(terrain, aim, width)
    normals, _ = triangle_normals(Mesh(part.vertices, part.triangles[near]))
    is_seed = np.isin(near, seeds)
    kept = is_seed | (heights_along(normals, aim.rows[2]) <= _OUTWARD)
    near, normals, is_seed = near[kept], normals[kept], is_seed[kept]
    first, second = inner_edges(part.triangles[near])
    first, second = first // 3, second // 3
    passable = ~_creased(part.vertices, part.triangles[near], normals, first, second, aim.rows[2])
    groups = connected_groups(len(near), first[passable], second[passable])
    traced: IntArray = near[np.isin(groups, groups[is_seed])]
    return traced


def _near_wall(terrain: Terrain, aim: _Aim, width: float) -> IntArray:
    """Triangles of no surface of which all corners lie about the line, from the bore outward."""
    part = terrain.part
    reach = 2.0 * aim.reach + _NEAR_LEAST
    some = terrain.others
    for corner in part.triangles.T:
        some = some[_about(aim, part.vertices, corner[some], reach, width)]
    return some


def _about(
    aim: _Aim, vertices: FloatArray, corners: IntArray, reach: float, width: float
) -> BoolArray:
    """Which vertices lie within reach of the line and not behind the opening."""
    stations = vertices[corners, 2]
    out = max(float(np.hypot(*aim.rows[2, :2])), 0.1)
    farthest = 4.0 * width / out
    ends = aim.point[2] + np.array([0.0, aim.rows[2, 2] * farthest])
    near = (stations >= ends.min() - reach) & (stations <= ends.max() + reach)
    local = aim.local(vertices[corners[near]])
    near[near] = (np.hypot(local[:, 0], local[:, 1]) <= reach) & (local[:, 2] >= -reach)
    about: BoolArray = near
    return about


def _creased(
    vertices: FloatArray,
    triangles: IntArray,
    normals: FloatArray,
    first: IntArray,
    second: IntArray,
    outward: FloatArray,
) -> BoolArray:
    """Pairs of neighbours that the wall's edge parts: it bends away sharply there."""
    centres = vertices[triangles].mean(axis=1)
    cosines = np.einsum("ij,ij->i", normals[first], normals[second])
    falls = np.einsum("ij,ij->i", centres[second] - centres[first], normals[first]) < 0.0
    leaning = heights_along(normals, outward)
    leans = np.maximum(leaning[first], leaning[second]) > _LEANING_OUT
    creased: BoolArray = falls & (cosines < np.where(leans, _OUTWARD_CREASE, _ANY_CREASE))
    return creased


def _leading_out(
    terrain: Terrain,
    aims: list[_Aim],
    owner: IntArray,
    outsides: tuple[RoundSurface, ...],
    band: float,
) -> list[Passage]:
    """Passages of those walls whose far rim meets something that faces outward."""
    part = terrain.part
    marked = np.zeros(len(part.vertices), bool)
    walls = terrain.others[owner[terrain.others] >= 0]
    marked[part.triangles[walls].ravel()] = True
    around = terrain.near[triangles_at(part.triangles[terrain.near], marked)]
    loops = region_loops(part.triangles[around], owner[around], len(part.vertices))
    passages = []
    for k, aim in enumerate(aims):
        rims = [loop for loop in loops if loop.region == k]
        far, beyond = _far_rim(
            terrain, aim, [(r.vertices, around[r.beyond_triangles]) for r in rims]
        )
        if len(far) and _leads_out(terrain, aim, beyond):
            on_it = terrain.regions[beyond] == OUTSIDE_REGION
            on_it |= _rough_triangles(part, beyond, outsides, band)
            passages.append(
                Passage(
                    aim.opening,
                    walls[owner[walls] == k],
                    aim.point,
                    aim.rows[2],
                    far,
                    beyond,
                    bool(on_it.mean() >= _ALL_BUT_NOISE),
                )
            )
    return passages


def _far_rim(
    terrain: Terrain, aim: _Aim, rims: list[tuple[IntArray, IntArray]]
) -> tuple[IntArray, IntArray]:
    """The rim around the hole that lies farthest out, and the triangles beyond it."""
    best, farthest = (np.empty(0, np.int64), np.empty(0, np.int64)), -math.inf
    for vertices, beyond in rims:
        local = aim.local(terrain.part.vertices[vertices])
        at_bore = _share(terrain.regions[beyond], aim.opening.line) > _MOSTLY
        height = float(local[:, 2].mean())
        if not at_bore and height > farthest and winding(local[:, :2]) != 0:
            best, farthest = (vertices, beyond), height
    return best


def _leads_out(terrain: Terrain, aim: _Aim, beyond: IntArray) -> bool:
    """Is what lies beyond the far rim the outside, and no floor or other bore?"""
    part, regions = terrain.part, terrain.regions[beyond]
    normals, _ = triangle_normals(Mesh(part.vertices, part.triangles[beyond]))
    out = heights_along(normals, aim.rows[2]) > _FACING_OUT
    return float(((regions < 0) & out).mean()) > _MOSTLY
