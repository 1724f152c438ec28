"""The record of a job, job.json, as plain lists and numbers.

In mm, degrees and the datums of the contract: what lies in the part frame's
radians goes out in degrees, and the axis in the source's coordinates.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..meshes.mesh_checks import enclosed_volume
from ..values import (
    Check,
    Cut,
    Joint,
    Ornament,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
    TruedPart,
)

SCHEMA = "borewright.job/1"

PLA_DENSITY = 1.24
"""g/cm3, of PLA; from memory, data sheets say 1.22 to 1.26."""


@dataclass(frozen=True, slots=True)
class Source:
    """The file that a part came from.

    triangles : as many as the file says it holds
    """

    file: str
    sha256: str
    triangles: int
    unit: str
    scale_to_mm: float


@dataclass(frozen=True, slots=True)
class SavedFile:
    """A file as it was written."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True, eq=False)
class PartRecord:
    """All that is told of one part. A plan has no pieces and no checks."""

    name: str
    source: Source
    survey: Survey
    trued: TruedPart
    plan: Plan
    pieces: tuple[Piece, ...] = ()
    checks: tuple[Check, ...] = ()


def job_document(
    settings: Settings,
    part: PartRecord,
    files: Mapping[str, SavedFile],
    warnings: tuple[str, ...],
) -> dict[str, object]:
    """The whole of job.json. The same values give the same document.

    files : by the name of their piece
    """
    return {
        "schema": SCHEMA,
        "settings": _settings(settings),
        "parts": [
            {
                "name": part.name,
                "source": {
                    "file": part.source.file,
                    "sha256": part.source.sha256,
                    "triangles": part.source.triangles,
                    "unit": part.source.unit,
                    "scale_to_mm": part.source.scale_to_mm,
                },
                "survey": _survey(part.survey),
                "truing": {
                    "triangles_before": part.trued.triangles_before,
                    "triangles_after": len(part.trued.mesh.triangles),
                    "max_move": part.trued.max_move,
                },
                "cuts": [_cut(cut) for cut in part.plan.cuts],
                "joints": [_joint(joint) for joint in part.plan.joints],
                "pieces": [_piece(piece, files[piece.name]) for piece in part.pieces],
            }
        ],
        "beds": [],
        "checks": [_check(check, part.name) for check in part.checks],
        "warnings": list(dict.fromkeys(warnings)),
    }


def _settings(settings: Settings) -> dict[str, object]:
    return {
        "envelope": list(settings.envelope),
        "clearance": settings.clearance,
        "engagement": settings.engagement,
        "guard": settings.guard,
        "max_move": settings.max_move,
        "true": settings.true,
        "least_wall": settings.least_wall,
        "units": settings.units,
        "cut": list(settings.cuts),
        "pieces": settings.pieces,
        "flip": settings.flip,
    }


def _survey(survey: Survey) -> dict[str, object]:
    return {
        "axis": {
            "point": survey.frame.origin.tolist(),
            "direction": survey.frame.rows[2].tolist(),
        },
        "length": survey.length,
        "bores": [_round_surface(survey.bore)],
        "outer": _round_surface(survey.outside),
        "side_holes": [_side_hole(hole) for hole in survey.side_holes],
        "ornaments": [_ornament(ornament) for ornament in survey.ornaments],
        "wall": {"least": survey.wall_least, "median": survey.wall_median},
    }


def _round_surface(surface: RoundSurface) -> dict[str, object]:
    """Its `diameter` is the one halfway along."""
    ends = [2.0 * surface.radius_at(surface.start), 2.0 * surface.radius_at(surface.stop)]
    return {
        "diameter": (ends[0] + ends[1]) / 2.0,
        "end_diameters": ends,
        "offset": list(surface.offset),
        "from": surface.start,
        "to": surface.stop,
        "rms": surface.rms,
    }


def _ornament(ornament: Ornament) -> dict[str, object]:
    return {
        "from": ornament.start,
        "to": ornament.stop,
        "least_radius": ornament.least_radius,
        "greatest_radius": ornament.greatest_radius,
        "on": ornament.place,
    }


def _side_hole(hole: SideHole) -> dict[str, object]:
    return {
        "station": hole.station,
        "angle_deg": math.degrees(hole.angle),
        "axial_width": hole.axial_width,
        "across_width": hole.across_width,
        "bore": hole.bore,
    }


def _cut(cut: Cut) -> dict[str, object]:
    return {"station": cut.station, "window": list(cut.window), "why": cut.why}


def _joint(joint: Joint) -> dict[str, object]:
    return {
        "kind": "tenon",
        "station": joint.station,
        "engagement": joint.engagement,
        "tenon_diameter": 2.0 * joint.tenon_radius,
        "socket_diameter": 2.0 * joint.socket_radius,
        "radial_clearance": joint.radial_clearance,
        "key_angle_deg": math.degrees(joint.key.angle),
        "key_kind": joint.key.kind,
        "glue_area": joint.glue_area,
    }


def _piece(piece: Piece, saved: SavedFile) -> dict[str, object]:
    volume = enclosed_volume(piece.mesh)
    return {
        "name": piece.name,
        "file": saved.file,
        "sha256": saved.sha256,
        "to_source": piece.to_source.tolist(),
        "size": np.ptp(piece.mesh.vertices, axis=0).tolist(),
        "volume": volume,
        "mass_g": volume / 1000.0 * PLA_DENSITY,
        "bed": None,
    }


def _check(check: Check, part: str) -> dict[str, object]:
    limit = list(check.limit) if isinstance(check.limit, tuple) else check.limit
    where: dict[str, object] = {}
    if check.piece is not None:
        where["piece"] = check.piece
    if check.joint is not None:
        where["joint"] = check.joint
    return {
        "name": check.name,
        "part": part,
        **where,
        "value": check.value,
        "limit": limit,
        "ok": check.ok,
    }
