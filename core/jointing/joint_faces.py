"""The faces of a tenon and of a socket between the outlines that cutting left open.

A joint keyed by a notch has open chains instead of rings, and two flanks.
"""

from __future__ import annotations

import numpy as np

from ..values import (
    FACET_ALLOWANCE,
    MOUTH_RELIEF,
    FloatArray,
    Joint,
    RoundSurface,
    WallStretch,
)
from .face_builder import FaceBuilder
from .footprint import Footprint, socket_footprint, tenon_footprint
from .open_ends import OpenEnd
from .web_faces import add_roof_ridge, add_tenon_ridge

_LEAST_RELIEF = 0.05


def add_tenon(
    builder: FaceBuilder,
    end: OpenEnd,
    joint: Joint,
    bores: list[RoundSurface],
    generators: tuple[FloatArray, ...],
) -> None:
    """Shoulder, tenon wall, tip cone and land on the lower piece.

    Parameters
    ----------
    bores, generators : of each of the joint's bores
    """
    outline = tenon_footprint(joint, generators)
    tops = np.array([joint.tip_height_at(u) for u in outline.u.tolist()])
    level = np.full(len(tops), joint.station)
    land_u = np.full(len(tops), joint.bore_radius_at_tip + joint.land)
    foot = builder.ring(outline.points(outline.u, level))
    head = builder.ring(outline.points(outline.u, tops))
    land = builder.ring(outline.points(land_u, np.full(len(tops), joint.tip)))
    closed = outline.closed
    builder.section([*end.section, np.concatenate([foot, end.low])[::-1]], up=True)
    builder.quads(foot, head, closed=closed, up=True)
    builder.quads(head, land, closed=closed, up=True)
    if len(joint.bores) > 1:
        add_tenon_ridge(builder, end, joint, outline, land, bores, generators)
        return
    builder.band(land, end.bores[0], joint.centres[0], closed=closed, up=True)
    if not closed:
        for k, side, facing in ((0, end.rise, True), (-1, end.fall, False)):
            corners = np.concatenate([[foot[k], head[k], land[k]], side[::-1]])
            builder.upright(corners, joint.centres[0], outline.angle(k), up=facing)


def add_socket(
    builder: FaceBuilder,
    end: OpenEnd,
    joint: Joint,
    bores: list[RoundSurface],
    generators: tuple[FloatArray, ...],
    wall: WallStretch,
    least_wall: float,
) -> None:
    """Mouth, its relief, socket wall and roof cone in the upper piece.

    Parameters
    ----------
    bores, generators : of each of the joint's bores
    wall : that the seam lies in
    """
    outline = socket_footprint(joint, generators)
    relief = _mouth_relief(outline, joint, wall, least_wall)
    tops = np.array([joint.roof_height_at(u) for u in outline.u.tolist()])
    level = np.full(len(tops), joint.station)
    mouth = builder.ring(outline.points(outline.u + relief, level))
    foot = builder.ring(outline.points(outline.u, joint.station + relief))
    foot = np.where(relief > 0.0, foot, mouth)
    head = builder.ring(outline.points(outline.u, tops))
    closed = outline.closed
    builder.section([*end.section, np.concatenate([mouth, end.low])[::-1]], up=False)
    builder.quads(mouth, foot, closed=closed, up=False)
    builder.quads(foot, head, closed=closed, up=False)
    if len(joint.bores) > 1:
        add_roof_ridge(builder, end, joint, outline, head, bores, generators)
        return
    builder.cone(head, end.bores[0], joint.centres[0], closed=closed, up=False)
    if not closed:
        for k, side, facing in ((0, end.rise, False), (-1, end.fall, True)):
            step = [mouth[k]] if mouth[k] == foot[k] else [mouth[k], foot[k]]
            corners = np.concatenate([step, [head[k]], side[::-1]])
            builder.upright(corners, joint.centres[0], outline.angle(k), up=facing)


def _mouth_relief(
    outline: Footprint, joint: Joint, wall: WallStretch, least_wall: float
) -> FloatArray:
    """Bevel at the mouth, mm, at each corner: none where the wall has none to spare."""
    outer, inner = wall.outer, wall.bore
    narrowest = min(outer.radius_at(joint.station), outer.radius_at(min(joint.tip, wall.stop)))
    off = float(np.hypot(*np.subtract(outer.offset, inner.offset)))
    limit = narrowest - off - outer.sagitta - least_wall - FACET_ALLOWANCE / 2.0
    relief = np.minimum(MOUTH_RELIEF, limit - outline.u)
    return np.where(relief >= _LEAST_RELIEF, relief, 0.0)
