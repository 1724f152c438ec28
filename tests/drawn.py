"""What a finished drawing holds, read back from its SVG alone."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
from borewright.core.sheet.svg import Drawing
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_SPACE = "{http://www.w3.org/2000/svg}"
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_ON_PAPER = 0.011
"""Coordinates are written to 0.01 mm."""


def root_of(drawing: Drawing) -> ET.Element:
    return ET.fromstring(drawing.svg)


def loops_of(drawing: Drawing, mark: str) -> list[FloatArray]:
    """The outlines that the drawing marks as of a piece, mm on paper."""
    paths = [
        path
        for path in root_of(drawing).iter(f"{_SPACE}path")
        if path.get("data-of") == mark and path.get("class") in {"outline", "fine"}
    ]
    runs = [run for path in paths for run in path.attrib["d"].split("M") if run]
    return [np.array(_NUMBER.findall(run), float).reshape(-1, 2) for run in runs]


def area_of(loops: list[FloatArray]) -> float:
    """Within all outlines, those of voids taken off, by the shoelace formula."""
    doubled = 0.0
    for loop in loops:
        ahead = np.roll(loop, -1, axis=0)
        doubled += float((loop[:, 0] * ahead[:, 1] - loop[:, 1] * ahead[:, 0]).sum())
    return abs(doubled) / 2.0


def texts_of(drawing: Drawing) -> list[str]:
    return [text.text or "" for text in root_of(drawing).iter(f"{_SPACE}text")]


def overlapping(drawing: Drawing) -> list[tuple[str, str]]:
    return [(a.text, b.text) for a, b in combinations(drawing.boxes, 2) if a.overlaps(b)]


def beyond_frame(drawing: Drawing) -> list[str]:
    """Texts, and points of lines, that lie outside the frame."""
    left, top = drawing.left - _ON_PAPER, drawing.top - _ON_PAPER
    right = drawing.left + drawing.width + _ON_PAPER
    bottom = drawing.top + drawing.height + _ON_PAPER
    out = [
        box.text
        for box in drawing.boxes
        if box.x < left or box.y < top or box.x + box.width > right or box.y + box.height > bottom
    ]
    for path in root_of(drawing).iter(f"{_SPACE}path"):
        points = np.array(_NUMBER.findall(path.attrib["d"]), float).reshape(-1, 2)
        if (points < [left, top]).any() or (points > [right, bottom]).any():
            out.append(path.attrib["d"][:40])
    return out


def untrue_dimensions(drawing: Drawing) -> list[str]:
    """Values that are not, to the digits shown, what their lines are long."""
    wrong = []
    for line in drawing.dimensions:
        told = _NUMBER.search(line.text)
        assert told is not None
        length = float(np.hypot(line.stop[0] - line.start[0], line.stop[1] - line.start[1]))
        digits = len(told[0].partition(".")[2])
        if abs(length / line.factor - float(told[0])) > 0.5 * 10.0 ** -max(digits, 2) + 1e-9:
            wrong.append(f"{line.text}: {length / line.factor}")
    return wrong


def assert_sound(drawing: Drawing, most: tuple[float, float] = (180.0, 245.0)) -> None:
    """Well-formed, no text over another, all in the frame, the frame on a page, values true."""
    assert overlapping(drawing) == []
    assert beyond_frame(drawing) == []
    assert drawing.width <= most[0]
    assert drawing.height <= most[1]
    assert untrue_dimensions(drawing) == []
    assert sorted(texts_of(drawing)) == sorted(box.text for box in drawing.boxes)


def segments_of(drawing: Drawing, mark: str) -> FloatArray:
    """(n, 2, 2) mm on paper, the clipped outlines that the drawing marks as of a piece."""
    paths = [p for p in root_of(drawing).iter(f"{_SPACE}path") if p.get("data-of") == mark]
    numbers = [_NUMBER.findall(path.attrib["d"]) for path in paths]
    return np.concatenate([np.array(found, float) for found in numbers]).reshape(-1, 2, 2)
