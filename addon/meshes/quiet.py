"""Keeping Blender's chatter off standard output, which belongs to the job's record."""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def quiet_output() -> Iterator[None]:
    """Send what is written to standard output meanwhile to nowhere.

    Blender writes there both through Python and from C, past `sys.stdout`.
    """
    sys.stdout.flush()
    kept = os.dup(1)
    try:
        with Path(os.devnull).open("w") as nowhere, contextlib.redirect_stdout(nowhere):
            os.dup2(nowhere.fileno(), 1)
            yield
    finally:
        _flush_c_streams()
        os.dup2(kept, 1)
        os.close(kept)


def _flush_c_streams() -> None:
    """What C has buffered so far must go where it was meant to go, not later elsewhere."""
    library = ctypes.CDLL("ucrtbase" if os.name == "nt" else None)
    library.fflush(None)
