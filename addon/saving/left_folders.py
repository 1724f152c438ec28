"""Folders beside the output folder that a run makes while it saves, and leaves when it is killed.

Their names tell what they may hold:

- ending in "-scrap": files being made, or being removed. Nobody needs them.
- without an ending: the new output, all of it; or, where they have changed places,
  what lay in the output folder before.
- ending in "-old": what lay there before, on a system that swaps in two steps.
"""

from __future__ import annotations

import contextlib
import glob
import os
import shutil
import stat
import time
import uuid
from pathlib import Path

from .folder_swap import ASIDE, put_back
from .foreign_files import check_names, rescue
from .output_refusal import OutputRefused
from .own_files import RECORD, sound_own_files

SCRAP = "-scrap"

_STALE_AFTER_S = 3600.0
"""Where locks do not tell who is at work: saving takes seconds, what is older was left behind."""


def new_scrap(folder: Path) -> Path:
    """A name for a folder to fill."""
    return folder.with_name(f"{_prefix(folder)}{uuid.uuid4().hex[:12]}{SCRAP}")


def lock_file(folder: Path) -> Path:
    """The file that a run locks while it saves."""
    return folder.with_name(f".{folder.name}.borewright.lock")


def filled(scrap: Path) -> Path:
    """The name of a folder when all is in it."""
    return scrap.with_name(scrap.name.removesuffix(SCRAP))


def clear_left(folder: Path, *, alone: bool, made: Path | None = None) -> bool:
    """Remove what runs left beside a folder; True: what lay in its place was put back.

    alone : no other run is at work here, so all of it was left
    made : this run's own, if it is to go
    """
    back = False
    for left in sorted(folder.parent.glob(f"{glob.escape(_prefix(folder))}*")):
        own = made is not None and left.name.startswith(filled(made).name)
        if own or alone or _is_stale(left):
            with contextlib.suppress(OSError):  # it stays, for the next run to try again
                back |= _clear(left, folder)
    return back


def _clear(left: Path, folder: Path) -> bool:
    if left.name.endswith(ASIDE) and not (folder / RECORD).exists():
        put_back(left, folder)
        return True
    if left.name.endswith(SCRAP):
        _remove(left)
        return False
    if folder.is_dir():
        own = sound_own_files(left)
        try:
            check_names(left, own, sound_own_files(folder))
        except OutputRefused:
            return False  # somebody's file, with a name of the job's: nobody but they may remove it
        rescue(left, folder, own)
    scrap = new_scrap(folder)
    left.rename(scrap)  # or what is left by a kill between two removals would look like somebody's
    _remove(scrap)
    return False


def _remove(scrap: Path) -> None:
    """Also what is in folders that may not be written to; files' own permissions do not matter."""
    for below, folders, _files in os.walk(scrap):
        for name in folders:
            path = Path(below, name)
            if not path.is_symlink():
                path.chmod(path.stat().st_mode | stat.S_IRWXU)
    shutil.rmtree(scrap, ignore_errors=True)


def _prefix(folder: Path) -> str:
    return f".{folder.name}.borewright-"


def _is_stale(left: Path) -> bool:
    try:
        return time.time() - left.stat().st_mtime > _STALE_AFTER_S
    except FileNotFoundError:
        return False
