"""The record of a job, job.json, as plain lists and numbers.

In mm, degrees and the datums of the contract: what lies in the part frame's
radians goes out in degrees, and the axis in the source's coordinates.
"""

from __future__ import annotations

import math
from dataclasses import asdict

from ..estimating.estimates import sum_estimates
from ..fitting.strength import DEFAULT_ASSUMPTIONS
from ..meshes.mesh_checks import enclosed_volume
from ..planning.plan_survey import PlanSurvey
from ..trial.trial_record import trial_entry
from ..values import Check, Cut, Outcome, PassedOn, Piece, TruedPart
from .check_record import check_entry
from .estimate_record import estimate_entry, filament_entry
from .job_record import JobRecord, PartRecord, SavedBed, Source
from .joint_record import joint_entry
from .plan_record import plans_entry, stations_entry
from .settings_record import job_settings_entry
from .strength_record import assumptions_entry
from .survey_record import survey_entry
from .wind_record import wind_entry

SCHEMA = "borewright.job/1"


def job_document(record: JobRecord) -> dict[str, object]:
    """The whole of job.json. The same values give the same document."""
    trial = record.trial
    return {
        "schema": SCHEMA,
        "settings": job_settings_entry(record.settings, record.own),
        "parts": [_part(part, record) for part in record.parts],
        "beds": [_bed(one, record) for one in record.beds],
        "trial": None if trial is None else trial_entry(trial.trial, trial.saved),
        "sheet": None if record.sheet is None else asdict(record.sheet),
        "checks": [
            _check(check, part.outcome.name)
            for part in record.parts
            for check in part.outcome.checks
        ],
        "strength_assumptions": assumptions_entry(DEFAULT_ASSUMPTIONS),
        "changes": list(record.changes),
        "warnings": list(record.every_warning),
    }


def _part(part: PartRecord, record: JobRecord) -> dict[str, object]:
    outcome = part.outcome
    return {
        "name": outcome.name,
        "source": _source(part.source),
        **(_passed_on(outcome) if isinstance(outcome, PassedOn) else _split(part, outcome, record)),
        **({} if part.choices is None else _choices(part.choices)),
        "pieces": [_piece(piece, record) for piece in part.pieces if piece.name in record.files],
    }


def _source(source: Source) -> dict[str, object]:
    return {
        "file": source.file,
        "sha256": source.sha256,
        "triangles": source.triangles,
        "unit": source.unit,
        "scale_to_mm": source.scale_to_mm,
    }


def _split(part: PartRecord, outcome: Outcome, record: JobRecord) -> dict[str, object]:
    """What was found, made and planned of a part that could be surveyed."""
    survey, trued, plan, lean = outcome.survey, outcome.trued, outcome.plan, outcome.plan.lean
    tuning = part.tuning(record.settings)
    return {
        "survey": survey_entry(survey),
        "truing": _truing(trued),
        "cuts": [_cut(cut) for cut in plan.cuts],
        "joints": [
            joint_entry(joint, number, survey, record.settings)
            for number, joint in enumerate(plan.joints, 1)
        ],
        "lean_deg": 0.0 if lean is None else math.degrees(lean.tilt),
        "passed_on": None,
        "wind": None if tuning is None else wind_entry(tuning),
    }


def _choices(choices: PlanSurvey) -> dict[str, object]:
    return {
        "stations": stations_entry(choices.stations),
        "plans": plans_entry(choices.plans),
    }


def _truing(trued: TruedPart) -> dict[str, object]:
    return {
        "triangles_before": trued.triangles_before,
        "triangles_after": len(trued.mesh.triangles),
        "max_move": trued.max_move,
        "greatest_chord": trued.greatest_chord,
    }


def _passed_on(outcome: PassedOn) -> dict[str, object]:
    """The same of one that could not, and was left as it is; the reason is told."""
    return {
        "survey": None,
        "truing": {
            "triangles_before": outcome.triangles_before,
            "triangles_after": len(outcome.piece.mesh.triangles),
            "max_move": 0.0,
            "greatest_chord": 0.0,
        },
        "cuts": [],
        "joints": [],
        "lean_deg": 0.0,
        "passed_on": outcome.reason,
        "wind": None,
    }


def _bed(one: SavedBed, record: JobRecord) -> dict[str, object]:
    """A bed's file, what stands on it and where, and what it takes."""
    names = [placed.name for placed in one.bed.placed]
    taken = sum_estimates([record.estimates[name] for name in names])
    return {
        "file": one.saved.file,
        "sha256": one.saved.sha256,
        "pieces": names,
        "height": one.bed.height,
        "places": [
            {"piece": placed.name, "to_bed": placed.to_bed.tolist()} for placed in one.bed.placed
        ],
        "filament": filament_entry(taken, record.settings),
    }


def _cut(cut: Cut) -> dict[str, object]:
    return {"station": cut.station, "window": list(cut.window), "why": cut.why}


def _piece(piece: Piece, record: JobRecord) -> dict[str, object]:
    saved, estimate = record.files[piece.name], record.estimates[piece.name]
    return {
        "name": piece.name,
        "role": piece.role,
        "file": saved.file,
        "sha256": saved.sha256,
        "to_source": piece.to_source.tolist(),
        "scale": piece.scale,
        "size": piece.size.tolist(),
        "volume": enclosed_volume(piece.mesh),
        "mass_g": estimate.filament.solid.mass_g,
        **estimate_entry(estimate, record.settings),
        "bed": record.bed_of(piece.name),
    }


def _check(check: Check, part: str) -> dict[str, object]:
    where: dict[str, object] = {"part": part}
    if check.piece is not None:
        where["piece"] = check.piece
    if check.joint is not None:
        where["joint"] = check.joint
    return check_entry(check, where)
