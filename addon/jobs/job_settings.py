"""A job's settings: as asked for, else as in a job that is repeated, else as in the profile."""

from __future__ import annotations

import argparse
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...core.errors import BadSetting
from ...core.fitting.fit_rules import (
    choose_fit,
    rule_least_wall,
    usual_layer,
)
from ...core.fitting.printer_profile import PrinterProfile
from ...core.values import (
    Fit,
    PartDemands,
    Printing,
    Settings,
)
from ..profiles import profile_store
from ..settings.printer_settings import DEFAULTS, Printer, printer_of, printer_settings
from .part_demands import given_demands, named_parts
from .part_stems import part_stems, stem_of
from .repeated_job import Repeated, read_repeated


def asked_printer(arguments: argparse.Namespace, recorded: Settings | None = None) -> Printer:
    """Explicit, else from the profile that is named, else as recorded, else the usual one.

    Parameters
    ----------
    recorded : of the job that is repeated

    Raises
    ------
    CoreError : there is no profile of that name, or it cannot be read
    BadSetting : the nozzle cannot lay such layers
    """
    kept = _kept_printer(arguments, recorded)
    nozzle = arguments.nozzle or kept.nozzle
    layer = arguments.layer or (kept.layer if nozzle == kept.nozzle else usual_layer(nozzle))
    return replace(kept, envelope=arguments.envelope or kept.envelope, nozzle=nozzle, layer=layer)


def _kept_printer(arguments: argparse.Namespace, recorded: Settings | None) -> Printer:
    """The printer without what is given of it."""
    if arguments.profile is not None:
        printer = printer_of(profile_store.read_profile(arguments.profile))
        if printer.envelope is None and recorded is not None:
            return replace(printer, envelope=recorded.envelope)
        return printer
    if recorded is None:
        return printer_of(None)
    return Printer(
        envelope=recorded.envelope,
        nozzle=recorded.nozzle,
        layer=recorded.layer,
        spread=recorded.spread,
        compensation=recorded.compensation,
        printing=recorded.printing,
        profile=_recorded_profile(arguments, recorded),
    )


def _recorded_profile(arguments: argparse.Namespace, recorded: Settings) -> PrinterProfile | None:
    """The profile of the job that is repeated, where a gap is to be chosen from it."""
    asks_it = _rechooses(arguments, recorded) and arguments.clearance is None
    if recorded.profile is None or not asks_it:
        return None
    return profile_store.read_profile(recorded.profile)


def _rechooses(arguments: argparse.Namespace, recorded: Settings) -> bool:
    """Is the gap to be chosen anew, for something is given that it goes by?"""
    given = (arguments.profile, arguments.fit, arguments.nozzle, arguments.clearance)
    fit = choose_fit(_asked_fit(arguments, recorded), arguments.joint or recorded.joint)
    return fit != recorded.fit or any(value is not None for value in given)


def _asked_fit(arguments: argparse.Namespace, recorded: Settings) -> Fit | None:
    """The fit that is given, or that was; None where the kind of joint decided it."""
    by_rule = recorded.fit == choose_fit(None, recorded.joint)
    return arguments.fit or (None if by_rule else recorded.fit)


def _asked_wall(arguments: argparse.Namespace, recorded: Settings) -> float | None:
    """The least wall that is given, or that was; None where the nozzle decided it."""
    by_rule = recorded.least_wall == rule_least_wall(recorded.nozzle)
    return arguments.least_wall or (None if by_rule else recorded.least_wall)


PRINTING = ("material", "filament", "lines", "solid_layers", "infill", "flow")
"""Options that say how pieces are printed."""

_AS_GIVEN = (
    "engagement", "guard", "max_move", "true", "units", "flip", "bore", "lean", "spacing",
    "wind",
)  # fmt: skip
"""Options that are settings as they are, where they are given."""


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
                f"0 parts called {name}, for which something is asked",
                f"a name among {', '.join(names)}",
                f"one of these in the place of {name}",
            )


def asked_job(arguments: argparse.Namespace, paths: Sequence[Path]) -> JobAsked:
    """What the command line asks for.

    Raises
    ------
    CoreError : the record of the job to repeat cannot be read; there is no profile of
        that name, or it cannot be read
    BadSetting : there is no envelope, or the nozzle cannot lay such layers
    """
    stems = part_stems(paths)
    record = getattr(arguments, "repeat", None)
    repeats = None if record is None else read_repeated(record, stems)
    recorded = None if repeats is None else repeats.settings
    trial = getattr(arguments, "trial", None)
    return JobAsked(
        paths=tuple(paths),
        settings=job_settings(arguments, asked_printer(arguments, recorded), recorded),
        own=_own(arguments, stems, {} if repeats is None else repeats.own),
        out=arguments.out,
        overwrite=arguments.overwrite,
        with_trial=trial if trial is not None else repeats is not None and repeats.with_trial,
        repeats=repeats,
    )


def _own(
    arguments: argparse.Namespace, stems: Sequence[str], kept: Mapping[str, PartDemands]
) -> dict[str, PartDemands]:
    """What is asked for single parts, in the order of their names."""
    nothing = PartDemands()
    parts = sorted({*kept, *named_parts(arguments, stems)})
    every = {part: given_demands(arguments, stems, part, kept.get(part, nothing)) for part in parts}
    return {part: demands for part, demands in every.items() if demands != nothing}


def job_settings(
    arguments: argparse.Namespace, printer: Printer, recorded: Settings | None = None
) -> Settings:
    """All settings that hold for every part.

    Parameters
    ----------
    recorded : of the job that is repeated

    Raises
    ------
    BadSetting : there is no envelope, or a joint that is taken apart is to be glued
    """
    base = recorded or DEFAULTS
    settings = printer_settings(
        printer,
        arguments.joint or base.joint,
        fit=_asked_fit(arguments, base),
        clearance=arguments.clearance,
        least_wall=_asked_wall(arguments, base),
        base=base,
    )
    if recorded is not None and not _rechooses(arguments, recorded):
        settings = replace(
            settings, clearance=recorded.clearance, clearance_from=recorded.clearance_from
        )
    kept = PartDemands(base.cuts, base.avoid, base.prefer, base.pieces)
    common = given_demands(arguments, (), None, kept)
    every = {name: getattr(arguments, name, None) for name in _AS_GIVEN}
    return replace(
        settings,
        printing=asked_printing(arguments, settings.printing),
        cuts=common.cuts,
        avoid=common.avoid,
        prefer=common.prefer,
        pieces=common.pieces,
        **{name: value for name, value in every.items() if value is not None},
    )


def asked_printing(arguments: argparse.Namespace, kept: Printing) -> Printing:
    """What is kept, with what is given; commands that cannot be given any leave it as it is."""
    given = {name: getattr(arguments, name, None) for name in PRINTING}
    given["infill_percent"] = given.pop("infill")
    return replace(kept, **{name: value for name, value in given.items() if value is not None})
