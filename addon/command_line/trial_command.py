"""`trial`: a small set of rings that tries a joint's fit."""

from __future__ import annotations

import argparse
from dataclasses import replace

from ..jobs.job_settings import asked_job, asked_printer, job_settings
from ..settings import options
from .arguments import add_length, add_quiet_and_json, checked, parse_path
from .job_command import add_job_options, add_output, check_job, stage_clock
from .sub_command import SubCommand

_ANY = (options.ENVELOPE.high,) * 3

_OF_A_PART = (
    "cut", "avoid", "prefer", "pieces", "joint_number", "guard", "max_move", "true", "units",
    "flip",
)  # fmt: skip
"""Options that say something of a part only."""


def _add_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "part", nargs="?", type=checked(parse_path), metavar="PART",
        help="mesh file, to try a joint of its plan; without one: --bore and --wall, or --solid",
    )  # fmt: skip
    add_length(command, "--wall", options.WALL, "with --bore, without PART")
    add_length(command, "--solid", options.SOLID, "without PART")
    command.add_argument(
        "--joint-number", type=checked(options.parse_joint_number), metavar="N",
        help="joint of PART that is tried, from 1 at the low end (default: 1)",
    )  # fmt: skip
    add_job_options(command, bore="as found; without PART the bore of the tube that is tried")
    add_output(command, "folder to make, for fit-trial.stl", required=True)
    add_quiet_and_json(command, "the trial's record instead of the table")


def _check(arguments: argparse.Namespace) -> None:
    sizes = [name for name in ("wall", "solid") if getattr(arguments, name) is not None]
    if arguments.part is not None:
        if sizes:
            raise ValueError(f"--{sizes[0]} with PART; needed: 1 of them")
        check_job(arguments, [arguments.part])
        return
    if arguments.solid is not None and (arguments.wall or arguments.bore):
        raise ValueError("--solid with --bore or --wall; needed: 1 section")
    if arguments.solid is None and (arguments.wall is None or arguments.bore is None):
        raise ValueError("the following arguments are required: PART, or --bore and --wall, or "
                         "--solid")  # fmt: skip
    _check_of_a_part(arguments)


def _check_of_a_part(arguments: argparse.Namespace) -> None:
    given = [name for name in _OF_A_PART if getattr(arguments, name) not in (None, [])]
    if given:
        raise ValueError(f"--{given[0].replace('_', '-')} without PART, the part it is about")
    allowed = ("tenon",) if arguments.solid is not None else ("tenon", "collar")
    if arguments.joint not in (None, *allowed):
        needed = " or ".join(allowed)
        raise ValueError(f"--joint {arguments.joint} without PART; needed: {needed}")


def _run(arguments: argparse.Namespace) -> str:
    from ..jobs.trial_folder import TrialAsked, trial_of_part, trial_of_sizes

    clock = stage_clock(arguments)
    if arguments.part is not None:
        job = asked_job(arguments, [arguments.part])
        told = trial_of_part(job, arguments.joint_number or 1, clock)
    else:
        printer = asked_printer(arguments)
        somewhere = replace(printer, envelope=printer.envelope or _ANY)
        settings = replace(job_settings(arguments, somewhere), bore=None)
        asked = TrialAsked(settings, printer.envelope, arguments.out, arguments.overwrite)
        bore, wall = arguments.bore or 0.0, arguments.wall or (arguments.solid or 0.0) / 2.0
        told = trial_of_sizes(asked, bore, wall, clock)
    return told.record if arguments.json else told.summary


TRIAL = SubCommand(
    name="trial",
    purpose="make a small set of rings that tries a joint's fit",
    description="Makes one file of rings, at most 6 cm3 of plastic: a joint's own tenon, and its "
    "socket at several clearances. A ring's raised bars tell its number.",
    add_arguments=_add_arguments,
    check=_check,
    run=_run,
    only_tells=False,
)
