"""Numbers in mesh files: are they numbers, and near enough for float32 to hold a wall?"""

from __future__ import annotations

import re
import warnings

import numpy as np
from numpy.typing import NDArray

from ..core.errors import CoreError

FloatArray = NDArray[np.float64]

MOST_COORDINATE = 1e7
"""Ten kilometres in mm: beyond it float32 cannot hold a wall."""


class BadFile(CoreError):
    """The file is missing, is no mesh file, is cut short or contradicts itself."""


def read_numbers(
    text: bytes, line: re.Pattern[bytes], *, width: int, before: int = 0
) -> FloatArray:
    """(n, width) numbers of all lines of a kind.

    text : with a line end put in front
    line : its first group is what follows the keyword
    before : lines of the file that are not in the text

    Raises
    ------
    BadFile : a line has a word for a number, or another count of them
    """
    rows = line.findall(text)
    numbers = _parsed(b" nan ".join([*rows, b""]))  # a nan where each row ends
    if numbers is not None and len(numbers) == (width + 1) * len(rows):
        table = numbers.reshape(-1, width + 1)
        if np.isnan(table[:, -1]).all():
            return table[:, :-1]
    for found in line.finditer(text):
        words = found[1].split()
        odd = [word for word in words if _parsed(word) is None]
        if odd or len(words) != width:
            what = repr(odd[0].decode("latin-1")) if odd else f"{len(words)} numbers"
            raise BadFile(
                f"{what} in line {before + line_number(text, found.start(1))}: "
                f"{found[0].strip().decode('latin-1')[:60]!r}",
                f"{width} numbers in that line",
                "export the part again",
            )
    raise AssertionError("lines that are wrong together and right alone")


def line_number(text: bytes, place: int) -> int:
    """Of a place in a text with a line end put in front, counted from 1."""
    return text.count(b"\n", 0, place)


def check_coordinates(points: FloatArray | NDArray[np.float32], *, per_triangle: bool) -> None:
    """Every one of (n, 3) points is near enough.

    per_triangle : the points are corners, three a triangle

    Raises
    ------
    BadFile : one is not, or is not finite
    """
    good = np.isfinite(points) & (np.abs(points) <= MOST_COORDINATE)
    if good.all():
        return
    wrong = int(np.flatnonzero(~good.all(axis=1))[0])
    where = f"corner {wrong % 3} of triangle {wrong // 3}" if per_triangle else f"vertex {wrong}"
    raise BadFile(
        f"{where} (counted from 0) at ({', '.join(f'{x:g}' for x in points[wrong])})",
        f"finite coordinates, none over {MOST_COORDINATE:g}",
        "export the part again",
    )


def _parsed(text: bytes) -> FloatArray | None:
    """Numbers parted by blanks; nothing where a word is no number."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text.decode("latin-1"), np.float64, sep=" ")
        except (ValueError, DeprecationWarning):
            return None
