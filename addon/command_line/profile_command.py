"""`profile`: keeps what is known of a printer, and shows it."""

from __future__ import annotations

import argparse
import json
import textwrap
from dataclasses import replace
from pathlib import Path

from ...core.estimating.materials import find_material
from ...core.fitting.fit_rules import check_layer, rule_clearance, usual_layer
from ...core.fitting.iso_words import printable_words
from ...core.fitting.printer_profile import PrinterProfile, format_profile
from ...core.meshes.places import counted
from ...core.values import Fit, Printing
from ..jobs.job_settings import PRINTING, asked_printing
from ..profiles import profile_store
from ..saving.json_text import json_text
from ..settings import options
from .arguments import add_envelope, add_length, add_quiet_and_json, checked
from .printing_arguments import add_printing
from .sub_command import SubCommand

_SHOWN = 20.0
"""Diameter, mm, that a printer's spread is shown for."""

_UPDATES = (
    "envelope", "nozzle", "layer", "spread", "clearance", "hole_undersize", "first_layer_bulge",
    "shrink", *PRINTING,
)  # fmt: skip


def _add_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "name", nargs="?", metavar="NAME", help="of the printer; without one, all are listed"
    )
    kept = "kept with the profile"
    add_envelope(command, f"mm; {kept}")
    add_length(command, "--nozzle", options.NOZZLE, f"{kept}; 0.4 in a new one")
    add_length(command, "--layer", options.LAYER, f"{kept}; half the nozzle in a new one")
    add_length(command, "--spread", options.SPREAD, f"{kept}; 0.2 in a new one")
    add_length(command, "--clearance", options.CLEARANCE, f"{kept}, for the fit")
    command.add_argument(
        "--fit",
        choices=tuple(options.FIT_CHOICES),
        help="fit that the clearance is for (default: glue)",
    )
    add_length(command, "--hole-undersize", options.HOLE_UNDERSIZE, kept)
    add_length(command, "--first-layer-bulge", options.FIRST_LAYER_BULGE, kept)
    command.add_argument(
        "--shrink",
        type=checked(options.parse_shrink),
        metavar="PERCENT",
        help=f"percent by which a print is shorter than its file ({kept})",
    )
    add_printing(command, f"{kept}; in a new one ")
    command.add_argument("--remove", action="store_true", help="remove the profile")
    add_quiet_and_json(command, "the profile as it is kept, or a list of all")


def _check(arguments: argparse.Namespace) -> None:
    given = [f"--{name.replace('_', '-')}" for name in _UPDATES if _given(arguments, name)]
    if arguments.fit is not None and arguments.clearance is None:
        raise ValueError("--fit without --clearance; needed: the gap that is for this fit")
    if arguments.name is None and (given or arguments.remove):
        raise ValueError(f"{(*given, '--remove')[0]} without NAME, the profile to keep it in")
    if arguments.remove and given:
        raise ValueError(f"--remove with {given[0]}; needed: one of them")


def _given(arguments: argparse.Namespace, name: str) -> bool:
    return getattr(arguments, name) is not None


def _run(arguments: argparse.Namespace) -> str:
    if arguments.name is None:
        return _list(as_json=arguments.json)
    if arguments.remove:
        return _remove(arguments.name, as_json=arguments.json)
    if any(_given(arguments, name) for name in _UPDATES):
        _keep(_updated(arguments))
    profile = profile_store.read_profile(arguments.name)
    if arguments.json:
        return format_profile(profile)
    return _told(profile, profile_store.profile_path(arguments.name))


def _keep(profile: PrinterProfile) -> None:
    """Save it, unless that is how it is kept: a file that does not change stays as it is."""
    known = profile_store.profile_path(profile.name) is not None
    if not known or profile_store.read_profile(profile.name) != profile:
        profile_store.save_profile(profile)


