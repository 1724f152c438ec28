"""What the record of a job, job.json, tells of its parts, read again.

Only what two jobs are compared by; all of that is checked here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import TypeVar

from ..errors import BadRecord
from ..strict_json import entry, many, number, optional, read_value, text, whole_from
from .report import SCHEMA

_Value = TypeVar("_Value")

_INDEX = whole_from(0, 1e6)
_ENTRIES = many(entry)


@dataclass(frozen=True, slots=True)
class SeenSurface:
    """A stretch of bore or outside: mm, from one station to another."""

    diameter: float
    low: float
    high: float
    offset: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class SeenHole:
    """A side hole: mm, and degrees."""

    station: float
    angle_deg: float
    along: float
    across: float


@dataclass(frozen=True, slots=True)
class SeenJoint:
    """A joint: mm, and degrees."""

    kind: str
    station: float
    engagement: float
    inner: float
    outer: float
    clearance: float
    key_angle_deg: float


@dataclass(frozen=True, slots=True)
class SeenPiece:
    """A piece.

    height : mm, as it prints
    bed : from 0; None: on none
    """

    name: str
    role: str
    height: float
    sha256: str
    bed: int | None


@dataclass(frozen=True, slots=True)
class SeenPart:
    """A part.

    length : mm; None: it could not be surveyed
    cuts : stations
    pieces : none, of a plan
    """

    name: str
    file: str
    length: float | None
    bores: tuple[SeenSurface, ...]
    outsides: tuple[SeenSurface, ...]
    holes: tuple[SeenHole, ...]
    joints: tuple[SeenJoint, ...]
    pieces: tuple[SeenPiece, ...]

    @property
    def stem(self) -> str:
        """The name without the letter of its body."""
        own = re.escape(PurePath(self.file).stem)
        stem = re.fullmatch(rf"({own}(-[0-9]+)?)(-[a-z]+)?", self.name, re.DOTALL)
        return self.name if stem is None else stem[1]


@dataclass(frozen=True, slots=True)
class SeenJob:
    """A job.

    bed_count : None where pieces were not put on beds
    """

    parts: tuple[SeenPart, ...]
    bed_count: int | None
    with_trial: bool

    @property
    def stems(self) -> tuple[str, ...]:
        """Names of its files, in order."""
        return tuple(dict.fromkeys(part.stem for part in self.parts))


def seen_job(document: Mapping[str, object]) -> SeenJob:
    """What a record tells.

    Raises
    ------
    BadRecord : it is not of a job, of a newer version, or damaged
    """
    _check_schema(document)
    parts = tuple(_part(part) for part in _read(document, "parts", _ENTRIES))
    beds = _entries_or_none(document, "beds")
    on_beds = any(piece.bed is not None for part in parts for piece in part.pieces)
    return SeenJob(
        parts=parts,
        bed_count=len(beds) if on_beds else None,
        with_trial=_read_or(document, "trial", optional(entry), None) is not None,
    )


def place_matches(old: Sequence[str], new: Sequence[str]) -> dict[str, str]:
    """Which old name each new one stands for: the same, else the one in its place.

    By place only where there are as many as before, and where neither name is elsewhere.
    """
    same = {name: name for name in new if name in old}
    if len(old) != len(new):
        return same
    moved = {
        after: before
        for before, after in zip(old, new, strict=True)
        if after not in old and before not in new
    }
    return same | moved


def _check_schema(document: Mapping[str, object]) -> None:
    found = _read(document, "schema", text)[:60]
    if found == SCHEMA:
        return
    family, _, version = found.partition("/")
    if family == SCHEMA.partition("/")[0] and version.isdecimal():
        raise BadRecord(
            f"record of version {version}",
            f"version {SCHEMA.partition('/')[2]}, the newest that this Borewright knows",
            "a newer Borewright",
        )
    raise _damaged(f"schema {found!r} of 1 record", f"schema {SCHEMA!r}, which split writes")


def _part(part: Mapping[str, object]) -> SeenPart:
    survey = _read(part, "survey", optional(entry)) or {}
    return SeenPart(
        name=_read(part, "name", text),
        file=_read(_read(part, "source", entry), "file", text),
        length=_read(survey, "length", number) if survey else None,
        bores=tuple(map(_surface, _entries_or_none(survey, "bores"))),
        outsides=tuple(map(_surface, _entries_or_none(survey, "outsides"))),
        holes=tuple(map(_hole, _entries_or_none(survey, "side_holes"))),
        joints=tuple(map(_joint, _read(part, "joints", _ENTRIES))),
        pieces=tuple(map(_piece, _read(part, "pieces", _ENTRIES))),
    )


def _surface(found: Mapping[str, object]) -> SeenSurface:
    return SeenSurface(
        diameter=_read(found, "diameter", number),
        low=_read(found, "from", number),
        high=_read(found, "to", number),
        offset=_read(found, "offset", many(number)),
    )


def _hole(found: Mapping[str, object]) -> SeenHole:
    return SeenHole(
        station=_read(found, "station", number),
        angle_deg=_read(found, "angle_deg", number),
        along=_read(found, "axial_width", number),
        across=_read(found, "across_width", number),
    )


def _joint(found: Mapping[str, object]) -> SeenJoint:
    return SeenJoint(
        kind=_read(found, "kind", text),
        station=_read(found, "station", number),
        engagement=_read(found, "engagement", number),
        inner=_read(found, "tenon_diameter", number),
        outer=_read(found, "socket_diameter", number),
        clearance=_read(found, "radial_clearance", number),
        key_angle_deg=_read(found, "key_angle_deg", number),
    )


def _piece(found: Mapping[str, object]) -> SeenPiece:
    sizes = _read(found, "size", many(number))
    if len(sizes) != 3:
        raise _damaged(f"size is {len(sizes)} numbers", "3, of a piece")
    return SeenPiece(
        name=_read(found, "name", text),
        role=_read_or(found, "role", text, "piece"),
        height=sizes[2],
        sha256=_read(found, "sha256", text),
        bed=_read_or(found, "bed", optional(_INDEX), None),
    )


def _read(found: Mapping[str, object], key: str, read: Callable[[object], _Value]) -> _Value:
    if key not in found:
        raise _damaged(f"0 keys {key!r}", "1")
    return read_value(found, key, read, _damaged)


def _read_or(
    found: Mapping[str, object], key: str, read: Callable[[object], _Value], default: _Value
) -> _Value:
    """What is there, else what stands for it in older records."""
    return _read(found, key, read) if key in found else default


def _entries_or_none(found: Mapping[str, object], key: str) -> tuple[dict[str, object], ...]:
    return _read(found, key, _ENTRIES) if key in found else ()


def _damaged(found: str, needed: str) -> BadRecord:
    return BadRecord(found, needed, "job.json as a job wrote it, or the options in its place")
