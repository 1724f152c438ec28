"""Plan sheets of the jobs that were built since Blender started.

A sheet is a page that a browser opens, so one that came with somebody else's file would not
be passed on: it is kept in memory only, by the record of its job.
"""

from __future__ import annotations

MOST_KEPT = 50
"""Sheets, of some 100 kB each; the oldest go first."""

_pages: dict[str, str] = {}


def keep_sheet(record: str, page: str) -> None:
    """Keep the sheet of a job, by the text of its record."""
    _pages[record] = page
    while len(_pages) > MOST_KEPT:
        del _pages[next(iter(_pages))]


def sheet_of(record: str) -> str | None:
    """The sheet of a job; None where that was built before Blender started."""
    return _pages.get(record)
