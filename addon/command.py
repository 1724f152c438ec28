"""The headless command: arguments in, exit code out.

0: done. 1: it cannot be done; the message says what was found, what is needed
and what to try. 2: wrong arguments.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn, TextIO, TypeVar

from ..core.errors import CoreError
from ..core.surveying.unit_guess import UNITS_IN_MM
from ..core.values import Settings
from . import options
from .stage_clock import StageClock
from .stop_request import StopRequested, stop_on_request

_Value = TypeVar("_Value")

_DEFAULTS = Settings(envelope=(1.0, 1.0, 1.0))


def main(argv: Sequence[str]) -> int:
    """Run one sub-command; all three ways to start it end here."""
    parser = _parser()
    try:
        arguments = parser.parse_args(argv)
        if arguments.more:
            parser.error(f"found {1 + len(arguments.more)} parts; needed: 1; run once for each")
    except SystemExit as stop:  # argparse has told why, or has helped
        return stop.code if isinstance(stop.code, int) else 2
    try:
        with stop_on_request():
            told = _run(arguments)
    except CoreError as problem:
        _write(sys.stderr, f"borewright: {problem}\n")
        return 1
    except KeyboardInterrupt:
        _write(sys.stderr, "borewright: stopped; 0 files written\n")
        return 130
    except StopRequested:
        _write(sys.stderr, "borewright: told to stop; 0 files written\n")
        return 143
    unheard = _write(sys.stdout, told)
    if unheard:
        _write(sys.stderr, f"borewright: done, but standard output takes no text: {unheard}\n")
    return 1 if unheard and arguments.command == "plan" else 0


def _write(stream: TextIO | None, text: str) -> str:
    """Write to a stream, whatever its encoding; why it did not work, or nothing."""
    if stream is None:
        return "there is none"
    encoding = stream.encoding or "utf-8"
    try:
        stream.write(text.encode(encoding, "backslashreplace").decode(encoding))
        stream.flush()
    except (OSError, ValueError) as problem:
        with contextlib.suppress(OSError, ValueError):
            stream.close()  # or Python would try once more when it ends
        return str(problem)
    return ""


def _run(arguments: argparse.Namespace) -> str:
    """Do what was asked; the text for standard output."""
    from . import headless

    settings = _settings(arguments)
    clock = StageClock(_tell_nobody if arguments.quiet else _tell_stage)
    if arguments.command == "plan":
        told = headless.plan(arguments.part, settings, clock=clock)
    else:
        told = headless.split(
            arguments.part, settings, arguments.out, overwrite=arguments.overwrite, clock=clock
        )
    return told.record if arguments.json else told.summary


def _settings(arguments: argparse.Namespace) -> Settings:
    return Settings(
        envelope=arguments.envelope,
        clearance=arguments.clearance,
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
    )


def _tell_stage(line: str) -> None:
    _write(sys.stderr, line + "\n")


def _tell_nobody(line: str) -> None:
    """Progress with --quiet."""


class _Parser(argparse.ArgumentParser):
    """Tells of a wrong argument in one line."""

    def error(self, message: str) -> NoReturn:
        """End with exit code 2."""
        self.exit(2, f"{self.prog}: error 2, wrong arguments: {message}; see {self.prog} --help\n")


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="borewright",
        description="Splits tubular prints that are too tall into proven, keyed pieces.",
        allow_abbrev=False,
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    split = commands.add_parser(
        "split",
        help="split a part and save its pieces",
        description="Splits a part into pieces that fit the printer, and proves them.",
        allow_abbrev=False,
    )
    _add_shared(split)
    _add_output(split, "folder to make, for the pieces", required=True)
    plan = commands.add_parser(
        "plan",
        help="print what split would do, write nothing",
        description="Prints what split would do. Writes nothing.",
        allow_abbrev=False,
    )
    _add_shared(plan)
    _add_output(plan, "taken, so that only one word need change, and not used", required=False)
    return parser


def _add_output(command: argparse.ArgumentParser, purpose: str, *, required: bool) -> None:
    command.add_argument(
        "--out", required=required, type=_checked(_path), metavar="DIR", help=purpose
    )
    command.add_argument(
        "--overwrite",
        action="store_true",
        help="replace what an earlier job left in DIR, and keep all else",
    )


def _add_shared(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "part", type=_checked(_path), metavar="PART", help="mesh file: .stl, .obj or .ply"
    )
    command.add_argument("more", nargs="*", default=[], help=argparse.SUPPRESS)
    command.add_argument(
        "--envelope",
        required=True,
        type=_checked(options.parse_envelope),
        metavar="XxYxZ",
        help=_help(options.ENVELOPE, "mm; required"),
    )
    _add_length(command, "--clearance", options.CLEARANCE, _DEFAULTS.clearance)
    _add_length(
        command,
        "--engagement",
        options.ENGAGEMENT,
        _DEFAULTS.engagement,
        chosen="by the joint's diameter",
    )
    _add_length(command, "--guard", options.GUARD, _DEFAULTS.guard)
    _add_length(command, "--max-move", options.MAX_MOVE, _DEFAULTS.max_move)
    _add_length(command, "--least-wall", options.LEAST_WALL, _DEFAULTS.least_wall)
    command.add_argument(
        "--true",
        choices=tuple(options.TRUE_CHOICES),
        default=_DEFAULTS.true,
        help=f"which surfaces are made exact (default: {_DEFAULTS.true})",
    )
    _add_length(command, "--bore", options.BORE, _DEFAULTS.bore, chosen="as found")
    command.add_argument(
        "--units",
        choices=(*UNITS_IN_MM, "auto"),
        default=_DEFAULTS.units,
        help=f"what one unit of the file is (default: {_DEFAULTS.units})",
    )
    command.add_argument(
        "--cut",
        action="append",
        default=[],
        type=_checked(options.CUT.parse),
        metavar="MM",
        help=_help(options.CUT, "may be given more than once"),
    )
    command.add_argument(
        "--pieces",
        type=_checked(options.parse_pieces),
        metavar="N",
        help="at least so many pieces (default: fewest)",
    )
    command.add_argument(
        "--flip", action="store_true", help="take the other end of the part as the low end"
    )
    command.add_argument("--quiet", action="store_true", help="no progress on standard error")
    command.add_argument(
        "--json", action="store_true", help="print the job's record instead of the table"
    )


def _add_length(
    command: argparse.ArgumentParser,
    flag: str,
    option: options.LengthOption,
    default: float | None,
    *,
    chosen: str = "",
) -> None:
    """`chosen` : what stands for a default that is no number."""
    told = chosen if default is None else f"{default:g}"
    command.add_argument(
        flag,
        type=_checked(option.parse),
        default=default,
        metavar="MM",
        help=_help(option, f"default: {told}"),
    )


def _path(text: str) -> Path:
    """A path that Blender and the record can hold."""
    try:
        text.encode()
    except UnicodeEncodeError as problem:
        raise ValueError(
            f"found {text!r}; needed: a name in UTF-8, also at its character {problem.start + 1}"
        ) from None
    return Path(text)


def _help(option: options.LengthOption, remark: str) -> str:
    return f"{option.tooltip[0].lower()}{option.tooltip[1:]} ({remark})"


def _checked(parse: Callable[[str], _Value]) -> Callable[[str], _Value]:
    """As `parse`, with its message kept: argparse drops that of a ValueError."""

    def parse_or_tell(text: str) -> _Value:
        try:
            return parse(text)
        except ValueError as problem:
            raise argparse.ArgumentTypeError(str(problem)) from None

    return parse_or_tell
