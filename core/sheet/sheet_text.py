"""What the sheet says beyond its drawings, as values: tables, notes, steps, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Hazard = Literal[
    "instant glue",
    "instant glue on cloth",
    "instant glue vapour",
    "epoxy",
    "dust",
    "solvent",
    "oily rags",
    "mouth",
    "hot printer",
    "blade",
    "small parts",
    "load",
]


@dataclass(frozen=True, slots=True)
class Caution:
    """What can hurt at a step, what to do about it, and where that is from.

    brief : a sentence that warns by itself, beside each step; the text in full stands once
    """

    hazard: Hazard
    brief: str
    text: str
    source: str

    def __post_init__(self) -> None:
        assert self.brief
        assert self.text
        assert self.source


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a header; numbers as they are told, in mm where no unit is named.

    notes : sentences that belong under it
    """

    title: str
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        assert self.rows
        assert all(len(row) == len(self.header) for row in self.rows)


@dataclass(frozen=True, slots=True)
class Value:
    """A number that a step or a note needs, as it is told with its unit."""

    name: str
    shown: str


@dataclass(frozen=True, slots=True)
class Step:
    """Something to do, or something to know while printing.

    text : sentences, in order
    """

    title: str
    text: tuple[str, ...]
    values: tuple[Value, ...] = ()
    tables: tuple[Table, ...] = ()
    cautions: tuple[Caution, ...] = ()

    def __post_init__(self) -> None:
        assert self.title
        assert self.text
        assert all(self.text)


@dataclass(frozen=True, slots=True)
class PartText:
    """All that is said of one part.

    printing : notes, in the order in which they matter
    bench : steps, in order; none of a part that was passed on as it is
    tuning : notes on a wind instrument; none of other parts
    """

    name: str
    tables: tuple[Table, ...]
    printing: tuple[Step, ...]
    bench: tuple[Step, ...]
    tuning: tuple[Step, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetText:
    """All that the sheet says.

    before : sentences that come before everything else
    cautions : of all notes and steps, each once
    after : care for the finished piece
    """

    before: tuple[str, ...]
    cautions: tuple[Caution, ...]
    parts: tuple[PartText, ...]
    after: tuple[Step, ...]
