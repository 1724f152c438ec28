"""The panel's properties as settings of the core: here and nowhere else."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar, cast

import bpy

from ...core.fitting.printer_profile import PrinterProfile
from ...core.values import Compensation, Printing, Settings
from ..profiles import profile_store
from ..settings.printer_settings import Printer, printer_of, printer_settings
from ..settings.typed_numbers import as_typed
from .groups import NAME, BOREWRIGHT_PG_job, BOREWRIGHT_PG_part, JobSettings, PartSettings

_Printer = TypeVar("_Printer", Printer, PrinterProfile)


def scene_of(context: bpy.types.Context) -> bpy.types.Scene:
    """The scene that is being worked in: there always is one."""
    assert context.scene is not None
    return context.scene


def job_properties(scene: bpy.types.Scene | None) -> BOREWRIGHT_PG_job:
    """A scene's settings of a job; the stub has it that a context may be without a scene."""
    return cast("BOREWRIGHT_PG_job", getattr(scene, NAME))


def part_properties(source: bpy.types.Object) -> BOREWRIGHT_PG_part:
    """What is asked for the part that an object is."""
    return cast("BOREWRIGHT_PG_part", getattr(source, NAME))


def settings_for(scene: bpy.types.Scene, source: bpy.types.Object, body: int = 0) -> Settings:
    """All settings of a part: the scene's, and its object's own.

    body : of an object of several bodies, whose cuts count

    Raises
    ------
    CoreError : the printer profile that is named is not there or cannot be read; the
        nozzle cannot lay such layers; or a joint that is taken apart is to be glued
    """
    job, part = job_properties(scene), part_properties(source)
    return replace(
        as_asked(_printer(job), job, part),
        cuts=tuple(sorted(cut.station for cut in part.cuts if cut.insisted and cut.part == body)),
        avoid=tuple(
            (as_typed(kept.start), as_typed(kept.stop))
            for kept in part.avoid
            if kept.start < kept.stop
        ),
        prefer=tuple(as_typed(preferred.station) for preferred in part.prefer),
    )


def as_asked(printer: Printer, job: JobSettings, part: PartSettings) -> Settings:
    """What is asked of joints, surfaces and pieces, for a printer.

    Raises
    ------
    BadSetting : a joint that is taken apart is to be glued
    """
    settings = printer_settings(
        printer,
        None if job.joint == "AUTO" else job.joint,
        fit=None if job.fit == "AUTO" else job.fit,
        clearance=as_typed(job.clearance) if job.choose_clearance else None,
        least_wall=as_typed(job.least_wall) if job.choose_least_wall else None,
    )
    return replace(
        settings,
        engagement=as_typed(job.engagement) if job.choose_engagement else None,
        guard=as_typed(job.guard),
        max_move=as_typed(job.max_move),
        true=job.true,
        wind=job.wind,
        spacing=as_typed(job.spacing),
        flip=part.flip,
        lean=part.lean,
        bore=as_typed(part.bore) if part.choose_bore else None,
        pieces=part.pieces if part.pieces > 1 else None,
    )


def settings_of_bodies(
    scene: bpy.types.Scene, source: bpy.types.Object
) -> Callable[[int], Settings]:
    """The settings of each body as they are now, to be asked for beside Blender.

    Raises
    ------
    CoreError : as `settings_for`
    """
    shared = settings_for(scene, source)
    insisted = [(cut.part, cut.station) for cut in part_properties(source).cuts if cut.insisted]

    def of_body(body: int) -> Settings:
        return replace(
            shared, cuts=tuple(sorted(station for part, station in insisted if part == body))
        )

    return of_body


def show_printer(job: BOREWRIGHT_PG_job, profile: PrinterProfile) -> None:
    """Take a printer profile's values over into a scene's settings."""
    job.profile = profile.name
    for name, value in printer_values(profile).items():
        setattr(job, name, value)


def printer_values(profile: PrinterProfile) -> dict[str, object]:
    """What a printer profile has of `JobSettings`, by the settings' names."""
    made, printing = profile.compensation, profile.printing
    envelope = {} if profile.envelope is None else {"envelope": profile.envelope}
    return {
        **envelope,
        "nozzle": profile.nozzle,
        "layer": profile.layer,
        "spread": profile.spread,
        "hole_undersize": made.hole_undersize,
        "first_layer_bulge": made.first_layer_bulge,
        "shrink": made.shrink_percent,
        "material": printing.material,
        "filament": printing.filament,
        "lines": printing.lines,
        "solid_layers": printing.solid_layers,
        "infill": printing.infill_percent,
        "flow": printing.flow or 0.0,
    }


def shown_printer(job: BOREWRIGHT_PG_job, name: str, kept: PrinterProfile | None) -> PrinterProfile:
    """A scene's printer as a profile; gaps by fit are those of the one that is kept.

    Raises
    ------
    CoreError : the name is none for a file, or the nozzle cannot lay such layers
    """
    return as_shown(replace(kept or PrinterProfile(name), name=name), job)


def _printer(job: BOREWRIGHT_PG_job) -> Printer:
    kept = profile_store.read_profile(job.profile) if job.profile else None
    return as_shown(printer_of(kept), job)


def as_shown(printer: _Printer, job: JobSettings) -> _Printer:
    """A printer with a job's values in the place of its own.

    Raises
    ------
    CoreError : the nozzle cannot lay such layers
    """
    return replace(
        printer,
        envelope=_envelope(job),
        nozzle=as_typed(job.nozzle),
        layer=as_typed(job.layer),
        spread=as_typed(job.spread),
        compensation=_compensation(job),
        printing=_printing(job),
    )


def _envelope(job: JobSettings) -> tuple[float, float, float]:
    x, y, z = map(as_typed, job.envelope)
    return x, y, z


def _compensation(job: JobSettings) -> Compensation:
    sizes = (job.hole_undersize, job.first_layer_bulge, job.shrink)
    return Compensation(*map(as_typed, sizes))


def _printing(job: JobSettings) -> Printing:
    return Printing(
        material=job.material,
        filament=as_typed(job.filament),
        lines=job.lines,
        solid_layers=job.solid_layers,
        infill_percent=as_typed(job.infill),
        flow=as_typed(job.flow) or None,
    )
