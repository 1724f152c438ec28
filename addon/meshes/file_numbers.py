"""Numbers in text files: are they numbers?"""

from __future__ import annotations

import re
import warnings

import numpy as np
from numpy.typing import NDArray

from ...core.errors import BadFile

FloatArray = NDArray[np.float64]


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


def _parsed(text: bytes) -> FloatArray | None:
    """Numbers parted by blanks; nothing where a word is no number."""
    with warnings.catch_warnings():
        warnings.simplefilter("error", DeprecationWarning)
        try:
            return np.fromstring(text.decode("latin-1"), np.float64, sep=" ")
        except (ValueError, DeprecationWarning):
            return None