def _updated(arguments: argparse.Namespace) -> PrinterProfile:
    """The profile as it is kept, or a new one, with what is given."""
    if profile_store.profile_path(arguments.name):
        profile = profile_store.read_profile(arguments.name)
    else:
        profile = PrinterProfile(arguments.name)
        if arguments.nozzle is not None and arguments.layer is None:
            arguments.layer = usual_layer(arguments.nozzle)
    nozzle = _or(arguments.nozzle, profile.nozzle)
    layer = _or(arguments.layer, profile.layer)
    check_layer(nozzle, layer)
    clearances, made = profile.clearances, profile.compensation
    if arguments.clearance is not None:
        clearances = clearances.with_gap(arguments.fit or "glue", arguments.clearance)
    return replace(
        profile,
        envelope=arguments.envelope or profile.envelope,
        nozzle=nozzle,
        layer=layer,
        spread=_or(arguments.spread, profile.spread),
        clearances=clearances,
        compensation=replace(
            made,
            hole_undersize=_or(arguments.hole_undersize, made.hole_undersize),
            first_layer_bulge=_or(arguments.first_layer_bulge, made.first_layer_bulge),
            shrink_percent=_or(arguments.shrink, made.shrink_percent),
        ),
        printing=asked_printing(arguments, profile.printing),
    )


def _or(given: float | None, kept: float) -> float:
    return kept if given is None else given


def _remove(name: str, *, as_json: bool) -> str:
    path = profile_store.remove_profile(name)
    return json_text({"removed": str(path)}) if as_json else f"removed {path}\n"


def _list(*, as_json: bool) -> str:
    kept = profile_store.kept_profiles()
    if as_json:
        return json_text(
            {
                "folder": str(kept.folder),
                "profiles": [json.loads(format_profile(profile)) for profile in kept.profiles],
                "unreadable": [
                    {"file": str(entry.path), "problem": str(entry.problem)}
                    for entry in kept.unreadable
                ],
            }
        )
    count = len(kept.profiles)
    lines = [f"{count} printer profile{'' if count == 1 else 's'} in {kept.folder}"]
    lines += [f"  {_in_short(profile)}" for profile in kept.profiles]
    lines += [f"  cannot be read: {entry.problem}" for entry in kept.unreadable]
    return "\n".join(lines) + "\n"


def _in_short(profile: PrinterProfile) -> str:
    return (
        f"{profile.name}: {_envelope(profile)}, {profile.nozzle:g} mm nozzle, "
        f"{profile.layer:g} mm layers"
    )


def _envelope(profile: PrinterProfile) -> str:
    if profile.envelope is None:
        return "no envelope kept"
    return " x ".join(f"{length:g}" for length in profile.envelope) + " mm"


def _told(profile: PrinterProfile, path: Path | None) -> str:
    made, printing = profile.compensation, profile.printing
    rows = [
        ("file", str(path)),
        ("envelope", _envelope(profile)),
        ("nozzle", f"{profile.nozzle:g} mm, layers of {profile.layer:g} mm"),
        *((fit, _gap(profile, fit)) for fit in options.FIT_CHOICES),
        ("holes", f"print {made.hole_undersize:g} mm too narrow on the diameter"),
        ("first layers", f"bulge {made.first_layer_bulge:g} mm a side"),
        ("shrink", f"{made.shrink_percent:g} %"),
        ("filament", f"{find_material(printing.material).words}, {printing.filament:g} mm"),
        ("walls", _walls(printing)),
        ("infill", f"{printing.infill_percent:g} %"),
        ("flow", _flow(printing)),
    ]
    width = max(len(name) for name, _ in rows)
    lines = [f"printer profile {profile.name}"]
    lines += [f"  {name.ljust(width)}  {value}" for name, value in rows]
    said = f"On {_SHOWN:g} mm: {printable_words(_SHOWN, profile.spread)}"
    lines.append(textwrap.fill(said, 96, initial_indent="  ", subsequent_indent="  "))
    return "\n".join(lines) + "\n"


def _walls(printing: Printing) -> str:
    lines = counted(printing.lines, "line", "lines")
    layers = counted(printing.solid_layers, "solid layer", "solid layers")
    return f"{lines} side by side, {layers} under and over each level face"


def _flow(printing: Printing) -> str:
    if printing.flow is None:
        return "not known, and no time is told"
    return f"{printing.flow:g} mm3/s"


def _gap(profile: PrinterProfile, fit: Fit) -> str:
    kept = profile.clearances.of(fit)
    if kept is not None:
        return f"{kept:g} mm a side, kept"
    return f"{rule_clearance(fit, profile.nozzle):g} mm a side, by common practice; not tried yet"


PROFILE = SubCommand(
    name="profile",
    purpose="keep what is known of a printer, and show it",
    description="Keeps what is known of a printer under NAME, adds what is given, and prints it.",
    add_arguments=_add_arguments,
    check=_check,
    run=_run,
    only_tells=False,
)
