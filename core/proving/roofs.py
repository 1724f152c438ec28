"""Faces of a joint that print in the air, the groove left in the bores, the holes' guard."""

from __future__ import annotations

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import AXIAL_GAP, Check, FloatArray, Mesh, Settings, Survey
from .joint_levels import CONTACT
from .joint_shape import JointShape
from .piece_checks import facet_depth
from .section import any_corner
from .verdicts import at_least, at_most, between, greatest

STEEPEST_DEG = 45.0
FACET_SLOPE_DEG = 0.5
"""What facets may add to a 45 degree cone: a facet whose one edge is a chord of 0.005
sagitta leans over by atan(1 + 0.005 / width) - 45, which is 0.2 at the least width of a
roof, 0.8; the rest is for the rounding of narrow facets to float32."""

NARROWEST_FACET = 1e-3
"""Facets narrower than this, mm, are passed over: rounding turns them, none prints."""


def roof_checks(
    shape: JointShape,
    lower: Mesh,
    upper: Mesh,
    survey: Survey,
    settings: Settings,
    number: int,
) -> list[Check]:
    """Our faces print unsupported; the groove in the bore; the holes' guard.

    The groove is the gap and the land, along a bore that may taper. A roof leans over
    by as much as the bore it ends in is rough.
    """
    joint = shape.joint
    mouth = float(upper.vertices[:, 2].min())
    reach = joint.socket_radius + joint.key.relief + settings.least_wall / 2.0
    top = joint.roof_top + min(settings.guard, 1.0) / 2.0
    roof_angles, roof_corners = _overhangs(upper, shape, mouth, top, reach)
    tenon_angles, _ = _overhangs(lower, shape, joint.station + CONTACT, top, reach)
    flattest = max(roof_angles.max(initial=0.0), tenon_angles.max(initial=0.0))
    roof_top = greatest(roof_corners[roof_angles > STEEPEST_DEG / 2.0])
    facets = max(
        facet_depth(survey, bore, settings, [(joint.station, joint.roof_top)])
        for bore in shape.bores
    )
    groove = roof_top - float(lower.vertices[:, 2].max())
    width = joint.socket_radius - shape.bores[0].radius_at(joint.roof_top)
    lean = np.degrees(np.arctan2(width + facets, width)) - 45.0
    slope = min(bore.slope for bore in shape.bores)
    due = (AXIAL_GAP + joint.land) / (1.0 + slope) + 2.0 * facets
    return [
        at_most(
            "self_supporting", flattest, STEEPEST_DEG + max(FACET_SLOPE_DEG, lean), joint=number
        ),
        between("bore_groove", groove, 0.0, due, joint=number),
        *_guard_check(survey, settings.guard - 2.0 * facets, (mouth, roof_top), number),
    ]


def _overhangs(
    mesh: Mesh, shape: JointShape, low: float, high: float, reach: float
) -> tuple[FloatArray, FloatArray]:
    """Downward faces in a zone, within reach of the bores, that could want support.

    Faces on the zone's floor lie on the bed or the shoulder; faces at the piece's very
    top have nothing of it above them.

    Returns
    -------
    (k,) degrees from vertical, and (k, 3) the stations of their corners
    """
    heights = mesh.vertices[:, 2]
    zoned = (heights >= low) & (heights <= high)
    ours = any_corner(zoned, mesh.triangles)
    for off in (heights > low + NARROWEST_FACET, heights < heights.max() - NARROWEST_FACET):
        ours &= any_corner(off, mesh.triangles)
    zone = mesh.triangles[ours]
    within = shape.parameters(mesh.vertices[:, :2]) < reach
    near = Mesh(mesh.vertices, zone[any_corner(within, zone)])
    normals, areas = triangle_normals(near)
    corners = near.vertices[near.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    kept = (normals[:, 2] < 0.0) & (2.0 * areas > NARROWEST_FACET * sides)
    angles: FloatArray = np.degrees(np.arcsin(np.minimum(-normals[kept, 2], 1.0)))
    return angles, corners[kept, :, 2]


def _guard_check(
    survey: Survey, guard: float, zone: tuple[float, float], number: int
) -> list[Check]:
    """Axial distance from the zone as built to the nearest edge of a side hole."""
    mouth, roof_top = zone
    distances = [max(hole.low - roof_top, mouth - hole.high) for hole in survey.side_holes]
    return [at_least("hole_guard", min(distances), guard, joint=number)] if distances else []
