"""What a drawing is made of: lines and words. Places are mm in the part frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from ..values import FloatArray, read_only

Style = Literal["solid", "dashed", "dotted", "chain"]
"""As in technical drawings: `chain` is the dash-dotted line of axes."""

Tone = Literal["plain", "seam", "alert", "faint"]

Layer = Literal["surface", "front", "beside"]
"""Where a line lies: on the part and hidden by it; before all; or beside the part, in the plane
y = 0 of the part frame, to be turned about the axis until it faces who looks."""

DASHES: dict[Style, tuple[float, ...]] = {
    "dashed": (9.0, 5.0),
    "dotted": (2.0, 4.0),
    "chain": (18.0, 4.0, 3.0, 4.0),
}
"""Lengths of dash and gap in turn, pixels."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Straight segments of one kind.

    starts, ends : (n, 3) mm; where an end is the next start, dashes run on
    width : pixels
    """

    starts: FloatArray
    ends: FloatArray
    style: Style = "solid"
    tone: Tone = "plain"
    layer: Layer = "surface"
    width: float = 1.5

    def __post_init__(self) -> None:
        assert self.starts.shape == self.ends.shape == (len(self.starts), 3)
        read_only(self.starts)
        read_only(self.ends)


@dataclass(frozen=True, slots=True)
class Label:
    """Words beside a stretch of the axis, or beside one station of it.

    template, values : the words, to be translated before they are filled in
    x : mm, signed distance from the axis, as of lines of the layer `beside`
    low, high : stations; the words stand at the middle of what is seen of it
    rank : of two that would overlap the lower one is kept
    room : shown only where so many heights of its words are seen of the stretch
    """

    template: str
    values: Mapping[str, object]
    x: float
    low: float
    high: float
    tone: Tone = "plain"
    rank: int = 0
    room: float = 0.0


@dataclass(frozen=True, slots=True)
class Drawing:
    """All that is shown of a part."""

    lines: tuple[Line, ...] = ()
    labels: tuple[Label, ...] = field(default=())

    def __add__(self, other: Drawing) -> Drawing:
        return Drawing(self.lines + other.lines, self.labels + other.labels)


def dashed(line: Line, mm_per_pixel: float) -> FloatArray:
    """(m, 2, 3) mm, the strokes that a line is drawn with; a solid one is its own."""
    if line.style == "solid" or not len(line.starts):
        return np.stack([line.starts, line.ends], axis=1)
    pattern = np.array(DASHES[line.style]) * mm_per_pixel
    steps = line.ends - line.starts
    lengths = np.linalg.norm(steps, axis=1)
    before = _run_lengths(line, lengths)
    period = float(pattern.sum())
    edges = np.concatenate([[0.0], np.cumsum(pattern)])
    strokes = [
        _strokes(line.starts, steps, lengths, before, (edges[k], edges[k + 1]), period)
        for k in range(0, len(pattern), 2)
    ]
    return np.concatenate(strokes)


def _run_lengths(line: Line, lengths: FloatArray) -> FloatArray:
    """(n,) length, mm, from where each run of connected segments began."""
    total = np.concatenate([[0.0], np.cumsum(lengths)])[:-1]
    begins = np.ones(len(lengths), bool)
    begins[1:] = (line.starts[1:] != line.ends[:-1]).any(axis=1)
    run: FloatArray = total - total[begins][np.cumsum(begins) - 1]
    return run


def _strokes(
    starts: FloatArray,
    steps: FloatArray,
    lengths: FloatArray,
    before: FloatArray,
    dash: tuple[float, float],
    period: float,
) -> FloatArray:
    """(m, 2, 3) what one dash of the pattern comes to on each segment."""
    first = np.floor((before - dash[1]) / period).astype(np.int64) + 1
    last = np.ceil((before + lengths - dash[0]) / period).astype(np.int64) - 1
    counts = np.maximum(0, last - first + 1)
    row = np.repeat(np.arange(len(counts)), counts)
    turn = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts) + first[row]
    ends = [
        np.clip(turn * period + edge - before[row], 0.0, lengths[row]) / lengths[row]
        for edge in dash
    ]
    return np.stack([starts[row] + share[:, None] * steps[row] for share in ends], axis=1)
