"""A job's settings: what is asked for, else the printer profile's, else the default."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace

from ..core.errors import BadSetting
from ..core.fitting.fit_rules import check_layer, choose_clearance, usual_layer
from ..core.fitting.printer_profile import PrinterProfile
from ..core.values import Compensation, Fit, Printing, Settings
from . import profile_store

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


def printer_settings(printer: Printer, fit: Fit, clearance: float | None) -> Settings:
    """What printer and fit decide of a job's settings, all else as by default.

    Parameters
    ----------
    clearance : mm a side, where one is asked for

    Raises
    ------
    BadSetting : there is no envelope
    """
    profile = printer.profile
    chosen = choose_clearance(fit, printer.nozzle, asked=clearance, profile=profile)
    return Settings(
        envelope=_envelope(printer),
        clearance=chosen.radial_clearance,
        clearance_from=chosen.origin,
        fit=fit,
        nozzle=printer.nozzle,
        layer=printer.layer,
        spread=printer.spread,
        compensation=printer.compensation,
        printing=printer.printing,
        profile=None if profile is None else profile.name,
    )


def job_settings(arguments: argparse.Namespace, printer: Printer) -> Settings:
    """All settings of a job.

    Raises
    ------
    BadSetting : there is no envelope
    """
    return replace(
        printer_settings(printer, arguments.fit, arguments.clearance),
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
    )


def _envelope(printer: Printer) -> tuple[float, float, float]:
    if printer.envelope is not None:
        return printer.envelope
    name = printer.profile.name if printer.profile else ""
    raise BadSetting(
        f"0 envelopes in printer profile {name}",
        "1, of the printer's usable volume",
        f"--envelope 180x180x180, or borewright profile {name!r} --envelope 180x180x180",
    )
