"""A whole job from a mesh file to a folder of pieces."""

from __future__ import annotations

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ..core.job import plan_part, run_part
from ..core.recording.report import PartRecord, SavedFile, Source, job_document
from ..core.recording.summary import job_summary
from ..core.surveying.unit_guess import UnitChoice, choose_unit
from ..core.values import Mesh, Piece, Settings
from .convert import export_stl, import_mesh
from .mesh_file import MeshFile, check_mesh_file
from .output_folder import RECORD, TIMINGS, check_output, file_sha256, new_output
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
class _Part:
    """A part as it was read."""

    file: MeshFile
    mesh: Mesh
    remarks: tuple[str, ...]


def split(
    path: Path, settings: Settings, out: Path, *, overwrite: bool, clock: StageClock
) -> JobTold:
    """Split a part and save its pieces, job.json and timings.json.

    Raises
    ------
    CoreError : it cannot be done; the output folder and its parent are as they were
    """
    out = out.resolve()
    check_output(out, overwrite=overwrite)
    began = time.perf_counter()
    part = _read_part(path, clock)
    imported = time.perf_counter()
    unit = choose_unit(part.mesh, settings.units)
    outcome = run_part(part.mesh, path.stem, settings, unit.scale_to_mm, clock.start)
    proven = time.perf_counter()
    clock.start("save")
    with new_output(out, overwrite=overwrite) as folder:
        files = _save_pieces(outcome.pieces, folder)
        record = PartRecord(
            name=path.stem,
            source=_source(part, unit),
            survey=outcome.survey,
            trued=outcome.trued,
            plan=outcome.plan,
            pieces=outcome.pieces,
            checks=outcome.checks,
        )
        warnings = (*part.remarks, _unit_remark(unit), *outcome.warnings)
        told = _tell(settings, record, files, warnings)
        (folder / RECORD).write_text(told.record, encoding="utf-8")
        timings = {
            "import_s": imported - began,
            "core_s": proven - imported,
            "export_s": time.perf_counter() - proven,
        }
        (folder / TIMINGS).write_text(_json(timings), encoding="utf-8")
    clock.stop()
    return told


def plan(path: Path, settings: Settings, *, clock: StageClock) -> JobTold:
    """What `split` would do. Writes nothing.

    Raises
    ------
    CoreError : it cannot be done
    """
    part = _read_part(path, clock)
    unit = choose_unit(part.mesh, settings.units)
    survey, trued, planned = plan_part(part.mesh, settings, unit.scale_to_mm, clock.start)
    clock.stop()
    record = PartRecord(path.stem, _source(part, unit), survey, trued, planned)
    warnings = (*part.remarks, _unit_remark(unit), *survey.remarks, *planned.remarks)
    return _tell(settings, record, {}, warnings)


def _read_part(path: Path, clock: StageClock) -> _Part:
    clock.start("import")
    file = check_mesh_file(path)
    imported = import_mesh(file)
    lost = file.faces - imported.faces
    remark = (
        f"{lost} of {file.faces} faces of the file were left out by the import: without area, "
        "doubled, or with corners that the file does not hold."
    )
    return _Part(file, imported.mesh, (remark,) if lost else ())


def _source(part: _Part, unit: UnitChoice) -> Source:
    return Source(
        file=part.file.path.name,
        sha256=part.file.sha256,
        triangles=part.file.faces if part.file.kind == "stl" else len(part.mesh.triangles),
        unit=unit.unit,
        scale_to_mm=unit.scale_to_mm,
    )


def _unit_remark(unit: UnitChoice) -> str:
    """Files in mm are the rule and the table names the unit; any other guess is worth a word."""
    return "" if unit.unit == "mm" else unit.remark


def _save_pieces(pieces: tuple[Piece, ...], folder: Path) -> dict[str, SavedFile]:
    files = {}
    for piece in pieces:
        path = folder / f"{piece.name}.stl"
        export_stl(piece.mesh, path)
        files[piece.name] = SavedFile(path.name, file_sha256(path))
    return files


def _tell(
    settings: Settings,
    record: PartRecord,
    files: Mapping[str, SavedFile],
    warnings: tuple[str, ...],
) -> JobTold:
    said = tuple(filter(None, warnings))
    return JobTold(
        record=_json(job_document(settings, record, files, said)),
        summary=job_summary(settings, record, files, said),
    )


def _json(document: Mapping[str, object]) -> str:
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
