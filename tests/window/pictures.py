"""Pictures of the virtual screen. Blender's own come out black there."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

_GRAB = ("/usr/bin/import", "-window", "root", "-depth", "8")


def save_picture(path: Path) -> None:
    """Save what is on the screen as a PNG file."""
    subprocess.run([*_GRAB, str(path)], check=True, timeout=60)


def screen_pixels(width: int, height: int) -> NDArray[np.uint8]:
    """What is on the screen, (height, width, 3), the lowest row first as Blender counts.

    width, height : of the screen
    """
    raw = subprocess.run([*_GRAB, "rgb:-"], check=True, timeout=60, capture_output=True).stdout
    return np.frombuffer(raw, np.uint8).reshape(height, width, 3)[::-1]


def widest_bar(pixels: NDArray[np.uint8], colour: tuple[int, int, int]) -> tuple[int, int, int]:
    """The longest level run of a colour: its middle x and y, and its width.

    pixels : (h, w, 3); a channel may be 3 off
    """
    near = (np.abs(pixels.astype(int) - np.array(colour)) <= 3).all(axis=2)
    edges = np.diff(np.pad(near, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    rows, starts = np.nonzero(edges == 1)
    ends = np.nonzero(edges == -1)[1]
    if not len(rows):
        raise LookupError(f"found: nothing of colour {colour} on the screen; needed: a bar of it")
    width = (ends - starts).max()
    of_it = ends - starts == width
    x = (starts[of_it][0] + ends[of_it][0]) // 2
    return int(x), int(np.median(rows[of_it])), int(width)
