"""Options that may name the part that they are for, as in --cut body:150."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

from ...core.errors import CoreError
from ...core.values import PartDemands, Settings
from .part_stems import known_name

_Value = TypeVar("_Value")

_FIELDS = {"cut": "cuts", "avoid": "avoid", "prefer": "prefer", "pieces": "pieces"}
"""Options that may name a part, as the parser calls them, and their fields in `PartDemands`."""


NONE = "none"
"""The word that takes back what a job that is repeated was asked for."""


@dataclass(frozen=True, slots=True)
class Named(Generic[_Value]):
    """What was asked for.

    name : of the part that it is for; None: every part
    value : None: none, also where a job that is repeated had some
    """

    name: str | None
    value: _Value | None


def named(parse: Callable[[str], _Value]) -> Callable[[str], Named[_Value]]:
    """A parser of VALUE and of NAME:VALUE, with `none` as VALUE too; a name may hold colons."""

    def parse_named(text: str) -> Named[_Value]:
        name, colon, value = text.rpartition(":")
        if colon and not name:
            raise ValueError(f"found {text!r}; needed: the name of 1 part before the colon")
        return Named(name if colon else None, None if value == NONE else parse(value))

    return parse_named


def check_demands(arguments: argparse.Namespace, stems: Sequence[str]) -> None:
    """Raises ValueError where a name is no part's, or one part is to have two numbers of pieces."""
    for flag in _FIELDS:
        for asked in getattr(arguments, flag):
            if asked.name is not None and known_name(asked.name, stems) is None:
                raise ValueError(
                    f"--{flag} for a part {asked.name!r}; needed: a name among the {len(stems)} "
                    f"of this job, {', '.join(stems)}"
                )
    counted = [_part(asked, stems) for asked in arguments.pieces]
    twice = [part for part in counted if counted.count(part) > 1]
    if twice:
        whom = "every part" if twice[0] is None else f"part {twice[0]!r}"
        raise ValueError(f"--pieces {len(twice)} times for {whom}; needed: once")


def given_demands(
    arguments: argparse.Namespace, stems: Sequence[str], part: str | None, kept: PartDemands
) -> PartDemands:
    """What is asked for one part, or (None) for every part; what no option asks for is kept.

    An option that is given, for whichever part, puts aside all that is kept of its kind.
    """
    given: dict[str, Any] = {}
    for flag, field in _FIELDS.items():
        asked = getattr(arguments, flag)
        values = [one.value for one in asked if _part(one, stems) == part and one.value is not None]
        if asked and flag == "pieces":
            given[field] = values[0] if values else None
        elif asked:
            given[field] = tuple(sorted(set(values)))
    return replace(kept, **given)


@contextmanager
def telling_of_names(every: Settings) -> Iterator[None]:
    """Have a refusal of what was asked for every part tell how to ask it for one of them."""
    try:
        yield
    except CoreError as problem:
        said = f"{problem.found}; {problem.needed}"
        asked = [("--cut", f"{cut:g}") for cut in every.cuts]
        asked += [] if every.pieces is None else [("--pieces", f"{every.pieces}")]
        told = [f"{flag} NAME:{value}" for flag, value in asked if f"{flag} {value}" in said]
        if told and problem.found.startswith("in part "):
            problem.remedy += f"; or {' '.join(told)} with the name of the part that it is for"
        raise


def named_parts(arguments: argparse.Namespace, stems: Sequence[str]) -> set[str]:
    """Names of all parts that something is asked for by an option."""
    asked = (one for flag in _FIELDS for one in getattr(arguments, flag))
    return {part for part in (_part(one, stems) for one in asked) if part is not None}


def _part(asked: Named[_Value], stems: Sequence[str]) -> str | None:
    """The part that it is for, its name spelt as the part's; None: every part."""
    return None if asked.name is None else known_name(asked.name, stems) or asked.name
