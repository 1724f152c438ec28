"""The faces of tenons and of sockets between the outlines that cutting left open."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from ..values import (
    AXIAL_GAP,
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
    head_u = outline.u if tenon.rib_height is None else _without_ribs(outline.u, tenon)
    tops = np.array([tenon.tip_height_at(u) for u in head_u.tolist()])
    level = np.full(len(tops), tenon.station)
    land_u = np.full(len(tops), tenon.bore_radius_at_tip + tenon.land)
    foot = builder.ring(outline.points(outline.u, level))
    head = builder.ring(outline.points(head_u, tops))
    land = builder.ring(outline.points(land_u, np.full(len(tops), tenon.tip)))
    _add_tenon_wall(builder, tenon, outline, foot, head)
    builder.quads(head, land, closed=True, up=True)
    if not tenon.bores:
        builder.section([land], up=True)
    elif len(tenon.bores) > 1:
        add_tenon_ridge(builder, bores, tenon, outline, land)
    else:
        builder.band(land, bores.rings[0], tenon.centres[0], closed=True, up=True)
    return _with_root_marks(builder, tenon, outline, foot)


def _without_ribs(u: FloatArray, tenon: Tenon) -> FloatArray:
    """The tenon's u over its ribs."""
    return np.full(len(u), tenon.tenon_radius)


def _add_tenon_wall(
    builder: FaceBuilder, tenon: Tenon, outline: Footprint, foot: IntArray, head: IntArray
) -> None:
    """From the foot to the tip's cone; over ribs that end lower, and into a groove."""
    count = len(outline.u)
    rings = [foot]
    if tenon.rib_height is not None:
        top = np.full(count, tenon.station + tenon.rib_height)
        ribs = outline.u > tenon.tenon_radius
        rib_tops = builder.ring(outline.points(outline.u, top))
        over = builder.ring(outline.points(_without_ribs(outline.u, tenon), top))
        rings += [rib_tops, np.where(ribs, over, rib_tops)]
    if tenon.groove is not None:
        rings += [
            builder.ring(
                outline.points(
                    np.full(count, tenon.tenon_radius - depth),
                    np.full(count, tenon.station + height),
                )
            )
            for depth, height in tenon.groove.profile
        ]
    for low, high in pairwise([*rings, head]):
        builder.quads(low, high, closed=True, up=True)


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
    bevel = tenon.mouth_bevel(mouth_relief)
    relief = np.minimum(bevel, _spare_at_mouth(outline, tenon, wall, least_wall))
    relief = np.where(relief >= _LEAST_RELIEF, relief, 0.0)
    head_u = outline.u if tenon.rib_height is None else _plain_socket(tenon, bores)
    tops = np.array([tenon.roof_height_at(u) for u in head_u.tolist()])
    level = np.full(len(tops), tenon.station)
    mouth = builder.ring(outline.points(outline.u + relief, level))
    foot = builder.ring(outline.points(outline.u, tenon.station + relief))
    foot = np.where(relief > 0.0, foot, mouth)
    head = builder.ring(outline.points(head_u, tops))
    rib_roof = _add_rib_roof(builder, tenon, outline, head_u, head)
    ring = _add_mouth(builder, tenon, outline, (mouth, foot, rib_roof))
    if not tenon.bores:
        builder.fan(head, (*tenon.centres[0], tenon.roof_top), up=False)
    elif len(tenon.bores) > 1:
        add_roof_ridge(builder, bores, tenon, outline, head)
    else:
        builder.cone(head, bores.rings[0], tenon.centres[0], closed=True, up=False)
    return ring


def _plain_socket(tenon: Tenon, bores: CutBores) -> FloatArray:
    """The socket's u over the grooves for ribs, on the same normals."""
    flat = tuple(replace(key, relief=0.0) for key in tenon.keys)
    return socket_footprint(replace(tenon, keys=flat), bores.generators).u


def _add_rib_roof(
    builder: FaceBuilder, tenon: Tenon, outline: Footprint, plain_u: FloatArray, head: IntArray
) -> IntArray:
    """The 45 degree roof over grooves for ribs that end lower; the ring under it, or the head."""
    if tenon.rib_height is None:
        return head
    out = np.where(outline.u > tenon.socket_radius + tenon.relief / 2.0, outline.u - plain_u, 0.0)
    low = np.full(len(out), tenon.station + tenon.rib_height + AXIAL_GAP)
    # off the grooves the plain wall's corners: those beside a rib are grown for no edge of it
    under = builder.ring(outline.points(plain_u + out, low))
    over = builder.ring(outline.points(plain_u, low + out))
    over = np.where(out > 0.0, over, under)
    builder.quads(under, over, closed=True, up=False)
    builder.quads(over, head, closed=True, up=False)
    return under


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
