"""The headless command: arguments in, exit code out.

0: done. 1: it cannot be done; the message says what was found, what is needed
and what to try. 2: wrong arguments.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from ...core.errors import CoreError
from ..saving.stop_request import StopRequested, stop_on_request
from .arguments import Parser, parse_path
from .job_command import PLAN, SPLIT
from .profile_command import PROFILE
from .streams import write_text
from .sub_command import SubCommand
from .trial_command import TRIAL

SUB_COMMANDS: tuple[SubCommand, ...] = (SPLIT, PLAN, TRIAL, PROFILE)
"""In the order of --help."""


def main(argv: Sequence[str]) -> int:
    """Run one sub-command; all three ways to start it end here."""
    parser = _parser()
    try:
        arguments, late = parser.parse_known_args(argv)
        asked: SubCommand = arguments.sub_command
        try:
            _take_late_parts(arguments, late)
            asked.check(arguments)
        except ValueError as problem:
            parser.error(str(problem))
    except SystemExit as stop:  # argparse has told why, or has helped
        return stop.code if isinstance(stop.code, int) else 2
    try:
        with stop_on_request():
            told = asked.run(arguments)
    except CoreError as problem:
        write_text(sys.stderr, f"borewright: {problem}\n")
        return 1
    except KeyboardInterrupt:
        write_text(sys.stderr, "borewright: stopped; 0 files written\n")
        return 130
    except StopRequested:
        write_text(sys.stderr, "borewright: told to stop; 0 files written\n")
        return 143
    unheard = write_text(sys.stdout, told)
    if unheard:
        write_text(sys.stderr, f"borewright: done, but standard output takes no text: {unheard}\n")
    return 1 if unheard and asked.only_tells else 0


def _take_late_parts(arguments: argparse.Namespace, late: Sequence[str]) -> None:
    """Parts that stand behind options: argparse takes the first row of them only."""
    unknown = [word for word in late if word.startswith("-") or "parts" not in arguments]
    if unknown:
        raise ValueError(f"unrecognized arguments: {' '.join(unknown)}")
    if late:
        arguments.parts += map(parse_path, late)


def _parser() -> Parser:
    parser = Parser(
        prog="borewright",
        description="Splits tubular prints that are too tall into proven, keyed pieces.",
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for known in SUB_COMMANDS:
        command = commands.add_parser(
            known.name, help=known.purpose, description=known.description, allow_abbrev=False
        )
        known.add_arguments(command)
        command.set_defaults(sub_command=known)
    return parser
