"""One run at a time saves into a folder.

The lock is the operating system's, on a file beside the folder, so it ends with
the process that has it, however that ends. The file goes with the lock; one that
a killed run left holds up nobody.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from pathlib import Path

from .output_refusal import OutputRefused

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


@contextlib.contextmanager
def lock(folder: Path, path: Path) -> Iterator[bool]:
    """Have no other run save into the folder meanwhile; False: the disk knows no locks.

    Parameters
    ----------
    folder : told in the refusal
    path : the file that the lock is on

    Raises
    ------
    OutputRefused : another run saves into the folder
    OSError : the file cannot be made
    """
    descriptor = _take(folder, path)
    try:
        yield descriptor is not None
    finally:
        if descriptor is not None:
            _give_back(descriptor, path)


def _take(folder: Path, path: Path) -> int | None:
    while True:
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            lock_now(descriptor)
        except (BlockingIOError, PermissionError):
            os.close(descriptor)
            raise OutputRefused(
                f"1 other run that saves into {folder} now",
                "0 other runs",
                "wait for it and look at what it made, or another --out",
            ) from None
        except OSError:
            os.close(descriptor)
            path.unlink(missing_ok=True)
            return None
        if _is_still(path, descriptor):
            return descriptor
        os.close(descriptor)  # who had it has removed it meanwhile: it locks nothing any more


def lock_now(descriptor: int) -> None:
    """At once or not at all."""
    if sys.platform == "win32":
        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _is_still(path: Path, descriptor: int) -> bool:
    try:
        return os.path.samestat(path.stat(), os.fstat(descriptor))
    except FileNotFoundError:
        return False


def _give_back(descriptor: int, path: Path) -> None:
    """Remove the file while it is locked, where an open file can be removed."""
    with contextlib.suppress(OSError):
        path.unlink()
    os.close(descriptor)
    if sys.platform == "win32":  # refused there where another run has opened it by now
        with contextlib.suppress(OSError):
            path.unlink()
