"""The files of a job: pieces, beds and a fit trial, saved to a folder that is being made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from ..core.beds.bed import Bed
from ..core.recording.job_record import SavedBed, SavedFile, SavedTrial
from ..core.threemf.write_model import ModelObject, model_bytes
from ..core.trial.trial_set import FitTrial
from ..core.values import Mesh
from .convert import export_stl
from .own_files import file_sha256

SHEET = "sheet.html"

TRIAL = "fit-trial"
"""Name of a trial's rings as they stand together, and of their file."""


def save_pieces(pieces: Mapping[str, Mesh], folder: Path) -> dict[str, SavedFile]:
    """A file for each piece; what was saved, by the name of the piece.

    pieces : meshes in the pose of their files, by name
    """
    return {name: save_stl(f"{name}.stl", mesh, folder) for name, mesh in pieces.items()}


def save_trial(trial: FitTrial, folder: Path) -> SavedTrial:
    """The rings of a trial in one file."""
    return SavedTrial(save_stl(f"{TRIAL}.stl", trial.mesh, folder), trial)


def save_stl(file: str, mesh: Mesh, folder: Path) -> SavedFile:
    """One mesh, standing as it prints."""
    path = folder / file
    export_stl(mesh, path)
    return _saved(path)


def save_beds(
    beds: Sequence[Bed], standing: Mapping[str, Mesh], folder: Path
) -> tuple[SavedBed, ...]:
    """A model file for each bed.

    standing : meshes in the pose of their files, by name
    """
    return tuple(
        SavedBed(save_bed(bed_file(number), _standing_on(bed, standing), folder), bed)
        for number, bed in enumerate(beds, 1)
    )


def bed_file(number: int) -> str:
    """Name of the file of a bed, counted from 1."""
    return f"bed-{number:02d}.3mf"


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
