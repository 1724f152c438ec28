"""The record of a fit trial, its job.json, as plain lists and numbers: mm, and degrees."""

from __future__ import annotations

import math
from dataclasses import asdict

import numpy as np

from ..fitting.fit_rules import fit_notes
from ..meshes.mesh_checks import enclosed_volume
from ..recording.check_record import check_entry
from ..recording.job_record import SavedFile
from ..recording.settings_record import settings_entry
from ..values import FloatArray, Piece, Settings
from .trial_set import About, FitTrial, TrialRing

SCHEMA = "borewright.trial/1"


def trial_document(trial: FitTrial, file: SavedFile, remarks: tuple[str, ...]) -> dict[str, object]:
    """The whole of job.json. The same values give the same document.

    remarks : of the part's file; those of the rings follow
    """
    return {
        "schema": SCHEMA,
        "settings": _settings(trial.about.settings, trial.envelope),
        "joint": _joint(trial.about),
        "rings": _rings(trial),
        "plastic": trial.volume,
        "files": [{**asdict(file), "size": _size(trial.mesh.vertices)}],
        "checks": [check_entry(check, {"ring": check.piece}) for check in trial.checks],
        "warnings": list(trial_notes(trial, remarks)),
    }


def trial_entry(trial: FitTrial, file: SavedFile) -> dict[str, object]:
    """A trial that goes with a job, in the record of that job."""
    return {
        **asdict(file),
        "size": _size(trial.mesh.vertices),
        "joint": _joint(trial.about),
        "rings": _rings(trial),
        "plastic": trial.volume,
        "checks": [check_entry(check, {"ring": check.piece}) for check in trial.checks],
        "warnings": list(trial.about.remarks),
    }


def trial_notes(trial: FitTrial, remarks: tuple[str, ...]) -> tuple[str, ...]:
    """What the rings do not share with the joint, and what was made for the printer's sake."""
    notes = fit_notes(trial.about.settings, jointed=True)
    return tuple(dict.fromkeys((*remarks, *trial.about.remarks, *notes)))


_OF_A_TRIAL = (
    "clearance",
    "clearance_from",
    "fit",
    "engagement",
    "least_wall",
    "nozzle",
    "layer",
    "compensation",
    "profile",
)
"""Settings that rings depend on."""


def _settings(settings: Settings, envelope: tuple[float, float, float] | None) -> dict[str, object]:
    every = settings_entry(settings)
    return {"envelope": envelope and list(envelope), **{key: every[key] for key in _OF_A_TRIAL}}


def _joint(about: About) -> dict[str, object]:
    """The joint that is tried, and as much of it as the rings have."""
    return {
        "of": about.source,
        "kind": about.kind,
        "tenon_diameter": about.within,
        **about.own,
        "key_angles_deg": [math.degrees(angle) for angle in about.key_angles],
        "tried": dict(about.tried),
    }


_KINDS = {"tenon": ("tenon", "socket"), "collar": ("stub", "collar")}
"""What the base, and what each of the rings is."""


def _rings(trial: FitTrial) -> list[dict[str, object]]:
    base, ring = _KINDS[trial.about.kind]
    return [
        {"kind": base, "number": 0, "tenon_diameter": trial.about.within, **_place(trial.base)},
        *({"kind": ring, **_ring(one)} for one in trial.rings),
    ]


def _ring(ring: TrialRing) -> dict[str, object]:
    return {
        "number": ring.number,
        "bars": ring.number,
        "clearance": ring.clearance,
        "made_clearance": ring.made_clearance,
        "socket_diameter": ring.around,
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
