"""The files of a job: pieces, beds and a fit trial, saved to a folder that is being made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from ..core.beds.bed import Bed
from ..core.recording.job_record import SavedBed, SavedFile, SavedTrial
from ..core.threemf.write_model import ModelObject, model_bytes
from ..core.trial.trial_set import FitTrial
from ..core.values import Mesh, Piece
from .convert import export_stl
from .own_files import file_sha256

TRIAL = "fit-trial"
"""Name of a trial's rings as they stand together, and of their file."""


def save_pieces(pieces: Iterable[Piece], folder: Path) -> dict[str, SavedFile]:
    """A file for each piece; what was saved, by the name of the piece."""
    return {piece.name: _saved_stl(piece.name, piece.mesh, folder) for piece in pieces}


def save_trial(trial: FitTrial, folder: Path) -> SavedTrial:
    """The rings of a trial in one file."""
    return SavedTrial(_saved_stl(TRIAL, trial.mesh, folder), trial)


def _saved_stl(name: str, mesh: Mesh, folder: Path) -> SavedFile:
    path = folder / f"{name}.stl"
    export_stl(mesh, path)
    return _saved(path)


def save_beds(
    beds: Sequence[Bed], standing: Mapping[str, Mesh], folder: Path
) -> tuple[SavedBed, ...]:
    """A model file for each bed.

    standing : meshes in the pose of their files, by name
    """
    return tuple(
        SavedBed(_saved_bed(number, bed, standing, folder), bed)
        for number, bed in enumerate(beds, 1)
    )


def _saved_bed(number: int, bed: Bed, standing: Mapping[str, Mesh], folder: Path) -> SavedFile:
    objects = [
        ModelObject(placed.name, standing[placed.name], placed.to_bed) for placed in bed.placed
    ]
    path = folder / f"bed-{number:02d}.3mf"
    path.write_bytes(model_bytes(objects))
    return _saved(path)


def _saved(path: Path) -> SavedFile:
    return SavedFile(path.name, file_sha256(path))
