"""`split` and `plan`: their arguments, and what they come to."""

from __future__ import annotations

import argparse
import sys

from ..core.surveying.unit_guess import UNITS_IN_MM
from . import options
from .arguments import (
    add_fit,
    add_length,
    add_printer,
    add_quiet_and_json,
    checked,
    helped,
    parse_path,
)
from .job_settings import DEFAULTS, asked_printer, job_settings
from .stage_clock import StageClock
from .streams import write_text
from .sub_command import SubCommand


def _split(arguments: argparse.Namespace) -> str:
    from . import headless

    told = headless.split(
        arguments.part,
        job_settings(arguments, asked_printer(arguments)),
        arguments.out,
        overwrite=arguments.overwrite,
        clock=stage_clock(arguments),
    )
    return told.record if arguments.json else told.summary


def _plan(arguments: argparse.Namespace) -> str:
    from . import headless

    settings = job_settings(arguments, asked_printer(arguments))
    told = headless.plan(arguments.part, settings, clock=stage_clock(arguments))
    return told.record if arguments.json else told.summary


def stage_clock(arguments: argparse.Namespace) -> StageClock:
    """A line a stage on standard error, or none with --quiet."""
    return StageClock(_tell_nobody if arguments.quiet else _tell_stage)


def _tell_stage(line: str) -> None:
    write_text(sys.stderr, line + "\n")


def _tell_nobody(line: str) -> None:
    """Progress with --quiet."""


def check_job(arguments: argparse.Namespace) -> None:
    """Raises ValueError where there are several parts, or no envelope and no profile."""
    if arguments.more:
        raise ValueError(f"found {1 + len(arguments.more)} parts; needed: 1; run once for each")
    if arguments.envelope is None and arguments.profile is None:
        raise ValueError("the following arguments are required: --envelope, or --profile with one")


def _add_split(command: argparse.ArgumentParser) -> None:
    add_job(command)
    add_output(command, "folder to make, for the pieces", required=True)


def _add_plan(command: argparse.ArgumentParser) -> None:
    add_job(command)
    purpose = "taken, so that only one word need change, and not used"
    add_output(command, purpose, required=False)


def add_output(command: argparse.ArgumentParser, purpose: str, *, required: bool) -> None:
    """The folder to write to."""
    command.add_argument(
        "--out", required=required, type=checked(parse_path), metavar="DIR", help=purpose
    )
    command.add_argument(
        "--overwrite",
        action="store_true",
        help="replace what an earlier job left in DIR, and keep all else",
    )


def add_job(command: argparse.ArgumentParser) -> None:
    """The part, and all that can be asked for it."""
    command.add_argument(
        "part", type=checked(parse_path), metavar="PART", help="mesh file: .stl, .obj or .ply"
    )
    add_job_options(command, bore="as found")
    add_quiet_and_json(command, "the job's record instead of the table")


def add_job_options(command: argparse.ArgumentParser, *, bore: str) -> None:
    """All that can be asked for a part; `bore` says what stands where that is not given."""
    command.add_argument("more", nargs="*", default=[], help=argparse.SUPPRESS)
    add_printer(command)
    add_fit(command)
    _add_default(command, "--engagement", options.ENGAGEMENT, None, "by the joint's diameter")
    _add_default(command, "--guard", options.GUARD, DEFAULTS.guard)
    _add_default(command, "--max-move", options.MAX_MOVE, DEFAULTS.max_move)
    _add_default(command, "--least-wall", options.LEAST_WALL, DEFAULTS.least_wall)
    _add_surfaces(command, bore)
    _add_cuts(command)


def _add_surfaces(command: argparse.ArgumentParser, bore: str) -> None:
    command.add_argument(
        "--true",
        choices=tuple(options.TRUE_CHOICES),
        default=DEFAULTS.true,
        help=f"which surfaces are made exact (default: {DEFAULTS.true})",
    )
    _add_default(command, "--bore", options.BORE, None, bore)
    command.add_argument(
        "--units",
        choices=(*UNITS_IN_MM, "auto"),
        default=DEFAULTS.units,
        help=f"what one unit of the file is (default: {DEFAULTS.units})",
    )


def _add_cuts(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--cut",
        action="append",
        default=[],
        type=checked(options.CUT.parse),
        metavar="MM",
        help=helped(options.CUT, "may be given more than once"),
    )
    command.add_argument(
        "--pieces",
        type=checked(options.parse_pieces),
        metavar="N",
        help="at least so many pieces (default: fewest)",
    )
    command.add_argument(
        "--flip", action="store_true", help="take the other end of the part as the low end"
    )


def _add_default(
    command: argparse.ArgumentParser,
    flag: str,
    option: options.LengthOption,
    default: float | None,
    chosen: str = "",
) -> None:
    """`chosen` : what stands for a default that is no number."""
    told = chosen if default is None else f"{default:g}"
    add_length(command, flag, option, f"default: {told}", default)


SPLIT = SubCommand(
    name="split",
    purpose="split a part and save its pieces",
    description="Splits a part into pieces that fit the printer, and proves them.",
    add_arguments=_add_split,
    check=check_job,
    run=_split,
    only_tells=False,
)
PLAN = SubCommand(
    name="plan",
    purpose="print what split would do, write nothing",
    description="Prints what split would do. Writes nothing.",
    add_arguments=_add_plan,
    check=check_job,
    run=_plan,
    only_tells=True,
)
