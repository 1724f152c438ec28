"""Mesh files as they were read, each with its unit and a name of its own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..core.recording.job_record import Source
from ..core.surveying.unit_guess import UnitChoice, choose_unit
from ..core.values import Mesh, Settings
from .convert import import_mesh
from .mesh_file import MeshFile, check_mesh_file
from .stage_clock import StageClock


@dataclass(frozen=True, slots=True, eq=False)
class PartRead:
    """A file as it was read: one part, or several.

    name : of its parts, no two files having the same
    remarks : what is to be told of the file
    """

    name: str
    file: MeshFile
    mesh: Mesh
    unit: UnitChoice
    remarks: tuple[str, ...]

    @property
    def source(self) -> Source:
        """The file, for the record."""
        return Source(
            file=self.file.path.name,
            sha256=self.file.sha256,
            triangles=self.file.faces if self.file.kind == "stl" else len(self.mesh.triangles),
            unit=self.unit.unit,
            scale_to_mm=self.unit.scale_to_mm,
        )


def read_parts(
    paths: Sequence[Path], names: Sequence[str], settings: Settings, clock: StageClock
) -> tuple[PartRead, ...]:
    """All files; of several, what is to be told of one is told with its name.

    Raises
    ------
    CoreError : one cannot be read, or its unit is unclear
    """
    read = [
        read_part(path, name, settings, clock) for path, name in zip(paths, names, strict=True)
    ]
    if len(read) == 1:
        return tuple(read)
    return tuple(_told_by_name(part) for part in read)


def read_part(path: Path, name: str, settings: Settings, clock: StageClock) -> PartRead:
    """A mesh file, and what is to be told of it.

    Raises
    ------
    CoreError : it cannot be read, or its unit is unclear
    """
    clock.start("import")
    file = check_mesh_file(path)
    imported = import_mesh(file)
    unit = choose_unit(imported.mesh, settings.units)
    lost = file.faces - imported.faces
    left_out = (
        f"{lost} of {file.faces} faces of the file were left out by the import: without area, "
        "doubled, or with corners that the file does not hold."
    )
    remarks = (left_out if lost else "", _unit_remark(unit))
    return PartRead(name, file, imported.mesh, unit, tuple(filter(None, remarks)))


def _unit_remark(unit: UnitChoice) -> str:
    """Files in mm are the rule and the table names the unit; any other guess is worth a word."""
    return "" if unit.unit == "mm" else unit.remark


def _told_by_name(part: PartRead) -> PartRead:
    remarks = tuple(f"{part.name}: {said}" for said in part.remarks)
    return PartRead(part.name, part.file, part.mesh, part.unit, remarks)
