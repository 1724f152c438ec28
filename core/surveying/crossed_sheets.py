"""Where sheets of a part's mesh cross that are not a round wall: ornament, or an odd outside.

Only triangles of no known surface are asked, against each other and against known surfaces that
they come near to. A plain tube has next to none. What crosses with a bore, a side hole or an
end leaves no telling what is solid there. Elsewhere what lies beyond the crossing is solid twice
over, or turned inside out, in the pieces as in the source: it is told, and seams keep off it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import plane_lengths
from ..meshes.borders import connected_patches, triangles_at
from ..meshes.in_blocks import blocks
from ..meshes.piercings import Piercings, find_piercings
from ..meshes.segments import nearest_on
from ..values import (
    HOLE,
    OTHER,
    OUTSIDE,
    ROUND_OFF,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    read_only,
)
from .bore_openings import OTHER_REGION, Terrain

_NEAR = 0.5
"""Within this of a border, mm, a wall leaves its surface and is near it without crossing it; and
what crosses there crosses by how rough the rim is."""

_NOISE_REACH = 6.0
"""Slivers of a scan cross, by its noise; what goes so many times its rms deep does not."""

_MOST_BOXES = 8
"""About what comes near to known surfaces; of more patches there is one box about all."""

_AT_ONCE = 1 << 18
"""Pairs of a point and an edge that are measured together."""

_LONG = 30.0
"""A triangle wider than this, mm, is a facet of the part, not of what hangs on it."""


@dataclass(frozen=True, slots=True, eq=False)
class CrossedSheets:
    """Where sheets cross.

    spoiling : (k, 3) mm, where a bore, a side hole, an end or what hangs on a bore is crossed
    apart : (k, 3) mm, where none is
    keep_off : what lies beyond the latter, for seams to keep off
    """

    spoiling: FloatArray
    apart: FloatArray
    keep_off: tuple[Ornament, ...]

    def __post_init__(self) -> None:
        read_only(self.spoiling)
        read_only(self.apart)


def find_crossed_sheets(
    terrain: Terrain,
    labels: IntArray,
    surfaces: tuple[RoundSurface, ...],
    length: float,
    band: float,
) -> CrossedSheets:
    """Where what belongs to no surface crosses itself, or a surface.

    Parameters
    ----------
    labels : (m,) of the triangles, with the walls of round side holes marked
    surfaces : bores and outsides
    length : mm, between the ends
    band : mm, how far off its surface a vertex may lie
    """
    asked = terrain.others[labels[terrain.others] != HOLE]
    if not len(asked):
        return _sorted_out(terrain, labels, asked, _none())
    known = np.setdiff1d(terrain.near, asked, assume_unique=True)
    suspects = asked[_come_near(terrain, asked, surfaces, length, band)]
    if len(suspects):
        known = np.union1d(known, _in_box(terrain.part, suspects, labels))
    noise = max((surface.rms for surface in surfaces), default=band / _NOISE_REACH)
    slack = max(ROUND_OFF, _NOISE_REACH * noise)
    found = find_piercings(terrain.part, asked, known, slack)
    return _sorted_out(terrain, labels, asked, _off_borders(terrain, found, max(slack, _NEAR)))


def _none() -> Piercings:
    return Piercings(np.empty(0, np.int64), np.empty(0, np.int64), np.empty((0, 3)))


def _off_borders(terrain: Terrain, found: Piercings, reach: float) -> Piercings:
    """Those that are not within reach of where surfaces end.

    A facet of a hole's wall may pass the edge of a facet beside the rim, by noise or where a
    rim is rounder than the facets that it is in: its corners lie far off that facet, but it goes
    through no deeper than the rim is off. Truing makes rims anew.

    reach : mm
    """
    if not len(found.points) or not terrain.loops:
        return found
    vertices = terrain.part.vertices
    starts = np.concatenate([vertices[loop.vertices] for loop in terrain.loops])
    ends = np.concatenate([vertices[np.roll(loop.vertices, -1)] for loop in terrain.loops])
    far = np.empty(len(found.points), bool)
    for some in blocks(len(far), max(1, _AT_ONCE // len(starts))):
        points = found.points[some, None]
        off = points - nearest_on(points, starts, ends)
        far[some] = ((off**2).sum(axis=2) > reach**2).all(axis=1)
    return Piercings(found.first[far], found.second[far], found.points[far])


# What may cross known surfaces


def _come_near(
    terrain: Terrain,
    asked: IntArray,
    surfaces: tuple[RoundSurface, ...],
    length: float,
    band: float,
) -> BoolArray:
    """(k,) which triangles go through a surface, or near it where it does not end."""
    part = terrain.part
    corners = part.triangles[asked]
    points = part.vertices[corners]
    at_border = np.zeros(len(part.vertices), bool)
    for loop in terrain.loops:
        if loop.region == OTHER_REGION:
            at_border[loop.vertices] = True
    through, near = np.zeros((2, len(asked)), bool)
    low, high = points[..., 2].min(axis=1), points[..., 2].max(axis=1)
    for surface in surfaces:
        least, most = _reach(points, surface)
        beside = (low < surface.stop) & (high > surface.start)
        inner, outer = -surface.sagitta - band, band
        through |= beside & (least < inner) & (most > outer)
        near |= beside & (least < outer) & (most > inner)
    for end in (0.0, length):
        through |= (low < end - band) & (high > end + band)
        near |= (low < end + band) & (high > end - band)
    near &= ~at_border[corners].any(axis=1)
    rows = np.flatnonzero(near & ~through)
    near[rows] = _far_from(points[rows], part.vertices[at_border])
    found: BoolArray = near | through
    return found


def _reach(points: FloatArray, surface: RoundSurface) -> tuple[FloatArray, FloatArray]:
    """Least and most, mm, that triangles lie outside a surface, sides included."""
    across = points[..., :2] - np.array(surface.offset)
    nearest = nearest_on(np.zeros(2), across, np.roll(across, -1, axis=1))
    radii = surface.radii_at(points[..., 2].clip(surface.start, surface.stop))
    inner = np.hypot(nearest[..., 0], nearest[..., 1]).min(axis=1) - radii.max(axis=1)
    outer = np.hypot(across[..., 0], across[..., 1]) - radii
    return np.minimum(inner, outer.min(axis=1)), outer.max(axis=1)


def _far_from(triangles: FloatArray, borders: FloatArray) -> BoolArray:
    """(k,) which triangles have their middles in no cell beside one with a border's vertex."""
    if not len(triangles) or not len(borders):
        return np.ones(len(triangles), bool)
    middles = triangles.mean(axis=1)
    origin = np.minimum(middles.min(axis=0), borders.min(axis=0))
    cells, taken = (
        np.floor((points - origin) / _NEAR).astype(np.int64) + 1 for points in (middles, borders)
    )
    spread = np.maximum(cells.max(axis=0), taken.max(axis=0)) + 2
    weights = np.array([spread[1] * spread[2], spread[2], 1])
    steps = np.array(list(np.ndindex(3, 3, 3))) - 1
    around = (cells[:, None] + steps) @ weights
    far: BoolArray = ~np.isin(around, np.unique(taken @ weights)).any(axis=1)
    return far


