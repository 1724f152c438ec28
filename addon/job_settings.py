"""A job's settings: what is asked for, else the printer profile's, else the default."""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from ..core.errors import BadSetting
from ..core.fitting.fit_rules import check_layer, choose_clearance, usual_layer
from ..core.fitting.printer_profile import PrinterProfile
from ..core.values import Compensation, Settings
from . import profile_store

DEFAULTS = Settings(envelope=(1.0, 1.0, 1.0))


@dataclass(frozen=True, slots=True)
class Printer:
    """The printer that a job is for; lengths in mm.

    envelope : None where neither the arguments nor the profile have one
    """

    envelope: tuple[float, float, float] | None
    nozzle: float
    layer: float
    spread: float
    compensation: Compensation


def asked_profile(arguments: argparse.Namespace) -> PrinterProfile | None:
    """The printer profile that is named, if one is.

    Raises
    ------
    CoreError : there is none of that name, or it cannot be read
    """
    return None if arguments.profile is None else profile_store.read_profile(arguments.profile)


def asked_printer(arguments: argparse.Namespace, profile: PrinterProfile | None) -> Printer:
    """Explicit, else from the profile, else the default.

    Raises
    ------
    BadSetting : the nozzle cannot lay such layers
    """
    nozzle = arguments.nozzle or (profile.nozzle if profile else DEFAULTS.nozzle)
    kept = profile.layer if profile and nozzle == profile.nozzle else usual_layer(nozzle)
    layer = arguments.layer or kept
    check_layer(nozzle, layer)
    return Printer(
        envelope=arguments.envelope or (profile.envelope if profile else None),
        nozzle=nozzle,
        layer=layer,
        spread=profile.spread if profile else DEFAULTS.spread,
        compensation=profile.compensation if profile else DEFAULTS.compensation,
    )


def job_settings(arguments: argparse.Namespace) -> Settings:
    """All settings of `split` and `plan`.

    Raises
    ------
    CoreError : as `asked_profile` and `asked_printer`; or there is no envelope
    """
    profile = asked_profile(arguments)
    printer = asked_printer(arguments, profile)
    clearance = choose_clearance(
        arguments.fit, printer.nozzle, asked=arguments.clearance, profile=profile
    )
    return Settings(
        envelope=_envelope(printer, profile),
        clearance=clearance.radial_clearance,
        clearance_from=clearance.origin,
        engagement=arguments.engagement,
        guard=arguments.guard,
        max_move=arguments.max_move,
        true=arguments.true,
        least_wall=arguments.least_wall,
        units=arguments.units,
        cuts=tuple(sorted(arguments.cut)),
        pieces=arguments.pieces,
        flip=arguments.flip,
        bore=arguments.bore,
        joint=arguments.joint,
        fit=arguments.fit,
        nozzle=printer.nozzle,
        layer=printer.layer,
        spread=printer.spread,
        compensation=printer.compensation,
        profile=profile.name if profile else None,
    )


def _envelope(printer: Printer, profile: PrinterProfile | None) -> tuple[float, float, float]:
    if printer.envelope is not None:
        return printer.envelope
    name = profile.name if profile else ""
    raise BadSetting(
        f"0 envelopes in printer profile {name}",
        "1, of the printer's usable volume",
        f"--envelope 180x180x180, or borewright profile {name!r} --envelope 180x180x180",
    )
