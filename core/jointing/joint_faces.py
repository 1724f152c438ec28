"""The faces of tenons and of sockets between the outlines that cutting left open."""

from __future__ import annotations

import numpy as np

from ..values import (
    FACET_ALLOWANCE,
    FloatArray,
    IntArray,
    Tenon,
    WallStretch,
)
from .face_builder import FaceBuilder
from .footprint import Footprint, socket_footprint, tenon_footprint
from .open_ends import CutBores
from .web_faces import add_roof_ridge, add_tenon_ridge

_LEAST_RELIEF = 0.05


def add_tenon(builder: FaceBuilder, tenon: Tenon, bores: CutBores) -> IntArray:
    """Tenon wall, witness marks, tip cone and land on the lower piece.

    Returns
    -------
    The ring at which the shoulder ends, counter-clockwise
    """
    outline = tenon_footprint(tenon, bores.generators)
    tops = np.array([tenon.tip_height_at(u) for u in outline.u.tolist()])
    level = np.full(len(tops), tenon.station)
    land_u = np.full(len(tops), tenon.bore_radius_at_tip + tenon.land)
    foot = builder.ring(outline.points(outline.u, level))
    head = builder.ring(outline.points(outline.u, tops))
    land = builder.ring(outline.points(land_u, np.full(len(tops), tenon.tip)))
    builder.quads(foot, head, closed=True, up=True)
    builder.quads(head, land, closed=True, up=True)
    if not tenon.bores:
        builder.section([land], up=True)
    elif len(tenon.bores) > 1:
        add_tenon_ridge(builder, bores, tenon, outline, land)
    else:
        builder.band(land, bores.rings[0], tenon.centres[0], closed=True, up=True)
    return _with_root_marks(builder, tenon, outline, foot)


def _with_root_marks(
    builder: FaceBuilder, tenon: Tenon, outline: Footprint, foot: IntArray
) -> IntArray:
    """Nicks into the shoulder along the tenon's root; the shoulder's ring around them."""
    detours = {}
    for mark, chain in zip(tenon.marks, outline.mark_chains(), strict=True):
        deep = _chain(builder, outline, chain, 0.0, tenon.station - mark.depth)
        rim = _chain(builder, outline, chain, mark.depth, tenon.station)
        builder.quads(deep, foot[chain], closed=False, up=True)
        builder.quads(deep, rim, closed=False, up=False)
        builder.upright_face([foot[chain[0]], rim[0], deep[0]])
        builder.upright_face([foot[chain[-1]], deep[-1], rim[-1]])
        detours[int(chain[0])] = (chain, rim)
    return _with_detours(foot, detours)


def add_socket(
    builder: FaceBuilder,
    tenon: Tenon,
    bores: CutBores,
    wall: WallStretch,
    least_wall: float,
    mouth_relief: float,
) -> IntArray:
    """The mouth's relief, witness marks, socket wall and roof cone in the upper piece.

    Parameters
    ----------
    wall : that the seam lies in
    mouth_relief : mm, bevel for the first layer's bulge

    Returns
    -------
    The ring at which the mouth's flat ends, counter-clockwise
    """
    outline = socket_footprint(tenon, bores.generators)
    relief = np.minimum(mouth_relief, _spare_at_mouth(outline, tenon, wall, least_wall))
    relief = np.where(relief >= _LEAST_RELIEF, relief, 0.0)
    tops = np.array([tenon.roof_height_at(u) for u in outline.u.tolist()])
    level = np.full(len(tops), tenon.station)
    mouth = builder.ring(outline.points(outline.u + relief, level))
    foot = builder.ring(outline.points(outline.u, tenon.station + relief))
    foot = np.where(relief > 0.0, foot, mouth)
    head = builder.ring(outline.points(outline.u, tops))
    ring = _add_mouth(builder, tenon, outline, (mouth, foot, head))
    if not tenon.bores:
        builder.fan(head, (*tenon.centres[0], tenon.roof_top), up=False)
    elif len(tenon.bores) > 1:
        add_roof_ridge(builder, bores, tenon, outline, head)
    else:
        builder.cone(head, bores.rings[0], tenon.centres[0], closed=True, up=False)
    return ring


def _add_mouth(
    builder: FaceBuilder,
    tenon: Tenon,
    outline: Footprint,
    rings: tuple[IntArray, IntArray, IntArray],
) -> IntArray:
    """From the mouth's flat over its relief up to the roof, with nicks; the flat's ring."""
    mouth, foot, head = rings
    if not tenon.marks:
        builder.quads(mouth, foot, closed=True, up=False)
        builder.quads(foot, head, closed=True, up=False)
        return mouth
    depth = tenon.marks[0].depth
    belt = builder.ring(outline.points(outline.u, np.full(len(outline.u), tenon.station + depth)))
    builder.quads(belt, head, closed=True, up=False)
    detours = {}
    chains = outline.mark_chains()
    for chain in chains:
        rim = _chain(builder, outline, chain, depth, tenon.station)
        builder.quads(rim, belt[chain], closed=False, up=False)
        first, last = chain[0], chain[-1]
        builder.upright_face([mouth[first], foot[first], belt[first], rim[0]])
        builder.upright_face([mouth[last], rim[-1], belt[last], foot[last]])
        detours[int(first)] = (chain, rim)
    for chain in _between(chains, len(outline.u)):
        builder.quads(mouth[chain], foot[chain], closed=False, up=False)
        builder.quads(foot[chain], belt[chain], closed=False, up=False)
    return _with_detours(mouth, detours)


def _between(chains: list[IntArray], count: int) -> list[IntArray]:
    """The corners from the end of each chain to the start of the next."""
    ordered = sorted(chains, key=lambda chain: int(chain[0]))
    gaps = []
    for chain, after in zip(ordered, [*ordered[1:], ordered[0]], strict=True):
        steps = (after[0] - chain[-1]) % count
        gaps.append((chain[-1] + np.arange(steps + 1)) % count)
    return gaps


def _chain(
    builder: FaceBuilder, outline: Footprint, chain: IntArray, out: float, station: float
) -> IntArray:
    """New corners along a stretch of an outline, so far out, at a station."""
    points = outline.points(outline.u + out, np.full(len(outline.u), station))
    return builder.ring(points[chain])


def _with_detours(ring: IntArray, detours: dict[int, tuple[IntArray, IntArray]]) -> IntArray:
    """A ring that between the ends of some stretches goes another way."""
    if not detours:
        return ring
    inside = np.zeros(len(ring), bool)
    for chain, _ in detours.values():
        inside[chain[1:-1]] = True
    way: list[IntArray] = []
    for corner in np.flatnonzero(~inside).tolist():
        way.append(ring[[corner]])
        if corner in detours:
            way.append(detours[corner][1])
    return np.concatenate(way)


def _spare_at_mouth(
    outline: Footprint, tenon: Tenon, wall: WallStretch, least_wall: float
) -> FloatArray:
    """What a bevel at the mouth may take at each corner, mm."""
    outer = wall.outer
    narrowest = min(outer.radius_at(tenon.station), outer.radius_at(min(tenon.tip, wall.stop)))
    off = float(np.hypot(*np.subtract(outer.offset, tenon.centres[0])))
    limit = narrowest - off - outer.sagitta - least_wall - FACET_ALLOWANCE / 2.0
    spare: FloatArray = limit - outline.u
    return spare
