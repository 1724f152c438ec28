"""What leaning costs a part, in its own numbers."""

from __future__ import annotations

import math

import numpy as np

from ..meshes.mesh_checks import triangle_normals
from ..values import FloatArray, Lean, Mesh, Settings, SideHole, Survey

_TOUCHING = 1e-3
_SOME = 1.0
_STEEP = math.radians(45.0)
_LEVEL = math.radians(60.0)
_FACING = math.sin(math.radians(1.0))


def lean_reasons(
    survey: Survey, mesh: Mesh, lean: Lean, rows: FloatArray, settings: Settings
) -> list[str]:
    """Why it would better stand upright; each part of a sentence.

    Parameters
    ----------
    mesh : in the part frame
    rows : (3, 3) rotation from the part frame to the leaning part
    """
    reasons = [_standing(mesh, rows), _overhang(survey, lean)]
    if survey.bores and lean.tilt < _LEVEL:
        reasons.append(_ellipse(survey, lean, settings))
    holes = sum(_hole_way(hole) @ rows[2] < -_FACING for hole in survey.side_holes)
    if holes:
        face = "faces" if holes == 1 else "face"
        count = len(survey.side_holes)
        reasons.append(f"{holes} of its {count} side holes {face} the bed, where supports go")
    return reasons


def _standing(mesh: Mesh, rows: FloatArray) -> str:
    leaning, upright = _contact(mesh, rows[2]), _contact(mesh, np.array([0.0, 0.0, 1.0]))
    on_edge = "stands on an edge" if leaning < _SOME else f"has {leaning:.0f} mm2 on the bed"
    against = f", upright on {upright:.0f} mm2" if upright > leaning else ""
    return f"leaning it {on_edge}{against}, and needs supports and a brim"


def _contact(mesh: Mesh, upright: FloatArray) -> float:
    """Area, mm2, on the bed."""
    heights = mesh.vertices @ upright
    touching = (heights < heights.min() + _TOUCHING)[mesh.triangles].all(axis=1)
    return float(triangle_normals(mesh)[1][touching].sum())


def _overhang(survey: Survey, lean: Lean) -> str:
    what = "the upper half of its bore and its lower side" if survey.bores else "its lower side"
    verb = "overhang" if survey.bores else "overhangs"
    more = ", more than prints without supports" if lean.tilt > _STEEP else ""
    return f"{what} {verb} by up to {math.degrees(lean.tilt):.1f} degrees from upright{more}"


def _ellipse(survey: Survey, lean: Lean, settings: Settings) -> str:
    """A plane cuts a cylinder of diameter d that leans by t in an ellipse d / cos t long."""
    middle = (survey.bore.start + survey.bore.stop) / 2.0
    across = 2.0 * survey.bore.radius_at(middle)
    along, step = across / math.cos(lean.tilt), settings.layer * math.tan(lean.tilt)
    return (
        f"layers cut its {across:.2f} mm bore in ellipses {along:.2f} mm long, each {step:.3f} mm "
        f"beside the one below"
    )


def _hole_way(hole: SideHole) -> FloatArray:
    """(3,) unit, outward along a hole, in the part frame."""
    if hole.wall is not None:
        return np.array(hole.wall.direction)
    return np.array([math.cos(hole.angle), math.sin(hole.angle), 0.0])
