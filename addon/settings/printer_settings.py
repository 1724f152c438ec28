"""The printer that a job is for, and what it decides of the job's settings, with joint and fit."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ...core.errors import BadSetting
from ...core.fitting.fit_rules import check_layer, choose_clearance, choose_fit, rule_least_wall
from ...core.fitting.printer_profile import PrinterProfile
from ...core.values import Compensation, Fit, JointKind, Printing, Settings

DEFAULTS = Settings(envelope=(1.0, 1.0, 1.0))


@dataclass(frozen=True, slots=True)
class Printer:
    """The printer that a job is for; lengths in mm.

    envelope : None where nothing tells one
    profile : that it comes from, if any

    Raises
    ------
    BadSetting : the nozzle cannot lay such layers
    """

    envelope: tuple[float, float, float] | None
    nozzle: float
    layer: float
    spread: float
    compensation: Compensation
    printing: Printing
    profile: PrinterProfile | None

    def __post_init__(self) -> None:
        check_layer(self.nozzle, self.layer)


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


def printer_settings(
    printer: Printer,
    joint: JointKind | None,
    *,
    fit: Fit | None = None,
    clearance: float | None = None,
    least_wall: float | None = None,
    base: Settings = DEFAULTS,
) -> Settings:
    """What printer, joint and fit decide of a job's settings, all else as in `base`.

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
    return replace(
        base,
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
        profile=base.profile if profile is None else profile.name,
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
