"""What a finished drawing holds, read back from its SVG alone."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree import ElementTree as ET

import numpy as np
from borewright.core.sheet.svg import Drawing, TextBox
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


def struck_through(drawing: Drawing) -> list[str]:
    """Texts that a line runs through: their boxes made smaller by what no letter reaches."""
    segments = np.concatenate([_sides(path) for path in root_of(drawing).iter(f"{_SPACE}path")])
    return [box.text for box in drawing.boxes if _meets(segments, _lettered(box)).any()]


def _sides(path: ET.Element) -> FloatArray:
    """(n, 2, 2), the straight lines of a path."""
    sides = []
    for run in path.attrib["d"].split("M"):
        points = np.array(_NUMBER.findall(run), float).reshape(-1, 2)
        ends = np.roll(points, -1, axis=0) if run.endswith("Z") else points[1:]
        sides.append(np.stack([points[: len(ends)], ends], axis=1))
    return np.concatenate(sides)


def _lettered(box: TextBox) -> FloatArray:
    """(2, 2), the corners of where digits and capitals are: a third of a box is over and under."""
    upright = box.height > box.width and len(box.text) > 1
    ahead, over, under = 0.2, 0.8, 0.9
    low = [box.x + over, box.y + ahead] if upright else [box.x + ahead, box.y + over]
    back = [under, ahead] if upright else [ahead, under]
    return np.array([low, [box.x + box.width - back[0], box.y + box.height - back[1]]])


def _meets(segments: FloatArray, corners: FloatArray) -> NDArray[np.bool_]:
    """Which segments have a part inside of a rectangle; after Liang and Barsky (1984)."""
    start, run = segments[:, 0], segments[:, 1] - segments[:, 0]
    safe = np.where(run == 0.0, 1e-12, run)
    shares = np.sort((corners[:, None] - start) / safe, axis=0)
    enter, leave = shares[0].max(axis=1), shares[1].min(axis=1)
    return np.maximum(enter, 0.0) < np.minimum(leave, 1.0)


def crossing_dimensions(drawing: Drawing) -> list[tuple[str, str]]:
    """Dimension lines that cross: one is level and the other upright, as all are."""
    level = [line for line in drawing.dimensions if line.start[1] == line.stop[1]]
    upright = [line for line in drawing.dimensions if line.start[0] == line.stop[0]]
    assert len(level) + len(upright) == len(drawing.dimensions)
    return [
        (one.text, other.text)
        for one in level
        for other in upright
        if min(one.start[0], one.stop[0]) < other.start[0] < max(one.start[0], one.stop[0])
        and min(other.start[1], other.stop[1]) < one.start[1] < max(other.start[1], other.stop[1])
    ]


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
    """Well-formed, no text over another or under a line, all in the frame, values true."""
    assert overlapping(drawing) == []
    assert struck_through(drawing) == []
    assert beyond_frame(drawing) == []
    assert drawing.width <= most[0]
    assert drawing.height <= most[1]
    assert crossing_dimensions(drawing) == []
    assert untrue_dimensions(drawing) == []
    assert sorted(texts_of(drawing)) == sorted(box.text for box in drawing.boxes)


def segments_of(drawing: Drawing, mark: str) -> FloatArray:
    """(n, 2, 2) mm on paper, the clipped outlines that the drawing marks as of a piece."""
    paths = [p for p in root_of(drawing).iter(f"{_SPACE}path") if p.get("data-of") == mark]
    numbers = [_NUMBER.findall(path.attrib["d"]) for path in paths]
    return np.concatenate([np.array(found, float) for found in numbers]).reshape(-1, 2, 2)
