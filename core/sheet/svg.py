"""Drawings as SVG: lines and texts on paper, every text with the box that it keeps to.

Everything is in millimetres on paper, x to the right and y down. Nothing is scaled by SVG
itself, so that a line's width is its width on paper. Lines have the kinds and widths of
ISO 128-2: wide 0.35, narrow 0.18, dashed and chain lines after its proportions (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Literal

import numpy as np

from ..values import FloatArray
from .character_widths import ASCENT, DESCENT, FONTS, is_bounded, text_width

Line = Literal[
    "outline", "fine", "hatch", "axis", "hidden", "phantom", "narrow", "arrow", "dot", "paper"
]
Anchor = Literal["start", "middle", "end"]
Point = tuple[float, float]

TEXT_SIZE = 3.5
"""mm; its capitals are 2.5 mm high, the least height of lettering in ISO 3098 (from memory)."""

MARGIN = 1.0
"""Around all that is drawn, mm on paper."""

_BOTH = 'lengthAdjust="spacingAndGlyphs"'

DRAWING_STYLE = f"""\
.drawing {{ color: inherit; fill: none; stroke: currentColor; stroke-linejoin: round; }}
.drawing text {{ font-family: {FONTS}; fill: currentColor; stroke: none; }}
.drawing .outline {{ stroke-width: .35; }}
.drawing .fine {{ stroke-width: .25; }}
.drawing .narrow, .drawing .hatch {{ stroke-width: .18; }}
.drawing .hatch {{ stroke-opacity: .7; }}
.drawing .axis {{ stroke-width: .18; stroke-dasharray: 4.3 .55 .1 .55; }}
.drawing .hidden {{ stroke-width: .18; stroke-dasharray: 2.2 .55; }}
.drawing .phantom {{ stroke-width: .18; stroke-dasharray: 4.3 .55 .1 .55 .1 .55; }}
.drawing .arrow, .drawing .dot {{ fill: currentColor; stroke: none; }}
.drawing .paper {{ stroke: none; }}
"""
"""What the classes of a drawing's lines mean; colours are those of the text around it."""


@dataclass(frozen=True, slots=True)
class TextBox:
    """The rectangle on paper that a text keeps to.

    x, y : mm, of its upper left corner
    """

    text: str
    x: float
    y: float
    width: float
    height: float

    def overlaps(self, other: TextBox) -> bool:
        """Whether two boxes share an area."""
        return (
            self.x < other.x + other.width
            and other.x < self.x + self.width
            and self.y < other.y + other.height
            and other.y < self.y + self.height
        )

    def holds(self, other: TextBox) -> bool:
        """Whether another box lies within this one."""
        return (
            self.x <= other.x
            and self.y <= other.y
            and other.x + other.width <= self.x + self.width
            and other.y + other.height <= self.y + self.height
        )


@dataclass(frozen=True, slots=True)
class DimensionLine:
    """A dimension line on paper, from tip to tip, and what stands at it.

    factor : mm on paper for a mm of the part, there
    """

    start: Point
    stop: Point
    text: str
    factor: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """A finished drawing.

    name : what it shows, for those who cannot see it
    caption : what stands under it: its scale, and what cannot be seen in it
    left, top, width, height : mm on paper, of its frame
    factor : mm on paper for a mm of the part; None: not to scale
    svg : one element, to be put into a page that has `DRAWING_STYLE`
    """

    name: str
    caption: str
    left: float
    top: float
    width: float
    height: float
    factor: float | None
    svg: str
    boxes: tuple[TextBox, ...]
    dimensions: tuple[DimensionLine, ...]


