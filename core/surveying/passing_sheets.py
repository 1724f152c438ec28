"""Where a part's mesh passes through itself: what hangs on one side of the wall shows on the other.

A dent, a spike or a fold of the outside that reaches into a bore whose own wall is whole all
around there has gone through that wall, and so has what hangs on a bore and stands out of
a round outside that is whole around it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import plane_lengths
from ..meshes.borders import connected_patches
from ..values import BoolArray, FloatArray, IntArray, Mesh, RoundSurface, read_only
from .bore_openings import OTHER_REGION, OUTSIDE_REGION, Terrain


@dataclass(frozen=True, slots=True, eq=False)
class _Loose:
    """The triangles of no surface, with what they hang on.

    rows : (k,) int, those that are no walls of side holes
    at_bore, at_outside : (k,) bool, whether their patches border on a bore, on the outside
    hole_stations : (h, 2) mm, lowest and highest of each triangle of the side holes' walls
    """

    rows: IntArray
    at_bore: BoolArray
    at_outside: BoolArray
    hole_stations: FloatArray

    def __post_init__(self) -> None:
        for array in (self.rows, self.at_bore, self.at_outside, self.hole_stations):
            read_only(array)


def passing_points(
    terrain: Terrain,
    in_holes: IntArray,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    band: float,
) -> FloatArray:
    """(k, 3) mm, corners that have gone through a bore's wall or the round outside.

    Only corners are asked, and only where nothing else opens the surface at those stations.

    Parameters
    ----------
    in_holes : numbers of the triangles that are walls of side holes
    band : mm, how far off its surface a vertex may lie
    """
    part = terrain.part
    few = 3 * len(terrain.others) < len(part.vertices)
    asked = np.unique(part.triangles[terrain.others]) if few else slice(None)
    points = part.vertices[asked]
    loose: _Loose | None = None
    found = [np.empty((0, 3))]
    for surface, turn in [*((b, -1.0) for b in bores), *((o, 1.0) for o in outsides)]:
        farther = _is_beyond(points, surface, turn, band)
        if _within(points[farther, 2], surface, band).any():
            beyond = np.zeros(len(part.vertices), bool)
            beyond[asked] = farther
            loose = _loose(terrain, in_holes) if loose is None else loose
            found.append(_gone_through(part, loose, beyond, surface, turn, band))
    passing: FloatArray = np.unique(np.concatenate(found), axis=0)
    return passing


def _is_beyond(points: FloatArray, surface: RoundSurface, turn: float, band: float) -> BoolArray:
    """(n,) which points lie farther in than a bore (turn -1), or farther out than an outside."""
    across, up = points[:, 0] - surface.offset[0], points[:, 1] - surface.offset[1]
    radii = surface.radii_at(points[:, 2].clip(surface.start, surface.stop))
    slack = band + surface.level_spread + (surface.sagitta if turn < 0.0 else 0.0)
    beyond: BoolArray = turn * (plane_lengths(across, up) - radii) > slack
    return beyond


def _within(stations: FloatArray, surface: RoundSurface, band: float) -> BoolArray:
    inside: BoolArray = (stations > surface.start + band) & (stations < surface.stop - band)
    return inside


def _loose(terrain: Terrain, in_holes: IntArray) -> _Loose:
    part = terrain.part
    rows = np.setdiff1d(terrain.others, in_holes, assume_unique=True)
    patch = connected_patches(part.triangles, rows)
    place = np.full(len(part.triangles), -1, np.int64)
    place[rows] = patch
    at_bore, at_outside = np.zeros((2, int(patch.max(initial=-1)) + 1), bool)
    for loop in (loop for loop in terrain.loops if loop.region == OTHER_REGION):
        mine = place[loop.triangles]
        at_bore[mine[(mine >= 0) & (loop.beyond >= 0)]] = True
        at_outside[mine[(mine >= 0) & (loop.beyond == OUTSIDE_REGION)]] = True
    return _Loose(rows, at_bore[patch], at_outside[patch], _stations(part, in_holes))


def _stations(part: Mesh, rows: IntArray) -> FloatArray:
    heights = part.vertices[part.triangles[rows], 2]
    return np.column_stack([heights.min(axis=1), heights.max(axis=1)])


def _gone_through(
    part: Mesh,
    loose: _Loose,
    beyond: BoolArray,
    surface: RoundSurface,
    turn: float,
    band: float,
) -> FloatArray:
    """(k, 3) the corners beyond one surface of what hangs on the other side alone."""
    opens = loose.at_bore if turn < 0.0 else loose.at_outside | ~loose.at_bore
    corners = part.triangles[loose.rows]
    deep = np.flatnonzero(beyond[corners].any(axis=1) & ~opens)
    if not len(deep):
        return np.empty((0, 3))
    open_at = np.concatenate([_stations(part, loose.rows[opens]), loose.hole_stations])
    patch = connected_patches(part.triangles, loose.rows[deep])
    points = []
    for number in range(int(patch.max()) + 1):
        mine = np.unique(corners[deep[patch == number]])
        mine = mine[beyond[mine]]
        low, high = part.vertices[mine, 2].min(), part.vertices[mine, 2].max()
        inside = surface.start + band < low and high < surface.stop - band
        if inside and not ((open_at[:, 0] <= high) & (open_at[:, 1] >= low)).any():
            points.append(part.vertices[mine])
    found: FloatArray = np.concatenate([np.empty((0, 3)), *points])
    return found
