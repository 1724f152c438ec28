"""Loose specks that carry another label than the surface they lie in.

The normal of a sliver points anywhere by rounding, that of any small triangle by the
noise of a scan. A survey then takes it for something else: for a piece of an end,
say, where a hole all but touches the end, or for nothing known in the midst of one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import short_way
from ..meshes.borders import RegionLoop, inner_edges
from ..meshes.connected import connected_groups
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .targets import Flat, Regions, Target

_MOST_TRIANGLES = 50


@dataclass(frozen=True, slots=True, eq=False)
class _Patches:
    """Connected patches of triangles at borders or in the plane of a flat.

    triangles, patch : (k,) numbers of triangles, and the patch that each is of
    whole : (p,) whether a patch is known whole
    small : (p,) whether it is so small that a round surface may take it
    is_round : (p,) whether it is of a round surface itself
    hosts : (e, 2) patch and the region beside it, once for each edge between them
    """

    triangles: IntArray
    patch: IntArray
    whole: BoolArray
    small: BoolArray
    is_round: BoolArray
    hosts: IntArray

    def __post_init__(self) -> None:
        for array in (self.triangles, self.patch, self.whole, self.small, self.is_round):
            read_only(array)
        read_only(self.hosts)

    def beside(self, region: int) -> BoolArray:
        """(p,) patches with an edge to a region; of a round surface those with no other edges."""
        count = len(self.whole)
        shared = np.bincount(self.hosts[self.hosts[:, 1] == region, 0], minlength=count)
        edges = np.bincount(self.hosts[:, 0], minlength=count)
        beside: BoolArray = np.where(self.is_round, shared == edges, shared > 0)
        return beside


def without_specks(
    mesh: Mesh, regions: Regions, loops: list[RegionLoop], reach: float
) -> Regions | None:
    """The regions with loose specks given to the surface beside them; None if there are none.

    A few triangles that hang together belong to the flat or round surface beside them
    that their corners lie nearest to, if no point of them lies farther than `reach` off it;
    a wide sliver, whose corners lie on a circle and its chord within, stays what it is.
    """
    if _has_none(regions, loops):
        return None
    patches = _find_patches(mesh, regions, loops, reach)
    nearest = np.full(len(patches.whole), np.inf)
    taker = np.full(len(patches.whole), -1)
    hosts: list[Flat | Target] = [*regions.flats, *regions.targets]
    for host in hosts:
        asked = np.flatnonzero(_may_take(patches, host)[patches.patch])
        off, chord = _off(mesh.vertices[mesh.triangles[patches.triangles[asked]]], host)
        farthest, deepest = np.zeros((2, len(taker)))
        np.maximum.at(farthest, patches.patch[asked], off)
        np.maximum.at(deepest, patches.patch[asked], chord)
        takes = np.zeros(len(taker), bool)
        takes[patches.patch[asked]] = True
        takes &= (farthest <= reach) & (farthest < nearest)
        nearest[takes] = farthest[takes]
        taker[takes] = np.where(deepest[takes] <= reach, host.region, -1)
    if (taker < 0).all():
        return None
    given = np.flatnonzero(taker[patches.patch] >= 0)
    ids = regions.ids.copy()
    ids[patches.triangles[given]] = taker[patches.patch[given]]
    return Regions(ids, regions.targets, regions.flats, regions.walls)


def _has_none(regions: Regions, loops: list[RegionLoop]) -> bool:
    """Is every triangle of a known surface, and does each two of them meet in one loop only?"""
    known = {target.region for target in regions.targets}
    known |= {flat.region for flat in regions.flats} | {wall.region for wall in regions.walls}
    pairs = [(loop.region, int(loop.beyond[0])) for loop in loops if np.ptp(loop.beyond) == 0]
    return len(set(pairs)) == len(loops) and all(loop.region in known for loop in loops)


def _may_take(patches: _Patches, host: Flat | Target) -> BoolArray:
    """(p,) patches beside a surface that it may take: a round one takes small ones only."""
    taken = patches.whole & patches.beside(host.region)
    if isinstance(host, Target):
        taken &= patches.small & ~patches.is_round
    return taken


def _find_patches(mesh: Mesh, regions: Regions, loops: list[RegionLoop], reach: float) -> _Patches:
    triangles = np.flatnonzero(_may_be_of_a_speck(mesh, regions, loops, reach))
    own = regions.ids[triangles]
    first, second = (half // 3 for half in inner_edges(mesh.triangles[triangles]))
    same = own[first] == own[second]
    patch = connected_groups(len(triangles), first[same], second[same])
    count = int(patch.max(initial=-1)) + 1
    edges = np.concatenate([np.empty(0, np.int64), *(loop.triangles for loop in loops)])
    beyond = np.concatenate([np.empty(0, np.int64), *(loop.beyond for loop in loops)])
    border = patch[np.searchsorted(triangles, edges)]
    sizes = np.bincount(patch, minlength=count)
    inner = np.bincount(patch[first[same]], minlength=count)
    whole = 3 * sizes == 2 * inner + np.bincount(border, minlength=count)
    is_round = np.zeros(count, bool)
    is_round[patch[np.isin(own, [target.region for target in regions.targets])]] = True
    small = sizes <= _MOST_TRIANGLES
    return _Patches(triangles, patch, whole, small, is_round, np.column_stack([border, beyond]))


def _may_be_of_a_speck(
    mesh: Mesh, regions: Regions, loops: list[RegionLoop], reach: float
) -> BoolArray:
    """(m,) triangles with a corner on a border, or with no label and in the plane of a flat."""
    on_border = np.zeros(len(mesh.vertices), bool)
    for loop in loops:
        on_border[loop.vertices] = True
    chosen = np.zeros(len(mesh.triangles), bool)
    for corner in range(3):
        chosen |= on_border[mesh.triangles[:, corner]]
    is_round = np.zeros(int(regions.ids.max(initial=0)) + 1, bool)
    is_round[[t.region for t in regions.targets if t.region < len(is_round)]] = True
    others = np.flatnonzero(~is_round[regions.ids])
    heights = mesh.vertices[mesh.triangles[others], 2]
    low, high = heights.min(axis=1), heights.max(axis=1)
    for flat in regions.flats:
        level = (low >= flat.station - reach) & (high <= flat.station + reach)
        chosen[others[level]] = True
    return chosen


def _off(corners: FloatArray, host: Flat | Target) -> tuple[FloatArray, FloatArray]:
    """(k,) mm, how far the corners of triangles (k, 3, 3) lie off a surface; and their chords."""
    if isinstance(host, Flat):
        level: FloatArray = np.abs(corners[:, :, 2] - host.station).max(axis=1)
        return level, np.zeros(len(corners))
    x, y = host.surface.offset
    across, left = corners[:, :, 0] - x, corners[:, :, 1] - y
    radii = host.surface.radii_at(corners[:, :, 2])
    off: FloatArray = np.abs(np.hypot(across, left) - radii).max(axis=1)
    angles = np.arctan2(left, across)
    width = np.abs(short_way(np.roll(angles, -1, axis=1) - angles)).max(axis=1)
    return off, radii.max(axis=1) * (1.0 - np.cos(width / 2.0))
