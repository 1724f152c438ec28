"""The files of a job: pieces, beds and a fit trial, saved to a folder that is being made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ...core.beds.bed import Bed
from ...core.recording.job_record import TRIAL, JobRecord, SavedBed, SavedFile, SavedTrial
from ...core.threemf.write_model import ModelObject, model_bytes
from ...core.trial.trial_set import FitTrial
from ...core.values import Mesh
from ..meshes.convert import export_stl
from .own_files import file_sha256

SHEET = "sheet.html"


def save_job(job: JobRecord, page: str, folder: Path) -> JobRecord:
    """The files of a job whose names are drafted; the job with their hashes.

    page : its plan sheet
    """
    standing = job.standing
    return replace(
        job,
        files={
            name: save_stl(drafted.file, standing[name], folder)
            for name, drafted in job.files.items()
        },
        trial=None if job.trial is None else save_trial(job.trial.trial, folder),
        beds=tuple(
            SavedBed(save_bed(one.saved.file, _standing_on(one.bed, standing), folder), one.bed)
            for one in job.beds
        ),
        sheet=save_sheet(page, folder),
    )


def save_trial(trial: FitTrial, folder: Path) -> SavedTrial:
    """The rings of a trial in one file."""
    return SavedTrial(save_stl(f"{TRIAL}.stl", trial.mesh, folder), trial)


def save_stl(file: str, mesh: Mesh, folder: Path) -> SavedFile:
    """One mesh, standing as it prints."""
    path = folder / file
    export_stl(mesh, path)
    return _saved(path)


def save_bed(file: str, objects: Sequence[ModelObject], folder: Path) -> SavedFile:
    """One bed with what stands on it."""
    path = folder / file
    path.write_bytes(model_bytes(objects))
    return _saved(path)


def _standing_on(bed: Bed, standing: Mapping[str, Mesh]) -> list[ModelObject]:
    return [ModelObject(placed.name, standing[placed.name], placed.to_bed) for placed in bed.placed]


def _saved(path: Path) -> SavedFile:
    return SavedFile(path.name, file_sha256(path))


def save_sheet(page: str, folder: Path) -> SavedFile:
    """The plan sheet, a page of its own."""
    path = folder / SHEET
    path.write_text(page, encoding="utf-8", newline="\n")
    return _saved(path)
