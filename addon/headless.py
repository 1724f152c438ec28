"""A whole job from a mesh file to a folder of pieces."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from ..core.errors import BadSetting
from ..core.fitting.fit_rules import fit_notes
from ..core.job import plan_parts, split_parts
from ..core.recording.job_record import JobRecord, PartRecord, SavedFile, Source
from ..core.recording.report import job_document
from ..core.recording.summary import job_summary
from ..core.surveying.unit_guess import UnitChoice, choose_unit
from ..core.values import Mesh, Outcome, PassedOn, Settings
from .convert import export_stl, import_mesh
from .job_settings import JobAsked, settings_of
from .json_text import json_text
from .mesh_file import MeshFile, check_mesh_file
from .output_folder import RECORD, TIMINGS, check_output, file_sha256, new_output, resolved
from .stage_clock import StageClock


@dataclass(frozen=True, slots=True)
class JobTold:
    """What a job came to, for a program and for a person.

    record : the text of job.json
    summary : a table
    """

    record: str
    summary: str


@dataclass(frozen=True, slots=True, eq=False)
class PartRead:
    """A file as it was read: one part, or several."""

    file: MeshFile
    mesh: Mesh
    remarks: tuple[str, ...]


def split(asked: JobAsked, *, clock: StageClock) -> JobTold:
    """Split every part of a file and save the pieces, job.json and timings.json.

    Raises
    ------
    CoreError : it cannot be done; the output folder and its parent are as they were
    """
    assert asked.out is not None
    out, overwrite = resolved(asked.out), asked.overwrite
    path, settings = _only(asked)
    check_output(out, overwrite=overwrite)
    began = time.perf_counter()
    part = read_part(path, clock)
    imported = time.perf_counter()
    unit = choose_unit(part.mesh, settings.units)
    outcomes = split_parts(
        part.mesh, path.stem, partial(settings_of, asked), unit.scale_to_mm, clock.start
    )
    proven = time.perf_counter()
    clock.start("save")
    with new_output(out, overwrite=overwrite) as folder:
        files = _save_pieces(outcomes, folder)
        told = _tell(settings, part, unit, outcomes, files)
        (folder / RECORD).write_text(told.record, encoding="utf-8")
        timings = {
            "import_s": imported - began,
            "core_s": proven - imported,
            "export_s": time.perf_counter() - proven,
        }
        (folder / TIMINGS).write_text(json_text(timings), encoding="utf-8")
    clock.stop()
    return told


def plan(asked: JobAsked, *, clock: StageClock) -> JobTold:
    """What `split` would do. Writes nothing.

    Raises
    ------
    CoreError : it cannot be done
    """
    path, settings = _only(asked)
    part = read_part(path, clock)
    unit = choose_unit(part.mesh, settings.units)
    outcomes = plan_parts(
        part.mesh, path.stem, partial(settings_of, asked), unit.scale_to_mm, clock.start
    )
    clock.stop()
    return _tell(settings, part, unit, outcomes, {})


def _only(asked: JobAsked) -> tuple[Path, Settings]:
    """The one part, and its settings."""
    if len(asked.paths) > 1 or asked.with_trial:
        raise BadSetting(
            f"{len(asked.paths)} parts in one job" + (", and --trial" if asked.with_trial else ""),
            "1 part, and its trial by itself",
            "each in a run of its own",
        )
    return asked.paths[0], settings_of(asked, asked.stems[0])


def read_part(path: Path, clock: StageClock) -> PartRead:
    """A mesh file, and what is to be told of it.

    Raises
    ------
    CoreError : it cannot be read
    """
    clock.start("import")
    file = check_mesh_file(path)
    imported = import_mesh(file)
    lost = file.faces - imported.faces
    remark = (
        f"{lost} of {file.faces} faces of the file were left out by the import: without area, "
        "doubled, or with corners that the file does not hold."
    )
    return PartRead(file, imported.mesh, (remark,) if lost else ())


def _source(part: PartRead, unit: UnitChoice) -> Source:
    return Source(
        file=part.file.path.name,
        sha256=part.file.sha256,
        triangles=part.file.faces if part.file.kind == "stl" else len(part.mesh.triangles),
        unit=unit.unit,
        scale_to_mm=unit.scale_to_mm,
    )


def unit_remark(unit: UnitChoice) -> str:
    """Files in mm are the rule and the table names the unit; any other guess is worth a word."""
    return "" if unit.unit == "mm" else unit.remark


def _save_pieces(outcomes: Sequence[Outcome | PassedOn], folder: Path) -> dict[str, SavedFile]:
    files = {}
    for piece in (piece for outcome in outcomes for piece in outcome.pieces):
        path = folder / f"{piece.name}.stl"
        export_stl(piece.mesh, path)
        files[piece.name] = SavedFile(path.name, file_sha256(path))
    return files


def _tell(
    settings: Settings,
    part: PartRead,
    unit: UnitChoice,
    outcomes: Sequence[Outcome | PassedOn],
    files: Mapping[str, SavedFile],
) -> JobTold:
    source = _source(part, unit)
    jointed = any(isinstance(one, Outcome) and one.plan.joints for one in outcomes)
    remarks = (*part.remarks, unit_remark(unit), *fit_notes(settings, jointed=jointed))
    record = JobRecord(
        settings=settings,
        parts=tuple(PartRecord(source, outcome) for outcome in outcomes),
        warnings=tuple(filter(None, remarks)),
        files=files,
    )
    return JobTold(record=json_text(job_document(record)), summary=job_summary(record))
