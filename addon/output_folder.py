"""The output folder: written whole or not at all.

New files are made in a temporary folder beside the output folder, which takes
its place in one step when all is written. What else lies in the output folder
is kept: it is linked or copied into the new one.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import glob
import hashlib
import json
import os
import shutil
import time
import uuid
from collections.abc import Iterator
from pathlib import Path

from ..core.errors import CoreError
from ..core.recording.report import SCHEMA
from ..core.trial.trial_record import SCHEMA as TRIAL_SCHEMA

RECORD, TIMINGS = "job.json", "timings.json"

MOST_KEPT = 10_000
"""Files kept from the old folder; more than this is not an output folder but a disk."""

_ASIDE = "-old"
_STALE_AFTER_S = 3600.0
"""A temporary folder lives for the seconds that saving takes; an older one was left behind."""


class OutputRefused(CoreError):
    """The output folder cannot be made, or holds what must not be replaced."""


def check_output(folder: Path, *, overwrite: bool) -> frozenset[str]:
    """Names in the output folder that may be replaced; everything else is kept.

    Touches nothing.

    Raises
    ------
    OutputRefused : its parent is no folder that can be written to; it is no
        folder, or none that can be read; it holds something and `overwrite` is
        off; or one of its own files was changed since
    """
    with _refusals(folder):
        return _replaceable(folder, overwrite=overwrite)


def _replaceable(folder: Path, *, overwrite: bool) -> frozenset[str]:
    parent = folder.parent
    if not parent.is_dir():
        raise OutputRefused(
            f"0 folders at {parent}", "1 to put the output in", "make it, or another --out"
        )
    if not os.access(parent, os.W_OK):
        raise OutputRefused(
            f"{parent} cannot be written to (error {errno.EACCES})",
            "1 folder that can be written to",
            "another --out",
        )
    if Path.cwd().is_relative_to(folder):
        raise OutputRefused(
            f"1 folder that this runs in or below, and that would be replaced: {folder}",
            "another folder",
            "another --out, or run from another folder",
        )
    if not os.path.lexists(folder):
        return frozenset()
    if not folder.is_dir():
        raise OutputRefused(
            f"1 file in the place of a folder: {folder}", "0 files", "another --out"
        )
    entries = sorted(entry.name for entry in folder.iterdir())
    if entries and not overwrite:
        raise OutputRefused(
            f"{folder} exists and holds {len(entries)} entries, {entries[0]} the first",
            "0 entries",
            "--overwrite, which replaces what an earlier job left there, or another --out",
        )
    return _own_files(folder) if RECORD in entries else frozenset()


@contextlib.contextmanager
def new_output(folder: Path, *, overwrite: bool) -> Iterator[Path]:
    """A temporary folder to fill, which takes the output folder's place at the end.

    When the body raises, the temporary folder goes and all is as it was.

    Raises
    ------
    OutputRefused : as `check_output`; or a file to write would replace one that
        is not from an earlier job; or the file system refuses
    """
    folder = resolved(folder)
    own = check_output(folder, overwrite=overwrite)
    made = folder.with_name(f"{_prefix(folder)}{os.getpid()}-{uuid.uuid4().hex[:8]}")
    try:
        with _refusals(folder):
            _sweep(folder)
            made.mkdir()
            yield made
            if folder.is_dir():
                shutil.copymode(folder, made)
            _keep_foreign(folder, made, own)
            _sync(made)
            _take_place(made, folder, overwrite=overwrite)
    finally:
        shutil.rmtree(made, ignore_errors=True)


def resolved(folder: Path) -> Path:
    """The folder's full path; one whose links lead in a circle stays as it is."""
    return Path(os.path.realpath(folder))


