"""The panel's properties as settings of the core: here and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from typing import cast

import bpy

from ..core.fitting.printer_profile import PrinterProfile
from ..core.values import Compensation, Printing, Settings
from . import profile_store
from .job_settings import Printer, printer_of, printer_settings
from .properties import NAME, BOREWRIGHT_PG_job, BOREWRIGHT_PG_part


def job_properties(scene: bpy.types.Scene) -> BOREWRIGHT_PG_job:
    """A scene's settings of a job."""
    return cast("BOREWRIGHT_PG_job", getattr(scene, NAME))


def part_properties(source: bpy.types.Object) -> BOREWRIGHT_PG_part:
    """What is asked for the part that an object is."""
    return cast("BOREWRIGHT_PG_part", getattr(source, NAME))


def settings_for(scene: bpy.types.Scene, source: bpy.types.Object, body: int = 0) -> Settings:
    """All settings of a part: the scene's, and its object's own.

    body : of an object of several bodies, whose cuts count

    Raises
    ------
    CoreError : the printer profile that is named is not there or cannot be read; or a
        joint that is taken apart is to be glued
    """
    job, part = job_properties(scene), part_properties(source)
    settings = printer_settings(
        _printer(job),
        None if job.joint == "AUTO" else job.joint,
        fit=job.fit,
        clearance=job.clearance if job.choose_clearance else None,
        least_wall=job.least_wall if job.choose_least_wall else None,
    )
    return replace(
        settings,
        engagement=job.engagement if job.choose_engagement else None,
        guard=job.guard,
        max_move=job.max_move,
        true=job.true,
        spacing=job.spacing,
        flip=part.flip,
        lean=part.lean,
        bore=part.bore if part.choose_bore else None,
        pieces=part.pieces if part.pieces > 1 else None,
        cuts=tuple(sorted(cut.station for cut in part.cuts if cut.insisted and cut.part == body)),
        avoid=tuple((kept.start, kept.stop) for kept in part.avoid if kept.start < kept.stop),
    )


def show_printer(job: BOREWRIGHT_PG_job, profile: PrinterProfile) -> None:
    """Take a printer profile's values over into a scene's settings."""
    job.profile = profile.name
    if profile.envelope is not None:
        job.envelope = profile.envelope
    job.nozzle, job.layer, job.spread = profile.nozzle, profile.layer, profile.spread
    made, printing = profile.compensation, profile.printing
    job.hole_undersize, job.first_layer_bulge = made.hole_undersize, made.first_layer_bulge
    job.shrink = made.shrink_percent
    job.material, job.filament = printing.material, printing.filament
    job.lines, job.skins, job.infill = printing.lines, printing.skins, printing.infill_percent
    job.flow = printing.flow or 0.0


def shown_printer(job: BOREWRIGHT_PG_job, name: str, kept: PrinterProfile | None) -> PrinterProfile:
    """A scene's printer as a profile; gaps by fit are those of the one that is kept.

    Raises
    ------
    CoreError : the name is none for a file, or the nozzle cannot lay such layers
    """
    base = kept if kept is not None else PrinterProfile(name)
    return replace(
        base,
        name=name,
        envelope=tuple(job.envelope),
        nozzle=job.nozzle,
        layer=job.layer,
        spread=job.spread,
        compensation=_compensation(job),
        printing=_printing(job),
    )


def _printer(job: BOREWRIGHT_PG_job) -> Printer:
    kept = profile_store.read_profile(job.profile) if job.profile else None
    return replace(
        printer_of(kept),
        envelope=tuple(job.envelope),
        nozzle=job.nozzle,
        layer=job.layer,
        spread=job.spread,
        compensation=_compensation(job),
        printing=_printing(job),
    )


def _compensation(job: BOREWRIGHT_PG_job) -> Compensation:
    return Compensation(job.hole_undersize, job.first_layer_bulge, job.shrink)


def _printing(job: BOREWRIGHT_PG_job) -> Printing:
    return Printing(
        material=job.material,
        filament=job.filament,
        lines=job.lines,
        skins=job.skins,
        infill_percent=job.infill,
        flow=job.flow or None,
    )
