"""Options that may name the part that they are for, as in --cut body:150."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from ..core.values import PartDemands
from .part_stems import known_name

_Value = TypeVar("_Value")

FLAGS = ("cut", "avoid", "prefer", "pieces")
"""Options that may name a part, as the parser calls them."""


@dataclass(frozen=True, slots=True)
class Named(Generic[_Value]):
    """What was asked for, and for which part; None: for every part."""

    name: str | None
    value: _Value


def named(parse: Callable[[str], _Value]) -> Callable[[str], Named[_Value]]:
    """A parser of VALUE and of NAME:VALUE; a name may hold colons itself."""

    def parse_named(text: str) -> Named[_Value]:
        name, colon, value = text.rpartition(":")
        if colon and not name:
            raise ValueError(f"found {text!r}; needed: the name of 1 part before the colon")
        return Named(name if colon else None, parse(value))

    return parse_named


def check_demands(arguments: argparse.Namespace, stems: Sequence[str]) -> None:
    """Raises ValueError where a name is no part's, or one part is to have two numbers of pieces."""
    for flag in FLAGS:
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


def common_demands(arguments: argparse.Namespace) -> PartDemands:
    """What is asked for every part."""
    return _demands(arguments, None, ())


def own_demands(arguments: argparse.Namespace, stems: Sequence[str]) -> dict[str, PartDemands]:
    """What is asked for single parts, by their names, in the order of these."""
    asked = (asked for flag in FLAGS for asked in getattr(arguments, flag))
    parts = {part for part in (_part(one, stems) for one in asked) if part is not None}
    return {part: _demands(arguments, part, stems) for part in sorted(parts)}


def _demands(arguments: argparse.Namespace, part: str | None, stems: Sequence[str]) -> PartDemands:
    cuts, avoid, prefer, pieces = (
        tuple(asked.value for asked in getattr(arguments, flag) if _part(asked, stems) == part)
        for flag in FLAGS
    )
    return PartDemands(
        cuts=tuple(sorted(set(cuts))),
        avoid=tuple(sorted(set(avoid))),
        prefer=tuple(sorted(set(prefer))),
        pieces=pieces[-1] if pieces else None,
    )


def _part(asked: Named[_Value], stems: Sequence[str]) -> str | None:
    return None if asked.name is None else known_name(asked.name, stems)
