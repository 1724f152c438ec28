"""The record of a job, job.json, as plain lists and numbers.

In mm, degrees and the datums of the contract: what lies in the part frame's
radians goes out in degrees, and the axis in the source's coordinates.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass

import numpy as np

from ..fitting.strength import DEFAULT_ASSUMPTIONS
from ..jointing.collar_design import mating_radius, mating_surface
from ..meshes.mesh_checks import enclosed_volume
from ..values import (
    Check,
    Collar,
    Cut,
    HoleWall,
    Joint,
    Ornament,
    Outcome,
    Piece,
    RoundSurface,
    Settings,
    SideHole,
    Survey,
)
from .groove_record import groove_entry
from .strength_record import assumptions_entry, joint_strengths, strength_entry

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
    """A part, and the file that it came from."""

    source: Source
    outcome: Outcome


def job_document(
    settings: Settings,
    parts: Sequence[PartRecord],
    files: Mapping[str, SavedFile],
    warnings: tuple[str, ...],
) -> dict[str, object]:
    """The whole of job.json. The same values give the same document.

    files : by the name of their piece
    warnings : of the whole job; those of its parts follow
    """
    told = (*warnings, *(said for part in parts for said in part.outcome.warnings))
    return {
        "schema": SCHEMA,
        "settings": settings_entry(settings),
        "parts": [_part(part, settings, files) for part in parts],
        "beds": [],
        "checks": [
            _check(check, part.outcome.name) for part in parts for check in part.outcome.checks
        ],
        "strength_assumptions": assumptions_entry(DEFAULT_ASSUMPTIONS),
        "warnings": list(dict.fromkeys(told)),
    }


def _part(
    part: PartRecord, settings: Settings, files: Mapping[str, SavedFile]
) -> dict[str, object]:
    source, outcome = part.source, part.outcome
    survey, trued, plan = outcome.survey, outcome.trued, outcome.plan
    return {
        "name": outcome.name,
        "source": {
            "file": source.file,
            "sha256": source.sha256,
            "triangles": source.triangles,
            "unit": source.unit,
            "scale_to_mm": source.scale_to_mm,
        },
        "survey": _survey(survey),
        "truing": {
            "triangles_before": trued.triangles_before,
            "triangles_after": len(trued.mesh.triangles),
            "max_move": trued.max_move,
            "greatest_chord": trued.greatest_chord,
        },
        "cuts": [_cut(cut) for cut in plan.cuts],
        "joints": [_joint(joint, survey, settings) for joint in plan.joints],
        "pieces": [_piece(piece, files[piece.name]) for piece in outcome.pieces],
    }


def settings_entry(settings: Settings) -> dict[str, object]:
    """Every setting for a record."""
    return {
        "envelope": list(settings.envelope),
        "clearance": settings.clearance,
        "engagement": settings.engagement,
        "guard": settings.guard,
        "max_move": settings.max_move,
        "true": settings.true,
        "bore": settings.bore,
        "least_wall": settings.least_wall,
        "units": settings.units,
        "cut": list(settings.cuts),
        "pieces": settings.pieces,
        "flip": settings.flip,
        "joint": settings.joint,
        "fit": settings.fit,
        "clearance_from": settings.clearance_from,
        "nozzle": settings.nozzle,
        "layer": settings.layer,
        "spread": settings.spread,
        "compensation": asdict(settings.compensation),
        "profile": settings.profile,
    }


def _survey(survey: Survey) -> dict[str, object]:
    return {
        "axis": {
            "point": survey.frame.origin.tolist(),
            "direction": survey.frame.rows[2].tolist(),
        },
        "length": survey.length,
        "bores": [_round_surface(bore) for bore in survey.bores],
        "outer": _round_surface(survey.outsides[0]) if survey.outsides else None,
        "outsides": [_round_surface(outside) for outside in survey.outsides],
        "side_holes": [_side_hole(hole, survey.bores[hole.bore]) for hole in survey.side_holes],
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
        "on": "bore" if ornament.place == "bore" else "outside",
    }


def _side_hole(hole: SideHole, bore: RoundSurface) -> dict[str, object]:
    """Its diameter and slant are told where its wall is a cylinder."""
    told: dict[str, object] = {
        "station": hole.station,
        "angle_deg": math.degrees(hole.angle),
        "axial_width": hole.axial_width,
        "across_width": hole.across_width,
        "bore": hole.bore,
    }
    if hole.wall is not None:
        told["diameter"] = 2.0 * hole.wall.radius
        told["slant_deg"] = hole_slant_deg(hole.wall, bore)
    return told


def hole_slant_deg(wall: HoleWall, bore: RoundSurface) -> float:
    """Angle between a hole's centre line and the bore's radius to where it comes out."""
    radius = np.array([wall.point[0] - bore.offset[0], wall.point[1] - bore.offset[1], 0.0])
    sine = np.linalg.norm(np.cross(radius, wall.direction))
    return math.degrees(math.atan2(float(sine), float(radius @ wall.direction)))


def _cut(cut: Cut) -> dict[str, object]:
    return {"station": cut.station, "window": list(cut.window), "why": cut.why}


def _joint(joint: Joint, survey: Survey, settings: Settings) -> dict[str, object]:
    strengths = joint_strengths(joint, survey, settings)
    collar = joint.collar
    sizes = _tenon_sizes(joint, settings) if collar is None else _collar_sizes(joint, collar)
    return {
        "kind": joint.kind,
        "bores": list(joint.bores),
        "station": joint.station,
        "engagement": joint.engagement,
        **sizes,
        "glue_area": joint.glue_area,
        "strength": [strength_entry(strength, settings) for strength in strengths],
    }


def _tenon_sizes(joint: Joint, settings: Settings) -> dict[str, object]:
    """Diameters are those of the first tenon, about the first of its bores."""
    tenon = joint.tenon
    angles = _key_angles_deg(joint)
    return {
        "tenon_diameter": 2.0 * tenon.tenon_radius,
        "socket_diameter": 2.0 * tenon.socket_radius,
        "radial_clearance": tenon.radial_clearance,
        "key_angle_deg": angles[0],
        "key_angles_deg": angles,
        "tenons": [
            {
                "bores": list(one.bores),
                "centre": list(one.centres[0]),
                "tenon_diameter": 2.0 * one.tenon_radius,
                "socket_diameter": 2.0 * one.socket_radius,
            }
            for one in joint.tenons
        ],
        "witness_marks": len(tenon.marks),
        "housing": groove_entry(tenon, settings),
    }


def _collar_sizes(joint: Joint, collar: Collar) -> dict[str, object]:
    """What goes in is the part under a collar, and a sleeve itself."""
    within, around = fit_diameters(joint)
    angles = _key_angles_deg(joint)
    return {
        "tenon_diameter": within,
        "socket_diameter": around,
        "radial_clearance": collar.radial_clearance,
        "key_angle_deg": angles[0],
        "key_angles_deg": angles,
        "collar_thickness": collar.thickness,
    }


def _key_angles_deg(joint: Joint) -> list[float]:
    """From -180 to 180, of joints of every kind."""
    return [math.remainder(math.degrees(angle), 360.0) for angle in joint.key_angles]


def fit_diameters(joint: Joint) -> tuple[float, float]:
    """Diameters, mm, of what goes in and of what goes around it, at the seam."""
    if joint.collar is None:
        return 2.0 * joint.tenon.tenon_radius, 2.0 * joint.tenon.socket_radius
    part = mating_surface(joint.collar).radius_at(joint.station)
    ring = mating_radius(joint.collar, joint.station)
    return 2.0 * min(part, ring), 2.0 * max(part, ring)


def _piece(piece: Piece, saved: SavedFile) -> dict[str, object]:
    volume = enclosed_volume(piece.mesh)
    return {
        "name": piece.name,
        "role": piece.role,
        "file": saved.file,
        "sha256": saved.sha256,
        "to_source": piece.to_source.tolist(),
        "scale": piece.scale,
        "size": np.ptp(piece.mesh.vertices, axis=0).tolist(),
        "volume": volume,
        "mass_g": volume / 1000.0 * PLA_DENSITY,
        "bed": None,
    }


def _check(check: Check, part: str) -> dict[str, object]:
    where: dict[str, object] = {"part": part}
    if check.piece is not None:
        where["piece"] = check.piece
    if check.joint is not None:
        where["joint"] = check.joint
    return check_entry(check, where)


def check_entry(check: Check, where: Mapping[str, object]) -> dict[str, object]:
    """A proof for a record, `where` between its name and what was measured."""
    limit = list(check.limit) if isinstance(check.limit, tuple) else check.limit
    measured = {"value": check.value, "limit": limit, "ok": check.ok}
    return {"name": check.name, **where, **measured}
