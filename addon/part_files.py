"""Mesh files as they were read, each with its unit and a name of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..core.recording.job_record import Source
from ..core.surveying.unit_guess import UnitChoice, choose_unit
from ..core.values import Mesh, Settings
from .convert import import_mesh
from .mesh_file import MeshFile, check_mesh_file
from .stage_clock import StageClock


@dataclass(frozen=True, slots=True, eq=False)
class FileRead:
    """A file as it was read: one part, or several.

    name : of its parts, no two files having the same
    remarks : what is to be told of the file
    """

    name: str
    file: MeshFile
    mesh: Mesh
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class PartRead:
    """The same with its unit.

    remarks : what is to be told of the file and its unit
    """

    name: str
    mesh: Mesh
    unit: UnitChoice
    source: Source
    remarks: tuple[str, ...]


def read_file(path: Path, name: str, clock: StageClock) -> FileRead:
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
    return FileRead(name, file, imported.mesh, (*file.remarks, *((remark,) if lost else ())))


def in_units(read: Sequence[FileRead], settings: Settings) -> tuple[PartRead, ...]:
    """Files with their units; of several, what is to be told of one is told by its name.

    Raises
    ------
    UnitUnclear : a size that no unit explains, or more than one
    """
    parts = tuple(in_unit(file, settings) for file in read)
    if len(parts) == 1:
        return parts
    return tuple(
        replace(part, remarks=tuple(f"{part.name}: {said}" for said in part.remarks))
        for part in parts
    )


def in_unit(read: FileRead, settings: Settings) -> PartRead:
    """A file with its unit.

    Raises
    ------
    UnitUnclear : a size that no unit explains, or more than one
    """
    unit = choose_unit(read.mesh, settings.units, read.file.unit)
    file = read.file
    source = Source(
        file=file.path.name,
        sha256=file.sha256,
        triangles=file.faces if file.kind in {"stl", "3mf"} else len(read.mesh.triangles),
        unit=unit.unit,
        scale_to_mm=unit.scale_to_mm,
    )
    remarks = tuple(filter(None, (*read.remarks, unit.remark)))
    return PartRead(read.name, read.mesh, unit, source, remarks)