def file_sha256(path: Path) -> str:
    """Hash of a file's bytes, as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _own_files(folder: Path) -> frozenset[str]:
    """What an earlier job left, by its record, unchanged since."""
    schema, hashes = _recorded(folder / RECORD)
    for name, recorded in hashes.items():
        path = folder / name
        if os.path.lexists(path) and (not path.is_file() or file_sha256(path) != recorded):
            raise OutputRefused(
                f"1 file changed since it was saved: {path}",
                "files as the earlier job left them",
                "move it elsewhere, or another --out",
            )
    return frozenset(hashes) | _UNLISTED[schema]


_UNLISTED = {SCHEMA: {RECORD, TIMINGS}, TRIAL_SCHEMA: {RECORD}}
"""What is written beside the files that a record of each schema lists."""


def _recorded(record: Path) -> tuple[str, dict[str, str]]:
    """A record's schema, and the hash of each file that it lists, by its name."""
    try:
        document = json.loads(record.read_text(encoding="utf-8"))
        if document["schema"] == TRIAL_SCHEMA:
            listed = document["files"]
        else:
            parts = {SCHEMA: document["parts"]}[document["schema"]]
            listed = [piece for part in parts for piece in part["pieces"]]
        hashes = {str(file["file"]): str(file["sha256"]) for file in listed}
        return str(document["schema"]), hashes
    except (OSError, ValueError, KeyError, TypeError):
        raise OutputRefused(
            f"1 file that is no record of an earlier job: {record}",
            f"a record of schema {SCHEMA} or {TRIAL_SCHEMA}",
            "move it elsewhere, or another --out",
        ) from None


def _keep_foreign(folder: Path, made: Path, own: frozenset[str]) -> None:
    foreign = sorted(entry for entry in _entries(folder) if entry.name not in own)
    count = sum(1 + sum(1 for _ in entry.rglob("*")) for entry in foreign)
    if count > MOST_KEPT:
        raise OutputRefused(
            f"{count} files in {folder} that no earlier job made",
            f"at most {MOST_KEPT}",
            "another --out",
        )
    for entry in foreign:
        if (made / entry.name).exists():
            raise OutputRefused(
                f"1 file in the way that no earlier job made: {entry}",
                "0 such files",
                "move it elsewhere, or another --out",
            )
        if entry.is_dir() and not entry.is_symlink():
            shutil.copytree(entry, made / entry.name, symlinks=True, copy_function=_link)
        else:
            _link(str(entry), str(made / entry.name))


def _entries(folder: Path) -> list[Path]:
    return list(folder.iterdir()) if folder.is_dir() else []


def _link(source: str, target: str) -> None:
    """The same file under another name; a copy where the file system has no links."""
    try:
        os.link(source, target, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(source, target, follow_symlinks=False)


def _sync(made: Path) -> None:
    """Have the disk hold the files before they take the others' place."""
    for entry in made.iterdir():
        if entry.is_file() and not entry.is_symlink():
            with entry.open("rb") as file:
                os.fsync(file.fileno())


def _take_place(made: Path, folder: Path, *, overwrite: bool) -> None:
    """One step where the system can. A folder that has come meanwhile is not replaced."""
    if not overwrite or not folder.exists():
        with contextlib.suppress(FileNotFoundError):
            folder.rmdir()  # an empty one gives way; rename alone would not do on every system
        made.rename(folder)
    elif not _exchange(made, folder):
        aside = made.with_name(made.name + _ASIDE)
        try:
            folder.rename(aside)
            made.rename(folder)
        except BaseException:
            if not folder.exists():
                aside.rename(folder)
            raise
        shutil.rmtree(aside, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Swap two folders in one step, where the system can (renameat2 of Linux)."""
    try:
        renameat2 = ctypes.CDLL(None, use_errno=True).renameat2
    except (AttributeError, OSError, TypeError):
        return False
    here, exchange = -100, 2  # AT_FDCWD, RENAME_EXCHANGE
    done: int = renameat2(here, os.fsencode(one), here, os.fsencode(other), exchange)
    return done == 0


def _prefix(folder: Path) -> str:
    return f".{folder.name}.borewright-"


def _sweep(folder: Path) -> None:
    """Put back or remove what a job that was killed left beside the output folder."""
    for left in sorted(folder.parent.glob(f"{glob.escape(_prefix(folder))}*")):
        if _is_in_use(left):
            continue
        if left.name.endswith(_ASIDE) and not folder.exists():
            left.rename(folder)
        else:
            shutil.rmtree(left, ignore_errors=True)


def _is_in_use(left: Path) -> bool:
    """Does the process that made this temporary folder still run?"""
    process = left.name.rpartition("borewright-")[2].partition("-")[0]
    if os.name != "posix" or not process.isdecimal():  # elsewhere asking would end the process
        return time.time() - left.stat().st_mtime < _STALE_AFTER_S
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return int(process) != os.getpid()


@contextlib.contextmanager
def _refusals(folder: Path) -> Iterator[None]:
    try:
        yield
    except OSError as problem:
        raise OutputRefused(
            f"{folder} cannot be written: {problem.strerror} (error {problem.errno})",
            "1 folder that can be read and written to, and room on the disk",
            "another --out",
        ) from None
