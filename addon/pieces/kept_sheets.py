"""Plan sheets of the jobs that were built since Blender started, and where they can be opened.

A sheet is a page that a browser opens, so one that came with somebody else's file would not
be passed on: it is kept in memory only, by the record of its job.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

MOST_KEPT = 50
"""Sheets, of some 100 kB each; the oldest go first."""


@dataclass(slots=True)
class _Kept:
    """A page, and the file that it was saved to last."""

    page: str
    saved: Path | None = None


@dataclass(frozen=True, slots=True)
class SheetFile:
    """A file that holds a whole sheet; saved : with the pieces, so that it stays."""

    path: Path
    saved: bool


_kept: dict[str, _Kept] = {}


def keep_sheet(record: str, page: str) -> None:
    """Keep the sheet of a job, by the text of its record."""
    _kept[record] = _Kept(page)
    while len(_kept) > MOST_KEPT:
        del _kept[next(iter(_kept))]


def sheet_of(record: str) -> str | None:
    """The sheet of a job; None where that was built before Blender started."""
    kept = _kept.get(record)
    return None if kept is None else kept.page


def note_saved(record: str, path: Path) -> None:
    """The sheet of a job lies in a file, too."""
    if record in _kept:
        _kept[record].saved = path.absolute()


def sheet_file(record: str, name: str, folder: Path) -> SheetFile:
    """The file of a sheet that is kept: as it was saved, if it still is so; else a new one.

    Parameters
    ----------
    name, folder : of the new one

    Raises
    ------
    OSError : it cannot be written
    """
    kept = _kept[record]
    page = kept.page.encode()
    if kept.saved is not None and _holds(kept.saved, page):
        return SheetFile(kept.saved, saved=True)
    path = folder / name
    unfinished = path.with_name(f".{name}")
    unfinished.write_bytes(page)
    unfinished.replace(path)
    return SheetFile(path, saved=False)


def _holds(path: Path, page: bytes) -> bool:
    try:
        return path.read_bytes() == page
    except OSError:
        return False
