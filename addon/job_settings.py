"""A job's settings: what is asked for, else the printer profile's, else the default."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..core.errors import BadSetting
from ..core.fitting.fit_rules import (
    check_layer,
    choose_clearance,
    choose_fit,
    rule_least_wall,
    usual_layer,
)
from ..core.fitting.printer_profile import PrinterProfile
from ..core.values import Compensation, Fit, JointKind, PartDemands, Printing, Settings
from . import profile_store
from .part_demands import common_demands, own_demands
from .part_stems import part_stems, stem_of
from .printing_arguments import asked_printing

DEFAULTS = Settings(envelope=(1.0, 1.0, 1.0))


@dataclass(frozen=True, slots=True)
class Printer:
    """The printer that a job is for; lengths in mm.

    envelope : None where nothing tells one
    profile : that it comes from, if any
    """

    envelope: tuple[float, float, float] | None
    nozzle: float
    layer: float
    spread: float
    compensation: Compensation
    printing: Printing
    profile: PrinterProfile | None


def printer_of(profile: PrinterProfile | None) -> Printer:
    """A printer as its profile has it; the usual one without a profile."""
    known = DEFAULTS if profile is None else profile
    return Printer(
        envelope=None if profile is None else profile.envelope,
        nozzle=known.nozzle,
        layer=known.layer,
        spread=known.spread,
        compensation=known.compensation,
        printing=known.printing,
        profile=profile,
    )


def asked_printer(arguments: argparse.Namespace) -> Printer:
    """Explicit, else from the profile that is named, else the usual one.

    Raises
    ------
    CoreError : there is no profile of that name, or it cannot be read
    BadSetting : the nozzle cannot lay such layers
    """
    named = arguments.profile
    kept = printer_of(None if named is None else profile_store.read_profile(named))
    nozzle = arguments.nozzle or kept.nozzle
    layer = arguments.layer or (kept.layer if nozzle == kept.nozzle else usual_layer(nozzle))
    check_layer(nozzle, layer)
    return replace(kept, envelope=arguments.envelope or kept.envelope, nozzle=nozzle, layer=layer)


def printer_settings(
    printer: Printer,
    joint: JointKind | None,
    *,
    fit: Fit | None = None,
    clearance: float | None = None,
    least_wall: float | None = None,
) -> Settings:
    """What printer, joint and fit decide of a job's settings, all else as by default.

    Parameters
    ----------
    fit, clearance, least_wall : where they are asked for; mm, the clearance a side

    Raises
    ------
    BadSetting : there is no envelope, or a joint that is taken apart is to be glued
    """
    profile = printer.profile
    fit = choose_fit(fit, joint)
    chosen = choose_clearance(fit, printer.nozzle, asked=clearance, profile=profile)
    return Settings(
        envelope=_envelope(printer),
        clearance=chosen.radial_clearance,
        clearance_from=chosen.origin,
        fit=fit,
        joint=joint,
        least_wall=rule_least_wall(printer.nozzle) if least_wall is None else least_wall,
        nozzle=printer.nozzle,
        layer=printer.layer,
        spread=printer.spread,
        compensation=printer.compensation,
        printing=printer.printing,
        profile=None if profile is None else profile.name,
    )


_AS_GIVEN = (
    "engagement", "guard", "max_move", "true", "units", "flip", "bore", "lean", "spacing",
)  # fmt: skip
"""Options that are settings as they are, where they are given."""


@dataclass(frozen=True, slots=True, eq=False)
class Repeated:
    """The earlier job that is repeated.

    file : its record
    document : what that holds
    """

    file: Path
    document: Mapping[str, object]


@dataclass(frozen=True, slots=True, eq=False)
class JobAsked:
    """All that a job is asked for.

    paths : mesh files, in the order given; one that is given twice is two copies
    settings : for every part
    own : more, for single parts, by their names: a stem of `stems`, or that with the
        letter of one of its bodies
    out : the folder to make; None: none, of a plan
    with_trial : the fit trial of the first joint as well
    repeats : the job whose settings stand in for what is not given
    """

    paths: tuple[Path, ...]
    settings: Settings
    own: Mapping[str, PartDemands]
    out: Path | None
    overwrite: bool = False
    with_trial: bool = False
    repeats: Repeated | None = None

    @property
    def stems(self) -> tuple[str, ...]:
        """What the part of each path is called."""
        return part_stems(self.paths)


def settings_of(asked: JobAsked, name: str) -> Settings:
    """All settings for one part: of every part, of every body of its file, and its own."""
    settings = asked.settings
    for part in dict.fromkeys((stem_of(name, asked.stems), name)):
        if part in asked.own:
            settings = settings.with_demands(asked.own[part])
    return settings


def check_own_names(asked: JobAsked, names: Collection[str]) -> None:
    """Is every part that something is asked for among those that the files have?

    names : of all parts, with the letters of their bodies

    Raises
    ------
    BadSetting : it is not
    """
    for name in asked.own:
        if name not in asked.stems and name not in names:
            raise BadSetting(
                f"something is asked for part {name!r}, and there are {len(names)} parts",
                f"a name among {', '.join(names)}",
                f"one of these in the place of {name}",
            )


def asked_job(arguments: argparse.Namespace, paths: Sequence[Path]) -> JobAsked:
    """What the command line asks for.

    Raises
    ------
    CoreError : there is no profile of that name, or it cannot be read
    BadSetting : there is no envelope, or the nozzle cannot lay such layers
    """
    return JobAsked(
        paths=tuple(paths),
        settings=job_settings(arguments, asked_printer(arguments)),
        own=own_demands(arguments, part_stems(paths)),
        out=arguments.out,
        overwrite=arguments.overwrite,
        with_trial=getattr(arguments, "trial", False),
    )


def job_settings(arguments: argparse.Namespace, printer: Printer) -> Settings:
    """All settings that hold for every part.

    Raises
    ------
    BadSetting : there is no envelope, or a joint that is taken apart is to be glued
    """
    settings = printer_settings(
        printer,
        arguments.joint,
        fit=arguments.fit,
        clearance=arguments.clearance,
        least_wall=arguments.least_wall,
    )
    settings = settings.with_demands(common_demands(arguments))
    every = {name: getattr(arguments, name, None) for name in _AS_GIVEN}
    given = {name: value for name, value in every.items() if value is not None}
    return replace(settings, printing=asked_printing(arguments, settings.printing), **given)


def _envelope(printer: Printer) -> tuple[float, float, float]:
    if printer.envelope is not None:
        return printer.envelope
    name = printer.profile.name if printer.profile else ""
    raise BadSetting(
        f"0 envelopes in printer profile {name}",
        "1, of the printer's usable volume",
        f"--envelope 180x180x180, or borewright profile {name!r} --envelope 180x180x180",
    )
