"""Keeping Blender's chatter off standard output, which belongs to the job's record."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from collections.abc import Iterator


@contextlib.contextmanager
def quiet_output() -> Iterator[None]:
    """Send what is written to file descriptor 1 meanwhile to nowhere.

    Blender writes there from C, so that replacing `sys.stdout` would not do.
    """
    sys.stdout.flush()
    kept = os.dup(1)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        sys.stdout.flush()
        _flush_c_streams()
        os.dup2(kept, 1)
        os.close(nowhere)
        os.close(kept)


def _flush_c_streams() -> None:
    """What C has buffered so far must go where it was meant to go, not later elsewhere."""
    library = ctypes.CDLL("ucrtbase" if os.name == "nt" else None)
    library.fflush(None)
