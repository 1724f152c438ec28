"""`split` and `plan`: their arguments, and what they come to."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from ...core.fitting.fit_rules import USUAL_LEAST_WALL, WALL_LINES
from ...core.surveying.unit_guess import UNITS_IN_MM
from ..jobs.job_settings import asked_job
from ..jobs.part_demands import check_demands, named
from ..jobs.part_stems import part_stems
from ..jobs.stage_clock import StageClock
from ..settings import options
from ..settings.printer_settings import DEFAULTS
from .arguments import (
    add_fit,
    add_length,
    add_printer,
    add_quiet_and_json,
    checked,
    helped,
    parse_path,
)
from .printing_arguments import add_printing
from .streams import write_text
from .sub_command import SubCommand

LEAST_WALL_RULE = f"default: {USUAL_LEAST_WALL:g}, or {WALL_LINES} times a wider nozzle"


def _split(arguments: argparse.Namespace) -> str:
    from ..jobs import headless

    told = headless.split(asked_job(arguments, arguments.parts), clock=stage_clock(arguments))
    return told.record if arguments.json else told.summary


def _plan(arguments: argparse.Namespace) -> str:
    from ..jobs import headless

    told = headless.plan(asked_job(arguments, arguments.parts), clock=stage_clock(arguments))
    return told.record if arguments.json else told.summary


def stage_clock(arguments: argparse.Namespace) -> StageClock:
    """A line a stage on standard error, or none with --quiet."""
    return StageClock(_tell_nobody if arguments.quiet else _tell_stage)


def _tell_stage(line: str) -> None:
    write_text(sys.stderr, line + "\n")


def _tell_nobody(line: str) -> None:
    """Progress with --quiet."""


def _check(arguments: argparse.Namespace) -> None:
    check_job(arguments, arguments.parts)


def check_job(arguments: argparse.Namespace, parts: Sequence[Path]) -> None:
    """Raises ValueError where nothing has an envelope, or a part is named wrongly."""
    told = arguments.envelope, arguments.profile, getattr(arguments, "repeat", None)
    if told == (None, None, None):
        raise ValueError("the following arguments are required: --envelope, or --profile with one")
    check_demands(arguments, part_stems(parts))


def _add_split(command: argparse.ArgumentParser) -> None:
    _add_job(command)
    command.add_argument(
        "--trial", action=argparse.BooleanOptionalAction,
        help="also make the fit trial of the first joint, and place its rings on a bed",
    )  # fmt: skip
    add_output(command, "folder to make, for the pieces", required=True)


def _add_plan(command: argparse.ArgumentParser) -> None:
    _add_job(command)
    purpose = "taken, so that only one word need change, and not used"
    add_output(command, purpose, required=False)
    command.add_argument(
        "--trial", action=argparse.BooleanOptionalAction,
        help="see too whether the fit trial of the first joint can be made",
    )  # fmt: skip


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


def _add_job(command: argparse.ArgumentParser) -> None:
    """The parts, and all that can be asked for them."""
    command.add_argument(
        "parts", nargs="+", type=checked(parse_path), metavar="PART",
        help="mesh file: .stl, .obj, .ply or .3mf",
    )  # fmt: skip
    command.add_argument(
        "--from", dest="repeat", type=checked(parse_path), metavar="JOB.JSON",
        help="repeat the job of this record: what is not given here is as it was there, and what "
        "moved is told; --cut none and its like leave out what it has of them",
    )  # fmt: skip
    add_job_options(command, bore="as found")
    _add_beds(command)
    command.add_argument(
        "--wind", action=argparse.BooleanOptionalAction,
        help="the parts are wind instruments: tell what the split does to their tuning",
    )  # fmt: skip
    add_quiet_and_json(command, "the job's record instead of the table")


def add_job_options(command: argparse.ArgumentParser, *, bore: str) -> None:
    """What can be asked for a plan; `bore` says what stands where that is not given.

    Nothing has a default here: what is not given may come from elsewhere.
    """
    add_printer(command)
    add_fit(command)
    add_length(command, "--engagement", options.ENGAGEMENT, "default: by the joint's diameter")
    add_length(command, "--guard", options.GUARD, f"default: {DEFAULTS.guard:g}")
    add_length(command, "--max-move", options.MAX_MOVE, f"default: {DEFAULTS.max_move:g}")
    add_length(command, "--least-wall", options.LEAST_WALL, LEAST_WALL_RULE)
    _add_surfaces(command, bore)
    _add_cuts(command)


def _add_surfaces(command: argparse.ArgumentParser, bore: str) -> None:
    command.add_argument(
        "--true",
        choices=tuple(options.TRUE_CHOICES),
        help=f"which surfaces are made exact (default: {DEFAULTS.true})",
    )
    add_length(command, "--bore", options.BORE, f"default: {bore}")
    command.add_argument(
        "--units",
        choices=(*UNITS_IN_MM, "auto"),
        help=f"what one unit of the file is (default: {DEFAULTS.units})",
    )


def _add_cuts(command: argparse.ArgumentParser) -> None:
    again = "with NAME for the part of that name only; may be given again"
    _add_demand(command, "--cut", options.CUT.parse, "MM", helped(options.CUT, again))
    avoided = f"no seam is seen between these stations, counted from the low end ({again})"
    _add_demand(command, "--avoid", options.parse_stretch, "FROM-TO", avoided)
    _add_demand(command, "--prefer", options.PREFER.parse, "AT", helped(options.PREFER, again))
    least = f"at least so many pieces (default: fewest; {again})"
    _add_demand(command, "--pieces", options.parse_pieces, "N", least)
    command.add_argument(
        "--flip", action=argparse.BooleanOptionalAction,
        help="take the other end of the part as the low end",
    )  # fmt: skip


def _add_demand(
    command: argparse.ArgumentParser,
    flag: str,
    parse: Callable[[str], object],
    value: str,
    told: str,
) -> None:
    """An option that may name its part."""
    command.add_argument(
        flag, action="append", default=[], type=checked(named(parse)),
        metavar=f"[NAME:]{value}", help=told,
    )  # fmt: skip


def _add_beds(command: argparse.ArgumentParser) -> None:
    """How the pieces are placed and printed; no joint depends on it."""
    command.add_argument(
        "--lean", action=argparse.BooleanOptionalAction,
        help="print a part that is a little too tall leaning, in one piece, where it fits so",
    )  # fmt: skip
    add_length(command, "--spacing", options.SPACING, f"default: {DEFAULTS.spacing:g}")
    add_printing(command, "default: the profile's, or ")


SPLIT = SubCommand(
    name="split",
    purpose="split a part and save its pieces",
    description="Splits a part into pieces that fit the printer, and proves them.",
    add_arguments=_add_split,
    check=_check,
    run=_split,
    only_tells=False,
)
PLAN = SubCommand(
    name="plan",
    purpose="print what split would do, write nothing",
    description="Prints what split would do. Writes nothing.",
    add_arguments=_add_plan,
    check=_check,
    run=_plan,
    only_tells=True,
)
