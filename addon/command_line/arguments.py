"""Arguments that sub-commands share, and how a wrong one is told."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NoReturn, TypeVar

from ..settings import options

_Value = TypeVar("_Value")
_Word = TypeVar("_Word", bound=str)


class Parser(argparse.ArgumentParser):
    """Tells of a wrong argument in one line."""

    def error(self, message: str) -> NoReturn:
        """End with exit code 2."""
        if message.endswith("expected one argument"):
            message += "; one that begins with - goes behind an equals sign"
        self.exit(2, f"{self.prog}: error 2, wrong arguments: {message}; see {self.prog} --help\n")


def add_printer(command: argparse.ArgumentParser) -> None:
    """What a printer profile may hold too; none of it has a default here."""
    add_envelope(command, "mm; default: the profile's, required without one")
    add_length(command, "--nozzle", options.NOZZLE, "default: the profile's, or 0.4")
    add_length(command, "--layer", options.LAYER, "default: the profile's, or half the nozzle")


def add_fit(command: argparse.ArgumentParser) -> None:
    """What says how joints fit; none of it has a default here."""
    command.add_argument(
        "--profile", metavar="NAME", help="printer profile to take what is not given from"
    )
    add_length(
        command, "--clearance", options.CLEARANCE, "default: the profile's, or by fit and nozzle"
    )
    command.add_argument(
        "--fit", choices=tuple(options.FIT_CHOICES),
        help=f"{_listed(options.FIT_CHOICES)} (default: glue; with oring and lapped take-apart)",
    )  # fmt: skip
    command.add_argument(
        "--joint", choices=tuple(options.JOINT_CHOICES),
        help=f"kind of every joint: {_listed(options.JOINT_CHOICES)} (default: by the section)",
    )  # fmt: skip


def _listed(choices: Mapping[_Word, str]) -> str:
    return "; ".join(f"{word}: {tip[0].lower()}{tip[1:]}" for word, tip in choices.items())


def add_envelope(command: argparse.ArgumentParser, remark: str) -> None:
    """The envelope, which has no default."""
    command.add_argument(
        "--envelope",
        type=checked(options.parse_envelope),
        metavar="XxYxZ",
        help=helped(options.ENVELOPE, remark),
    )


def add_length(
    command: argparse.ArgumentParser,
    flag: str,
    option: options.LengthOption,
    remark: str,
) -> None:
    """A length in mm; `remark` says what stands where it is not given."""
    command.add_argument(
        flag, type=checked(option.parse), metavar="MM", help=helped(option, remark)
    )


def add_quiet_and_json(command: argparse.ArgumentParser, instead: str) -> None:
    """Less to read, or something for a program to read `instead`."""
    command.add_argument("--quiet", action="store_true", help="no progress on standard error")
    command.add_argument("--json", action="store_true", help=f"print {instead}")


def parse_path(text: str) -> Path:
    """A path that Blender and the record can hold.

    Raises
    ------
    ValueError : it is not in UTF-8
    """
    try:
        text.encode()
    except UnicodeEncodeError as problem:
        raise ValueError(
            f"found {text!r}; needed: a name in UTF-8, also at its character {problem.start + 1}"
        ) from None
    return Path(text)


def helped(option: options.LengthOption, remark: str) -> str:
    """An option's words for --help."""
    return f"{option.tooltip[0].lower()}{option.tooltip[1:]} ({remark})"


def checked(parse: Callable[[str], _Value]) -> Callable[[str], _Value]:
    """As `parse`, with its message kept: argparse drops that of a ValueError."""

    def parse_or_tell(text: str) -> _Value:
        try:
            return parse(text)
        except ValueError as problem:
            raise argparse.ArgumentTypeError(str(problem)) from None

    return parse_or_tell