@dataclass(slots=True)
class Pen:
    """Collects the lines and texts of one drawing.

    kept_free : more boxes that broken lines leave free, beside those of texts
    """

    elements: list[str] = field(default_factory=list)
    boxes: list[TextBox] = field(default_factory=list)
    dimensions: list[DimensionLine] = field(default_factory=list)
    kept_free: list[TextBox] = field(default_factory=list)
    low: Point = (math.inf, math.inf)
    high: Point = (-math.inf, -math.inf)

    def segments(self, line: Line, segments: FloatArray, mark: str = "") -> None:
        """Straight lines, each by itself: (n, 2, 2) ends, x and y, mm on paper.

        Parameters
        ----------
        mark : says in the file what they are of
        """
        if len(segments):
            self._reaches(segments.reshape(-1, 2))
            runs = (f"M{_pairs(ends)}" for ends in segments)
            self.elements.append(f'<path class="{line}"{_told(mark)} d="{"".join(runs)}"/>')

    def line(self, line: Line, start: Point, stop: Point) -> None:
        """One straight line."""
        self.segments(line, np.array([[start, stop]]))

    def polylines(
        self, line: Line, lines: Iterable[Sequence[Point] | FloatArray], mark: str = ""
    ) -> None:
        """Open lines, each through points, (n, 2); `mark` as in `segments`."""
        lines = tuple(lines)
        self._reaches_all(lines)
        runs = "".join(f"M{_pairs(points)}" for points in lines)
        if runs:
            self.elements.append(f'<path class="{line}"{_told(mark)} d="{runs}"/>')

    def outlines(self, line: Line, loops: Iterable[FloatArray], mark: str = "") -> None:
        """Closed lines, each (n, 2); `mark` as in `segments`."""
        loops = tuple(loops)
        self._reaches_all(loops)
        runs = "".join(f"M{_pairs(loop)}Z" for loop in loops)
        if runs:
            self.elements.append(f'<path class="{line}"{_told(mark)} d="{runs}"/>')

    def broken_line(self, line: Line, start: Point, stop: Point) -> None:
        """One level or upright line, with gaps where texts and numbers stand on its way."""
        level = start[1] == stop[1]
        along, across = (0, 1) if level else (1, 0)
        low, high = sorted((start[along], stop[along]))
        gaps = []
        for box in (*self.boxes, *self.kept_free):
            sides = (box.x, box.x + box.width), (box.y, box.y + box.height)
            if sides[across][0] < start[across] < sides[across][1]:
                gaps.append(sides[along])
        for gap in sorted(gaps):
            self._run(line, start[across], (low, min(gap[0], high)), level=level)
            low = max(low, gap[1])
        self._run(line, start[across], (low, high), level=level)

    def _run(self, line: Line, across: float, ends: tuple[float, float], *, level: bool) -> None:
        if ends[1] > ends[0]:
            low, high = ((end, across) if level else (across, end) for end in ends)
            self.line(line, low, high)

    def circle(self, line: Line, centre: Point, radius: float) -> None:
        """A circle, mm on paper."""
        x, y = centre
        self._reaches([(x - radius, y - radius), (x + radius, y + radius)])
        self.elements.append(
            f'<circle class="{line}" cx="{short(x)}" cy="{short(y)}" r="{short(radius)}"/>'
        )

    def text(
        self,
        text: str,
        place: Point,
        anchor: Anchor = "start",
        size: float = TEXT_SIZE,
        *,
        upwards: bool = False,
    ) -> TextBox:
        """A text whose base line starts, is centred or ends at a place; it may run upwards."""
        text = printable(text)
        width, (x, y) = text_width(text, size), place
        box = _box(text, place, anchor, size, width, upwards=upwards)
        turn = f' transform="rotate(-90 {short(x)} {short(y)})"' if upwards else ""
        held = "" if is_bounded(text) else f' textLength="{short(width)}" {_BOTH}'
        self.elements.append(
            f'<text x="{short(x)}" y="{short(y)}" font-size="{short(size)}" '
            f'text-anchor="{anchor}"{turn}{held}>{escaped(text)}</text>'
        )
        self.boxes.append(box)
        self._reaches([(box.x, box.y), (box.x + box.width, box.y + box.height)])
        return box

    def drawing(self, name: str, caption: str, factor: float | None) -> Drawing:
        """All that was drawn, in a frame that holds it."""
        left, top = (math.floor(least - MARGIN) for least in self.low)
        width, height = (
            math.ceil(self.high[0] + MARGIN) - left,
            math.ceil(self.high[1] + MARGIN) - top,
        )
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" role="img" '
            f'viewBox="{left} {top} {width} {height}" width="{width}mm" height="{height}mm">'
        )
        svg = f"{head}<title>{escaped(name)}</title>{''.join(self.elements)}</svg>"
        frame = left, top, width, height
        return Drawing(
            name, caption, *frame, factor, svg, tuple(self.boxes), tuple(self.dimensions)
        )

    def _reaches_all(self, lines: Sequence[Sequence[Point] | FloatArray]) -> None:
        if lines:
            self._reaches(np.concatenate([np.asarray(points) for points in lines]))

    def _reaches(self, points: Sequence[Point] | FloatArray) -> None:
        least, most = np.min(points, axis=0), np.max(points, axis=0)
        self.low = min(self.low[0], float(least[0])), min(self.low[1], float(least[1]))
        self.high = max(self.high[0], float(most[0])), max(self.high[1], float(most[1]))


def _box(
    text: str, place: Point, anchor: Anchor, size: float, width: float, *, upwards: bool
) -> TextBox:
    ahead = {"start": 0.0, "middle": width / 2.0, "end": width}[anchor]
    (x, y), height = place, (ASCENT + DESCENT) * size
    if upwards:
        return TextBox(text, x - ASCENT * size, y + ahead - width, height, width)
    return TextBox(text, x - ahead, y - ASCENT * size, width, height)


def short(length: float) -> str:
    """A length on paper, to 0.01 mm, as short as it can be written."""
    told = f"{length:.2f}".rstrip("0").rstrip(".")
    return "0" if told == "-0" else told


def printable(text: str) -> str:
    """A text with what no font shows, and XML may not hold, replaced."""
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def escaped(text: str) -> str:
    """A text as it may stand in markup, quotes and all."""
    return escape(printable(text), quote=True)


def _told(mark: str) -> str:
    return f' data-of="{escaped(mark)}"' if mark else ""


def _pairs(points: Sequence[Point] | FloatArray) -> str:
    return " ".join(f"{short(x)} {short(y)}" for x, y in points)
