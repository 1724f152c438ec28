"""Which files of an output folder are a job's own: what its record lists, by their hashes."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from pathlib import Path

from ...core.recording.report import SCHEMA
from ...core.trial.trial_record import SCHEMA as TRIAL_SCHEMA
from .output_refusal import OutputRefused

RECORD, TIMINGS = "job.json", "timings.json"

_LISTED = {
    SCHEMA: (("parts", "pieces"), ("beds",), ("trial",), ("sheet",)),
    TRIAL_SCHEMA: (("files",),),
}
"""Where a record of each schema lists files: every `file` with its `sha256`."""

_UNLISTED = {SCHEMA: {RECORD, TIMINGS}, TRIAL_SCHEMA: {RECORD}}
"""What is written beside the files that a record of each schema lists."""


def own_files(folder: Path) -> frozenset[str]:
    """Names of what an earlier job left in a folder, unchanged since; none without a record.

    Raises
    ------
    OutputRefused : a listed file was changed, or the record is of nobody's
    OSError : a file cannot be read
    """
    if not os.path.lexists(folder / RECORD):
        return frozenset()
    schema, hashes = _recorded(folder / RECORD)
    for name in sorted(hashes):
        path = folder / name
        if os.path.lexists(path) and not _has_hash(path, hashes[name]):
            raise OutputRefused(
                f"1 file changed since it was saved: {path}",
                "files as the earlier job left them",
                "move it elsewhere, or another --out",
            )
    return frozenset(hashes) | _UNLISTED[schema]


def sound_own_files(folder: Path) -> frozenset[str]:
    """As `own_files`, without the listed files that were changed; none with a record of nobody's.

    Raises
    ------
    OSError : a file cannot be read
    """
    try:
        schema, hashes = _recorded(folder / RECORD)
    except OutputRefused:
        return frozenset()
    sound = (name for name in hashes if _has_hash(folder / name, hashes[name]))
    return frozenset(sound) | _UNLISTED[schema]


def check_whole(folder: Path) -> None:
    """Is every file that a new record lists there, as it lists it?

    Raises
    ------
    OutputRefused : the disk lost or changed one, or two names are one to it
    """
    assert (folder / RECORD).is_file(), "output without a record"
    for name, recorded in _recorded(folder / RECORD)[1].items():
        if not _has_hash(folder / name, recorded):
            raise OutputRefused(
                f"1 file that is not on the disk as it was written: {name}",
                "a sound disk, and no 2 names that are one to it",
                "other file names, or another --out, on another disk",
            )


def file_sha256(path: Path) -> str:
    """Hash of a file's bytes, as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _has_hash(path: Path, recorded: str) -> bool:
    return path.is_file() and file_sha256(path) == recorded


def _recorded(record: Path) -> tuple[str, dict[str, str]]:
    """A record's schema, and the hash of each file that it lists, by its name."""
    try:
        document = json.loads(record.read_text(encoding="utf-8"))
        schema = str(document["schema"])
        listed = [entry for keys in _LISTED[schema] for entry in _entries(document, keys)]
        return schema, {str(entry["file"]): str(entry["sha256"]) for entry in listed}
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        raise OutputRefused(
            f"1 file that is no record of an earlier job: {record}",
            f"a record of schema {SCHEMA} or {TRIAL_SCHEMA}",
            "move it elsewhere, or another --out",
        ) from None


def _entries(value: object, keys: tuple[str, ...]) -> Iterator[dict[str, object]]:
    """The files under nested keys; one without a hash may be anybody's."""
    for item in value if isinstance(value, list) else [value]:
        if isinstance(item, dict):
            if keys:
                yield from _entries(item.get(keys[0]), keys[1:])
            elif "file" in item and "sha256" in item:
                yield item
