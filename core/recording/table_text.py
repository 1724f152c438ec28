"""Sentences and tables as lines of text, for a person to read."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence

_WIDTH = 96


def wrapped(sentence: str, indent: str) -> str:
    """A sentence over as many lines as it takes."""
    return textwrap.fill(sentence, _WIDTH, initial_indent=indent, subsequent_indent=indent)


def table(alignment: str, rows: Sequence[Sequence[str]]) -> list[str]:
    """Rows as lines, two blanks between columns; `alignment` has l or r a column, or more."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = []
    for row in rows:
        cells = (
            cell.rjust(width) if side == "r" else cell.ljust(width)
            for cell, width, side in zip(row, widths, alignment, strict=False)
        )
        lines.append("  " + "  ".join(cells).rstrip())
    return lines


def degrees_text(angle: float) -> str:
    """An angle, radians, to a tenth of a degree, from over -180 to 180, and never as minus zero."""
    told = round(math.remainder(math.degrees(angle), 360.0), 1) + 0.0
    return "180.0" if told == -180.0 else f"{told:.1f}"
