"""Mesh files as they were read, each with its unit and a name of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...core.errors import UnitUnclear
from ...core.job import named_part
from ...core.recording.job_record import Source
from ...core.surveying.unit_guess import UnitChoice, choose_as_beside, choose_unit, fits_beside_mm
from ...core.values import Mesh, Settings
from ..meshes.convert import import_mesh
from ..meshes.mesh_file import MeshFile, check_mesh_file
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

    A file whose size fits no unit, or more than one, is read in the unit of those beside
    it, where these agree: a loose block tells little by itself. So is one that by its size
    alone would be in another unit than mm, where others are in mm and it may be so too: a
    small ring in mm has the size of a large one in cm.

    Raises
    ------
    UnitUnclear : a size that no unit explains, or more than one
    """
    if len(read) == 1:
        return (in_unit(read[0], settings),)
    found = [_unit_or_problem(file, settings) for file in read]
    mm = next((unit for unit in found if isinstance(unit, UnitChoice) and unit.unit == "mm"), None)
    units = [_in_mm_too(*pair, mm) for pair in zip(read, found, strict=True)]
    clear = {unit.unit: unit for unit in units if isinstance(unit, UnitChoice)}
    parts = []
    for file, own in zip(read, units, strict=True):
        unit = own
        if isinstance(unit, UnitUnclear):
            if len(clear) != 1:
                raise unit
            unit = choose_as_beside(file.mesh, next(iter(clear.values())))
        part = _with_unit(file, unit)
        told = tuple(f"{part.name}: {said}" for said in part.remarks)
        parts.append(replace(part, remarks=told))
    return tuple(parts)


def _unit_or_problem(read: FileRead, settings: Settings) -> UnitChoice | UnitUnclear:
    """The unit of one of several files; why it is unclear where it is, with its name."""
    try:
        with named_part(read.name):
            return choose_unit(read.mesh, settings.units, read.file.unit)
    except UnitUnclear as problem:
        return problem


def _in_mm_too(
    read: FileRead, own: UnitChoice | UnitUnclear, mm: UnitChoice | None
) -> UnitChoice | UnitUnclear:
    """The unit of a file that tells none: mm, where one beside it is in mm and it may be."""
    if mm is None or read.file.unit is not None or not fits_beside_mm(read.mesh):
        return own
    if isinstance(own, UnitChoice) and own.unit == "mm":
        return own
    return choose_as_beside(read.mesh, mm)


def in_unit(read: FileRead, settings: Settings) -> PartRead:
    """A file with its unit.

    Raises
    ------
    UnitUnclear : a size that no unit explains, or more than one
    """
    return _with_unit(read, choose_unit(read.mesh, settings.units, read.file.unit))


def _with_unit(read: FileRead, unit: UnitChoice) -> PartRead:
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
