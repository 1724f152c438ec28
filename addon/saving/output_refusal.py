"""The one refusal of an output folder, and what the file system says in its words."""

from __future__ import annotations

import contextlib
import errno
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path

from ...core.errors import CoreError

_FULL = {errno.ENOSPC, errno.EDQUOT}


class OutputRefused(CoreError):
    """The output folder cannot be made, or holds what must not be replaced."""


@contextlib.contextmanager
def refusals(folder: Path) -> Iterator[None]:
    """Have what the file system refuses in the body told.

    Raises
    ------
    OutputRefused : in place of an OSError
    """
    try:
        yield
    except OSError as problem:
        raise refusal(folder, problem) from None


def refusal(folder: Path, problem: OSError, sizes: Sequence[int] = ()) -> OutputRefused:
    """What the file system refused; `sizes` are those of the files that were written."""
    place, said = _place(folder, problem), _said(problem)
    found = f"{place} cannot be written: {said}"
    if problem.errno in _FULL:
        return OutputRefused(
            f"{found}; {_megabytes(_free(folder.parent))} free, by what the disk says",
            f"more than {_megabytes(sum(sizes))}",
            "make room there, or another --out, on another disk",
        )
    if problem.errno == errno.EFBIG:
        return OutputRefused(
            found,
            f"files of more than {_megabytes(max(sizes, default=0))}",
            "a higher limit on the length of files, or another --out, on another disk",
        )
    if problem.errno == errno.ENAMETOOLONG:
        return OutputRefused(
            found,
            "names that the disk takes, often of 255 bytes: a piece has its part's and -01.stl",
            "a shorter name for the part, or another --out",
        )
    return OutputRefused(
        f"{place} cannot be read or written: {said}",
        "1 folder that can be read and written to, on a sound disk",
        "another --out",
    )


def _place(folder: Path, problem: OSError) -> Path:
    """What in the folder it is about, where the system tells; nobody knows temporary files."""
    named = problem.filename
    within = isinstance(named, (str, Path)) and Path(named).is_relative_to(folder)
    return Path(named) if within else folder


def _said(problem: OSError) -> str:
    if problem.strerror is None:  # shutil has words of its own
        return str(problem)
    return f"{problem.strerror} (error {problem.errno})"


def _free(folder: Path) -> int:
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return 0


def _megabytes(count: int) -> str:
    return f"{count / 1e6:.3f} MB"
