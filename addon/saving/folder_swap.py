"""One folder in another's place, in one step where the system can."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from pathlib import Path

from .foreign_files import rescue

ASIDE = "-old"
"""Ends the name of a folder that stands aside, in the two steps of other systems."""


def move_in(made: Path, folder: Path) -> None:
    """Give a folder a place in which there is none, or an empty one.

    Raises
    ------
    OSError : the place is taken
    """
    if os.name == "nt":  # where rename does not replace an empty folder
        with contextlib.suppress(OSError):
            folder.rmdir()
    made.rename(folder)


def swap(made: Path, folder: Path) -> Path:
    """Put a folder in the place of another; where that one is now.

    Raises
    ------
    OSError : the file system refuses; both are where they were
    """
    if exchange(made, folder):
        return made
    aside = made.with_name(made.name + ASIDE)
    try:
        folder.rename(aside)
        made.rename(folder)
    except BaseException:
        if aside.exists() and made.exists():
            put_back(aside, folder)
        raise
    return aside


def swap_back(before: Path, whole: Path, folder: Path) -> None:
    """Undo `swap`, which gave `before`; what was `whole` is there again.

    Raises
    ------
    OSError : the file system refuses
    """
    if before == whole:
        swap(before, folder)
    else:
        folder.rename(whole)
        before.rename(folder)


def put_back(aside: Path, folder: Path) -> None:
    """Give a folder that stands aside its place again, and what came there meanwhile to it.

    Raises
    ------
    OSError : the file system refuses
    """
    if folder.exists():
        rescue(folder, aside, frozenset())
        _remove_empty(folder)
    aside.rename(folder)


def _remove_empty(folder: Path) -> None:
    for below, _folders, _files in os.walk(folder, topdown=False):
        os.rmdir(below)  # noqa: PTH106 - a name, not a path


def exchange(one: Path, other: Path) -> bool:
    """Swap two folders in one step, where the system can.

    By renameat2 of Linux, or renamex_np of macOS, which was never tried.
    """
    first, second = os.fsencode(one), os.fsencode(other)
    try:
        library = ctypes.CDLL(None)
        if sys.platform == "darwin":
            swapped = 2  # RENAME_SWAP, from memory of macOS's <sys/stdio.h>
            done = library.renamex_np(first, second, ctypes.c_uint(swapped))
        else:
            here, exchanged = (
                -100,
                2,
            )  # AT_FDCWD, RENAME_EXCHANGE of Linux's <fcntl.h>, <linux/fs.h>
            done = library.renameat2(here, first, here, second, ctypes.c_uint(exchanged))
    except (AttributeError, OSError, TypeError):
        return False
    return bool(done == 0)