def _in_box(part: Mesh, suspects: IntArray, labels: IntArray) -> IntArray:
    """Triangles of known surfaces in the boxes about what suspects hang together."""
    patch = connected_patches(part.triangles, suspects)
    inside = np.zeros(len(labels), bool)
    few = int(patch.max()) < _MOST_BOXES
    for number in range(int(patch.max()) + 1 if few else 1):
        mine = suspects[patch == number] if few else suspects
        points = part.vertices[part.triangles[mine]].reshape(-1, 3)
        low, high = points.min(axis=0), points.max(axis=0)
        reaches = np.ones(len(labels), bool)
        for axis in range(3):
            along = np.ascontiguousarray(part.vertices[:, axis])
            under, over = along <= high[axis], along >= low[axis]
            reaches &= under[part.triangles].any(axis=1) & over[part.triangles].any(axis=1)
        inside |= reaches
    return np.flatnonzero(inside & (labels != OTHER))


# What the crossings spoil


def _sorted_out(
    terrain: Terrain, labels: IntArray, asked: IntArray, found: Piercings
) -> CrossedSheets:
    """Crossings that leave no telling what is solid, and those that seams can keep off."""
    if not len(found.points):
        return CrossedSheets(found.points, found.points, ())
    crossing = np.concatenate([found.first, found.second])
    bad = ~np.isin(labels[crossing], [OTHER, OUTSIDE]) | _hang_on_bore(terrain, asked, crossing)
    spoils = bad.reshape(2, -1).any(axis=0)
    keep_off = () if spoils.all() else _beyond(terrain.part, found, ~spoils)
    return CrossedSheets(found.points[spoils], found.points[~spoils], keep_off)


def _hang_on_bore(terrain: Terrain, asked: IntArray, crossing: IntArray) -> BoolArray:
    """Which triangles are of a patch that borders on a bore."""
    place = np.full(len(terrain.part.triangles), -1, np.int64)
    place[asked] = patch = connected_patches(terrain.part.triangles, asked)
    on_bore = np.zeros(int(patch.max(initial=-1)) + 2, bool)
    for loop in terrain.loops:
        if loop.region == OTHER_REGION:
            on_bore[place[loop.triangles[loop.beyond >= 0]]] = True
    on_bore[-1] = False
    hangs: BoolArray = on_bore[place[crossing]]
    return hangs


def _beyond(part: Mesh, found: Piercings, apart: BoolArray) -> tuple[Ornament, ...]:
    """What lies beyond crossings, sheet by sheet, with the triangles that cross.

    Without those and all beside them the mesh falls apart: its largest part is the part proper,
    whatever else comes near to the crossings lies beyond them.

    apart : (k,) which of the crossings count
    """
    crossing = np.unique(np.concatenate([found.first[apart], found.second[apart]]))
    marked = np.zeros(len(part.vertices), bool)
    marked[part.triangles[crossing].ravel()] = True
    ring = triangles_at(part.triangles, marked)
    marked[part.triangles[ring].ravel()] = True
    rest = np.setdiff1d(np.arange(len(part.triangles)), ring, assume_unique=True)
    patch = connected_patches(part.triangles, rest)
    touches = np.zeros(int(patch.max(initial=-1)) + 1, bool)
    touches[patch[marked[part.triangles[rest]].any(axis=1)]] = True
    touches[np.bincount(patch).argmax()] = False
    wide = np.ptp(part.vertices[part.triangles], axis=1).max(axis=1) > _LONG
    beyond = np.union1d(ring[~wide[ring]], rest[touches[patch]])
    bare = apart & wide[found.first] & wide[found.second]
    sheets = connected_patches(part.triangles, beyond)
    lots = [
        part.triangles[beyond[sheets == k]].ravel() for k in range(int(sheets.max(initial=-1)) + 1)
    ]
    return tuple(
        _kept_off(points)
        for points in (found.points[bare], *(part.vertices[lot] for lot in lots))
        if len(points)
    )


def _kept_off(points: FloatArray) -> Ornament:
    radii = plane_lengths(points[:, 0], points[:, 1])
    low, high = float(points[:, 2].min()), float(points[:, 2].max())
    return Ornament(low, high, float(radii.min()), float(radii.max()))
