"""A job's record before its files are written: all but their hashes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..beds.pack_meshes import pack_meshes
from ..estimating.estimates import estimate_piece
from ..trial.trial_set import FitTrial
from .job_record import TRIAL, JobRecord, SavedBed, SavedFile, SavedTrial


def draft_files(
    job: JobRecord, trial: FitTrial | None = None, stem: Callable[[str], str] = str
) -> JobRecord:
    """The job with its beds, its estimates and the names that its files will have.

    Parameters
    ----------
    job : as far as it goes without files
    trial : that goes with it, if any
    stem : what the file of a piece is called by, from the name of the piece

    Raises
    ------
    TooWide : a piece fits the bed at no turn
    """
    if trial is not None:
        job = replace(job, trial=SavedTrial(_unsaved(f"{TRIAL}.stl"), trial))
    pieces = [piece.name for part in job.parts for piece in part.pieces]
    standing = job.standing
    beds = pack_meshes(standing, job.settings)
    return replace(
        job,
        files={piece: _unsaved(f"{stem(piece)}.stl") for piece in pieces},
        estimates={name: estimate_piece(mesh, job.settings) for name, mesh in standing.items()},
        beds=tuple(
            SavedBed(_unsaved(f"bed-{number:02d}.3mf"), bed) for number, bed in enumerate(beds, 1)
        ),
    )


def _unsaved(file: str) -> SavedFile:
    return SavedFile(file, "")
