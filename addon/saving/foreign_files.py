"""What in an output folder is no job's: it is kept when the folder is replaced."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import NoReturn

from .output_refusal import OutputRefused

MOST_KEPT = 10_000
"""Files kept from the old folder; more than this is not an output folder but a disk."""


def keep_foreign(folder: Path, made: Path, own: frozenset[str]) -> None:
    """Link or copy all but a job's own files into a new folder.

    Raises
    ------
    OutputRefused : there are too many, one has the name of a new file, or one is a disk's
    OSError : the file system refuses
    """
    foreign = _foreign(folder, own)
    paths = [path for entry in foreign for path in _with_all_below(entry)]
    if len(paths) > MOST_KEPT:
        raise OutputRefused(
            f"{len(paths)} files in {folder} that no earlier job made",
            f"at most {MOST_KEPT}",
            "another --out",
        )
    for path in paths:
        _check_no_disk(path)
    for entry in foreign:
        check_free(entry, made)
    for path in paths:
        _make_same(path, made / path.relative_to(folder))
    for path in reversed(paths):
        if _is_folder(path):  # when all is in it, for it may be one that is not to be written to
            shutil.copystat(path, made / path.relative_to(folder))


def check_names(folder: Path, own: frozenset[str], new: frozenset[str]) -> None:
    """Does no file that is not a job's own have the name of a new one?

    Raises
    ------
    OutputRefused : one has
    """
    for entry in _foreign(folder, own):
        if entry.name in new:
            raise _in_the_way(entry)


def check_free(entry: Path, made: Path) -> None:
    """May a foreign file keep its name beside the new ones, also where capitals do not count?

    Raises
    ------
    OutputRefused : it is taken
    """
    if os.path.lexists(made / entry.name):
        raise _in_the_way(entry)


def rescue(source: Path, folder: Path, own: frozenset[str]) -> None:
    """Move what was written to a replaced folder too late to be kept into the one in its place.

    All but `own` moves that the folder lacks, or has only as it was before.

    Raises
    ------
    OSError : the file system refuses; what was moved, was moved
    """
    for entry in _foreign(source, own):
        for path in _with_all_below(entry):
            target = folder / path.relative_to(source)
            if _is_folder(path):
                target.mkdir(exist_ok=True)
            elif not _has_as_new(target, path):
                path.replace(target)


def _foreign(folder: Path, own: frozenset[str]) -> list[Path]:
    entries = folder.iterdir() if folder.is_dir() else ()
    return sorted(entry for entry in entries if entry.name not in own)


def _with_all_below(entry: Path) -> list[Path]:
    """An entry and all in it, every folder before what it holds; links are not followed.

    Raises
    ------
    OSError : a folder cannot be read
    """
    found = [entry]
    if _is_folder(entry):
        for below, folders, files in os.walk(entry, onerror=_raise):
            found += [Path(below, name) for name in (*folders, *files)]
    return found


def _raise(problem: OSError) -> NoReturn:
    raise problem


def _is_folder(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()


def _has_as_new(target: Path, path: Path) -> bool:
    """Is what has the target's name the same file, or a later one?"""
    try:
        there, here = target.lstat(), path.lstat()
    except FileNotFoundError:
        return False
    return os.path.samestat(there, here) or _changed_at(there) > _changed_at(here)


def _changed_at(status: os.stat_result) -> int:
    """ns; Windows has no time of change of its own."""
    return status.st_mtime_ns if os.name == "nt" else status.st_ctime_ns


def _check_no_disk(path: Path) -> None:
    if path.is_mount():
        raise OutputRefused(
            f"1 disk that is mounted in the folder to be replaced: {path}",
            "0 disks",
            "another --out",
        )


def _in_the_way(entry: Path) -> OutputRefused:
    return OutputRefused(
        f"1 file in the way that no earlier job made: {entry}",
        "0 such files",
        "move it elsewhere, or another --out",
    )


def _make_same(path: Path, target: Path) -> None:
    """A folder, or the same file under another name; a copy where the file system has no links."""
    if _is_folder(path):
        target.mkdir()
        return
    try:
        os.link(path, target, follow_symlinks=False)
    except (OSError, NotImplementedError):
        shutil.copy2(path, target, follow_symlinks=False)
