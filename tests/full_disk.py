"""A disk with so much room and no more, and a command whose files may not be long."""

from __future__ import annotations

import contextlib
import resource
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

PAGE = resource.getpagesize()


@contextlib.contextmanager
def small_disk(place: Path, pages: int) -> Iterator[bool]:
    """A disk in memory of so many pages, mounted there; False: it may not be mounted."""
    mount, unmount = shutil.which("mount"), shutil.which("umount")
    size = f"size={pages * PAGE}"
    if mount is None or unmount is None:
        yield False
        return
    argv = [mount, "-t", "tmpfs", "-o", size, "tmpfs", str(place)]
    if subprocess.run(argv, capture_output=True, check=False).returncode != 0:
        yield False
        return
    try:
        yield True
    finally:
        subprocess.run([unmount, str(place)], check=True)


LIMITED = """
import resource, sys
from borewright.addon.command_line.command import main

length = int(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (length, length))
sys.exit(main(sys.argv[2:]))
"""
"""The command where no file may be longer; Python has the system's signal for it ignored."""


def pages_of(path: Path) -> int:
    return -(-path.stat().st_size // PAGE)
