"""The output folder: written whole or not at all.

New files are made in a temporary folder beside the output folder, which takes
its place in one step when all is written. What else lies in the output folder
is kept: it is linked or copied into the new one, and what somebody saves there
in the last moment is moved after it.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from .folder_lock import lock
from .folder_swap import move_in, swap, swap_back
from .foreign_files import check_names, keep_foreign, rescue
from .left_folders import clear_left, filled, lock_file, new_scrap
from .output_refusal import OutputRefused, refusal, refusals
from .own_files import RECORD, check_whole, own_files
from .stop_request import finish_undisturbed, hear_no_more

LONGEST_NAME = 200
"""Bytes of an output folder's name; file systems take 255."""


@dataclass(frozen=True, slots=True)
class OutputPlace:
    """A folder that output may go to, as it was when a run began.

    folder : its full path
    overwrite : whether an earlier job's files there may be replaced
    record : which file its record was then (number and ns of its last change); None: none
    """

    folder: Path
    overwrite: bool
    record: tuple[int, int] | None


def check_output(out: Path, *, overwrite: bool) -> OutputPlace:
    """Whether output may go to a folder, asked before the work. Touches nothing.

    Raises
    ------
    OutputRefused : its parent is no folder that can be written to; it is no
        folder, or none that can be read and replaced; it holds something and
        `overwrite` is off; or one of its own files was changed since
    """
    folder = Path(os.path.realpath(out))
    with refusals(folder):
        place = OutputPlace(folder, overwrite, _record_seen(folder))
        _replaceable(place)
        return place


@contextlib.contextmanager
def new_output(place: OutputPlace) -> Iterator[Path]:
    """A temporary folder to fill, which takes the output folder's place at the end.

    When the body raises, the temporary folder goes and all is as it was. The body
    has to write a record of what it wrote. From the moment that the folder takes its
    place, requests to stop are not heard any more.

    Raises
    ------
    OutputRefused : as `check_output`; another run saves into the folder or has saved
        there since `check_output`; a file to write would replace one that is not from
        an earlier job; or the file system refuses
    """
    folder = place.folder
    with refusals(folder), lock(folder, lock_file(folder)) as alone:
        if clear_left(folder, alone=alone):
            place = replace(place, record=_record_seen(folder))
        _replaceable(place)
        made = new_scrap(folder)
        try:
            made.mkdir()
            yield made
            _take_place(made, place)
        except OSError as problem:
            raise refusal(folder, problem, _sizes_in(made)) from None
        finally:
            hear_no_more()
            clear_left(folder, alone=False, made=made)


def _take_place(made: Path, place: OutputPlace) -> None:
    folder, new = place.folder, _names(made)
    check_whole(made)
    keep_foreign(folder, made, _replaceable(place))
    if folder.is_dir():
        shutil.copymode(folder, made)
    _sync([*(made / name for name in sorted(new)), made])
    finish_undisturbed()
    whole = made.rename(filled(made))
    if _holds_something(folder):
        _replace(whole, place, new)
    else:
        _move_in(whole, folder)
    _sync([folder.parent])


def _replace(whole: Path, place: OutputPlace, new: frozenset[str]) -> None:
    """Swap, then look whether what was replaced is what was looked at before, or swap back."""
    before = swap(whole, place.folder)
    try:
        _check_no_other_run(before, place)
        own = own_files(before)
        check_names(before, own, new)
        rescue(before, place.folder, own)
    except (OutputRefused, OSError):
        swap_back(before, whole, place.folder)
        raise


def _move_in(whole: Path, folder: Path) -> None:
    try:
        move_in(whole, folder)
    except OSError:
        if not os.path.lexists(folder) or (folder.is_dir() and not _holds_something(folder)):
            raise
        raise OutputRefused(
            f"1 file or folder that was put at {folder} in the last moment, which is not empty",
            "none, or an empty folder",
            "run again when nobody else writes there, or another --out",
        ) from None


def _replaceable(place: OutputPlace) -> frozenset[str]:
    """Names in the folder that may be replaced; everything else is kept."""
    folder = place.folder
    _check_place(folder)
    if not os.path.lexists(folder):
        return frozenset()
    _check_folder(folder)
    _check_no_other_run(folder, place)
    entries = sorted(_names(folder))
    if entries and not place.overwrite:
        raise OutputRefused(
            f"{folder} exists and holds {len(entries)} entries, {entries[0]} the first",
            "0 entries",
            "--overwrite, which replaces what an earlier job left there, or another --out",
        )
    return own_files(folder)


def _check_place(folder: Path) -> None:
    if not folder.parent.is_dir():
        raise OutputRefused(
            f"0 folders at {folder.parent}", "1 to put the output in", "make it, or another --out"
        )
    _check_writable(folder.parent)
    length = len(os.fsencode(folder.name))
    if length > LONGEST_NAME:
        raise OutputRefused(
            f"a name of {length} bytes: {folder.name}",
            f"at most {LONGEST_NAME}, for the folders beside it have longer ones while it is saved",
            "another --out, with a shorter name",
        )
    if Path.cwd().is_relative_to(folder):
        raise OutputRefused(
            f"1 folder that this runs in or below, and that would be replaced: {folder}",
            "another folder",
            "another --out, or run from another folder",
        )


def _check_folder(folder: Path) -> None:
    if not folder.is_dir():
        raise OutputRefused(
            f"1 file in the place of a folder: {folder}", "0 files", "another --out"
        )
    if folder.is_mount():
        raise OutputRefused(
            f"1 disk mounted at {folder}, which cannot be replaced as one",
            "a folder on it",
            f"--out {folder / 'pieces'}",
        )
    _check_writable(folder)


def _check_writable(folder: Path) -> None:
    if not os.access(folder, os.W_OK | os.X_OK):
        raise OutputRefused(
            f"{folder} cannot be written to (error {errno.EACCES})",
            "1 folder that can be written to",
            "another --out",
        )


def _check_no_other_run(folder: Path, place: OutputPlace) -> None:
    """A record that was not there at first is another run's, which was quicker."""
    record = _record_seen(folder)
    if record not in {None, place.record}:
        raise OutputRefused(
            f"1 other run that saved into {place.folder} while this one worked",
            "0 other runs",
            "look at what it made; run again with --overwrite to replace that, or another --out",
        )


def _record_seen(folder: Path) -> tuple[int, int] | None:
    try:
        status = (folder / RECORD).lstat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    return status.st_ino, status.st_mtime_ns


def _names(folder: Path) -> frozenset[str]:
    return frozenset(entry.name for entry in folder.iterdir())


def _holds_something(folder: Path) -> bool:
    return folder.is_dir() and bool(_names(folder))


def _sizes_in(folder: Path) -> list[int]:
    return [path.lstat().st_size for path in folder.rglob("*") if path.is_file()]


def _sync(paths: list[Path]) -> None:
    """Have the disk hold files and folders before the next step. Not every system does folders."""
    for path in paths:
        if path.is_dir():
            with contextlib.suppress(OSError):
                _sync_one(path)
        else:
            _sync_one(path)


def _sync_one(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
