"""The record of a fit trial, its job.json, as plain lists and numbers: mm, and degrees."""

from __future__ import annotations

import math
from dataclasses import asdict

import numpy as np

from ..fitting.fit_rules import fit_notes
from ..meshes.mesh_checks import enclosed_volume
from ..recording.report import SavedFile
from ..values import Check, FloatArray, Piece, Settings
from .ring_sizes import RingSizes
from .trial_rings import FitTrial, TrialRing

SCHEMA = "borewright.trial/1"


def trial_document(trial: FitTrial, file: SavedFile, remarks: tuple[str, ...]) -> dict[str, object]:
    """The whole of job.json. The same values give the same document.

    remarks : of the part's file; those of the rings follow
    """
    sizes = trial.sizes
    return {
        "schema": SCHEMA,
        "settings": _settings(sizes.tried.settings, trial.envelope),
        "joint": _joint(sizes),
        "rings": [_tenon_ring(trial), *(_socket_ring(sizes, ring) for ring in trial.rings)],
        "plastic": trial.volume,
        "files": [{**asdict(file), "size": _size(trial.mesh.vertices)}],
        "checks": [_check(check) for check in trial.checks],
        "warnings": list(trial_notes(trial, remarks)),
    }


def trial_notes(trial: FitTrial, remarks: tuple[str, ...]) -> tuple[str, ...]:
    """What the rings do not share with the joint, and what was made for the printer's sake."""
    notes = fit_notes(trial.sizes.tried.settings, jointed=True)
    return tuple(dict.fromkeys((*remarks, *trial.sizes.remarks, *notes)))


def _settings(settings: Settings, envelope: tuple[float, float, float] | None) -> dict[str, object]:
    return {
        "envelope": envelope and list(envelope),
        "clearance": settings.clearance,
        "clearance_from": settings.clearance_from,
        "fit": settings.fit,
        "engagement": settings.engagement,
        "least_wall": settings.least_wall,
        "nozzle": settings.nozzle,
        "layer": settings.layer,
        "compensation": asdict(settings.compensation),
        "profile": settings.profile,
    }


def _joint(sizes: RingSizes) -> dict[str, object]:
    """The joint that is tried, and as much of it as the rings have."""
    own, tried = sizes.tried.tenon, sizes.tried
    return {
        "of": tried.source,
        "tenon_diameter": 2.0 * own.tenon_radius,
        "bore_diameter": 2.0 * tried.bore_radius,
        "outside_diameter": 2.0 * tried.outer_radius,
        "engagement": own.engagement,
        "parallel": own.parallel_length,
        "key_angles_deg": [math.degrees(key.angle) for key in sizes.tenon.keys],
        "tried": {
            "bore_diameter": 2.0 * sizes.bore_radius,
            "outside_diameter": 2.0 * sizes.outer_radius,
            "engagement": sizes.tenon.engagement,
            "parallel": sizes.tenon.parallel_length,
        },
    }


def _tenon_ring(trial: FitTrial) -> dict[str, object]:
    diameter = 2.0 * trial.sizes.tenon.tenon_radius
    return {"kind": "tenon", "number": 0, "tenon_diameter": diameter, **_place(trial.tenon)}


def _socket_ring(sizes: RingSizes, ring: TrialRing) -> dict[str, object]:
    tenon = sizes.tenon_of(ring.clearance)
    return {
        "kind": "socket",
        "number": ring.number,
        "bars": ring.number,
        "clearance": ring.clearance,
        "made_clearance": tenon.radial_clearance,
        "socket_diameter": 2.0 * tenon.socket_radius,
        **_place(ring.piece),
    }


def _place(piece: Piece) -> dict[str, object]:
    """Where on the bed a ring stands, and what it takes."""
    return {
        "corner": piece.mesh.vertices.min(axis=0).tolist(),
        "size": _size(piece.mesh.vertices),
        "volume": enclosed_volume(piece.mesh),
    }


def _size(vertices: FloatArray) -> list[float]:
    return [float(extent) for extent in np.ptp(vertices, axis=0)]


def _check(check: Check) -> dict[str, object]:
    limit = list(check.limit) if isinstance(check.limit, tuple) else check.limit
    return {
        "name": check.name,
        "ring": check.piece,
        "value": check.value,
        "limit": limit,
        "ok": check.ok,
    }
