"""What one unit of a file is, from the size of the part in it. Only a 3MF file says.

All bounds are judgement from what people print upright in a bed's height, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..errors import UnitUnclear
from ..meshes.mesh_checks import area_and_volume, check_triangles, compact
from ..values import Mesh

UNITS_IN_MM: Mapping[str, float] = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}


@dataclass(frozen=True, slots=True)
class PartMeasures:
    """The size of a part, in the units of its coordinates.

    length : extent along the part
    width : the larger extent across it
    wall : twice the volume over the area; the wall of a thin tube
    """

    length: float
    width: float
    wall: float

    def scaled(self, scale: float) -> PartMeasures:
        """The same part read in another unit."""
        return PartMeasures(self.length * scale, self.width * scale, self.wall * scale)

    def __str__(self) -> str:
        length, width, wall = (
            _figures(self.length, 4),
            _figures(self.width, 4),
            _figures(self.wall, 3),
        )
        return f"{length} long, {width} across, wall {wall}"


def _figures(length: float, figures: int) -> str:
    """To so many figures, with noughts where the length is larger, never as a power of ten."""
    short = f"{length:.{figures}g}"
    return f"{float(short):.0f}" if "e+" in short else short


@dataclass(frozen=True, slots=True)
class SizeRange:
    """Parts of which lengths, widths and walls are taken as likely, all in mm."""

    lengths: tuple[float, float]
    widths: tuple[float, float]
    least_wall: float

    def holds(self, size: PartMeasures) -> bool:
        """All three measures, read in mm, lie in the range."""
        return (
            self.lengths[0] <= size.length <= self.lengths[1]
            and self.widths[0] <= size.width <= self.widths[1]
            and self.least_wall <= size.wall
        )


PRINTED_IN_MM = SizeRange((40.0, 3000.0), (4.0, 400.0), 0.4)
"""Nearly all files for printing are in mm: the benefit of the doubt is theirs. No wall
is thinner than one line of a 0.4 nozzle."""

PRINTED_IN_OTHER_UNIT = SizeRange((80.0, 1500.0), (6.0, 150.0), 1.0)
RIVAL_OF_MM = SizeRange((100.0, 1000.0), (8.0, 60.0), 1.5)
"""Only a reading this ordinary can cast doubt on a likely reading in mm."""

BESIDE_MM = SizeRange((2.0, 3000.0), (2.0, 400.0), 0.4)
"""What lies beside files in mm may be small: a ring for an end, a cap, a dowel."""


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """The unit taken, and what is worth a word about it."""

    unit: str
    scale_to_mm: float
    remark: str = ""


@dataclass(frozen=True, slots=True)
class StatedUnit:
    """What a file says that its unit is: a word of ours, or its own where we have none."""

    unit: str
    scale_to_mm: float


def choose_unit(
    mesh: Mesh,
    units: Literal["mm", "cm", "m", "in", "auto"],
    stated: StatedUnit | None = None,
) -> UnitChoice:
    """The unit of a mesh file: as given, as the file says, or by the size of the part.

    Raises
    ------
    UnitUnclear : no unit gives a likely size, or more than one does
    BadMesh : there are too few triangles to have a size
    """
    if units != "auto":
        remark = ""
        if stated is not None and stated.unit != units:
            remark = f"Read in {units}, as --units says; the file says {stated.unit}."
        return UnitChoice(units, UNITS_IN_MM[units], remark)
    if stated is None:
        choice = choose_likely_unit(mesh, UNITS_IN_MM, "--units")
    else:
        choice = _as_stated(mesh, stated)
    # Files in mm are the rule, and the table names the unit: no other word is needed.
    return replace(choice, remark="") if choice.unit == "mm" else choice


def _as_stated(mesh: Mesh, stated: StatedUnit) -> UnitChoice:
    size = measure_part(mesh).scaled(stated.scale_to_mm)
    remark = f"Read in {stated.unit}, as the file says: {_about(size)}."
    return UnitChoice(stated.unit, stated.scale_to_mm, remark)


def choose_as_beside(mesh: Mesh, beside: UnitChoice) -> UnitChoice:
    """The unit of a file whose own size tells none, beside files that have one."""
    size = measure_part(mesh).scaled(beside.scale_to_mm)
    remark = f"Read in {beside.unit}, as the files beside it: {_about(size)}."
    return UnitChoice(beside.unit, beside.scale_to_mm, remark)


def fits_beside_mm(mesh: Mesh) -> bool:
    """Is it, read in mm, what somebody would print along with files in mm?"""
    return BESIDE_MM.holds(measure_part(mesh))


def _about(size: PartMeasures) -> str:
    return f"about {size.length:.0f} mm long and {size.width:.0f} mm across"


def choose_likely_unit(mesh: Mesh, units: Mapping[str, float], remedy: str) -> UnitChoice:
    """The one of some units that makes the part one that somebody would print.

    Parameters
    ----------
    units : mm in each unit, by its name; "mm" has the benefit of the doubt
    remedy : what the person sets to name the unit

    Raises
    ------
    UnitUnclear : no unit gives a likely size, or more than one does
    BadMesh : there are too few triangles to have a size
    """
    size = measure_part(mesh)
    readings = {unit: size.scaled(scale) for unit, scale in units.items()}
    likely = likely_readings(readings)
    if len(likely) != 1:
        check_triangles(mesh)  # what is no mesh has no size: say that first
        raise UnitUnclear(
            f"{len(likely)} likely readings of the part's size ({', '.join(likely) or 'none'}): "
            + "; ".join(f"in {unit} {reading} mm" for unit, reading in readings.items()),
            "1 likely reading",
            " or ".join(f"{remedy} {unit}" for unit in likely or units),
        )
    (unit,) = likely
    return UnitChoice(unit, units[unit], f"Read in {unit}: {_about(readings[unit])}.")


def likely_readings(readings: Mapping[str, PartMeasures]) -> tuple[str, ...]:
    """Which of the readings, each in mm, are a part that somebody would print."""
    in_mm = "mm" in readings and PRINTED_IN_MM.holds(readings["mm"])
    others = RIVAL_OF_MM if in_mm else PRINTED_IN_OTHER_UNIT
    likely = [unit for unit, size in readings.items() if unit != "mm" and others.holds(size)]
    return ("mm", *likely) if in_mm else tuple(likely)


def measure_part(mesh: Mesh) -> PartMeasures:
    """Length, width and wall, in the mesh's own units, along its vertices' main axes.

    What is not finite is passed over. What is no mesh at all has no size.
    """
    mesh = _finite_part(mesh)
    if not len(mesh.triangles):
        return PartMeasures(0.0, 0.0, 0.0)
    columns = [column - column.mean() for column in mesh.vertices.T]
    spread = [[np.einsum("i,i->", p, q) for q in columns] for p in columns]
    axes = np.linalg.eigh(spread)[1]
    along = [x * columns[0] + y * columns[1] + z * columns[2] for x, y, z in axes.T]
    _, width, length = sorted(float(column.max() - column.min()) for column in along)
    area, volume = area_and_volume(mesh)
    return PartMeasures(length, width, 2.0 * abs(volume) / area if area > 0.0 else 0.0)


def _finite_part(mesh: Mesh) -> Mesh:
    if np.isfinite(mesh.vertices).all():
        return mesh
    finite = np.isfinite(mesh.vertices).all(axis=1)
    return compact(mesh.vertices, mesh.triangles[finite[mesh.triangles].all(axis=1)])
