"""What can be asked for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from .lengths import MOUTH_RELIEF

JointKind = Literal["tenon", "pins", "collar", "sleeve", "oring", "lapped"]
Fit = Literal["glue", "push", "take-apart"]
ClearanceOrigin = Literal["rule", "profile", "asked"]


@dataclass(frozen=True, slots=True)
class Compensation:
    """What a printer does to a size, made good once in the files.

    hole_undersize : mm on the diameter, by which holes print too narrow
    first_layer_bulge : mm a side, by which the first layers print too wide
    shrink_percent : of every length, by which a print is shorter than its file
    """

    hole_undersize: float = 0.0
    first_layer_bulge: float = 0.0
    shrink_percent: float = 0.0


@dataclass(frozen=True, slots=True)
class Printing:
    """How pieces are printed, as far as it says how much plastic they take.

    material : a name in the density table
    filament : mm, its diameter
    lines : of plastic side by side along every wall
    solid_layers : solid layers under and over every level face
    infill_percent : of what lies inside
    flow : mm3/s that the printer is known to lay; None: not known, and no time is told
    """

    material: str = "PLA"
    filament: float = 1.75
    lines: int = 3
    solid_layers: int = 4
    infill_percent: float = 15.0
    flow: float | None = None


@dataclass(frozen=True, slots=True)
class PartDemands:
    """What is asked for one part of several, beside what is asked for all.

    cuts, avoid, prefer : stations as in `Settings`, more of them
    pieces : at least so many; None: as for all
    """

    cuts: tuple[float, ...] = ()
    avoid: tuple[tuple[float, float], ...] = ()
    prefer: tuple[float, ...] = ()
    pieces: int | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything the person can ask for. None means: chosen for them.

    avoid : (from, to) stations, between which no seam may be seen
    prefer : stations near which seams are better than elsewhere
    lean : stand a part that is too tall leaning, in one piece, where it fits so
    spacing : mm, between the pieces on a bed
    wind : the parts are wind instruments, whose tuning is checked
    clearance_from : a common rule for the fit, a printer profile, or what was asked
    spread : mm, plus and minus, that the printer holds a diameter to
    profile : name of the printer profile that some of it came from
    """

    envelope: tuple[float, float, float]
    clearance: float = 0.15
    engagement: float | None = None
    guard: float = 2.0
    max_move: float = 0.1
    true: Literal["both", "bore", "outside", "none"] = "both"
    least_wall: float = 0.8
    units: Literal["mm", "cm", "m", "in", "auto"] = "auto"
    cuts: tuple[float, ...] = ()
    pieces: int | None = None
    flip: bool = False
    bore: float | None = None
    """Diameter, mm, that the bore is to have."""
    joint: JointKind | None = None
    fit: Fit = "glue"
    nozzle: float = 0.4
    layer: float = 0.2
    compensation: Compensation = Compensation()
    profile: str | None = None
    clearance_from: ClearanceOrigin = "rule"
    spread: float = 0.2
    avoid: tuple[tuple[float, float], ...] = ()
    prefer: tuple[float, ...] = ()
    lean: bool = False
    spacing: float = 5.0
    printing: Printing = Printing()
    wind: bool = False

    @property
    def made_clearance(self) -> float:
        """Gap a side, mm, in the files: the one asked for, and what the printer takes from it."""
        return self.clearance + self.compensation.hole_undersize / 2.0

    @property
    def print_scale(self) -> float:
        """How much larger than the piece its file is, so that the print shrinks to size."""
        return 1.0 / (1.0 - self.compensation.shrink_percent / 100.0)

    @property
    def room(self) -> tuple[float, float, float]:
        """The envelope, mm, as pieces of their own size may use it."""
        x, y, z = (length / self.print_scale for length in self.envelope)
        return x, y, z

    @property
    def mouth_relief(self) -> float:
        """Bevel at a socket's mouth, mm: more than the first layers bulge."""
        return max(MOUTH_RELIEF, self.compensation.first_layer_bulge + 0.1)

    def with_demands(self, own: PartDemands) -> Settings:
        """The same with what is asked for one part, where it has more to say."""
        return replace(
            self,
            cuts=tuple(sorted({*self.cuts, *own.cuts})),
            avoid=tuple(sorted({*self.avoid, *own.avoid})),
            prefer=tuple(sorted({*self.prefer, *own.prefer})),
            pieces=self.pieces if own.pieces is None else own.pieces,
        )
