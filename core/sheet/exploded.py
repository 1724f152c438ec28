"""The pieces of a part drawn apart along its axis, as they are seen from above and one side."""

from __future__ import annotations

import math

import numpy as np

from ..recording.job_record import JobRecord, PartRecord
from ..values import FloatArray
from .assembled import AssembledPart, assemble
from .hidden_lines import Eye, visible_edges
from .lettering import BALLOON, draw_balloon
from .polylines import joined, simplified
from .svg import Drawing, Pen

_ELEVATION = math.asin(1.0 / math.sqrt(3.0))
"""Of an isometric view: all three axes look equally long."""

_ASIDE = math.radians(25.0)
"""How far the side with the holes is turned from the eye."""

_APART = 7.0
"""Between pieces, mm on paper."""

_ROOM = (110.0, 200.0)
"""For all pieces over each other, mm on paper."""

_PIXEL, _TOLERANCE = 0.12, 0.03
"""mm on paper: of the grid that hides lines, and what lines may be simplified by."""

_MOST_LINES, _MOST_POINTS = 3000, 14000
"""Of all pieces together; the shortest lines are left out first."""


def exploded_drawing(part: PartRecord, record: JobRecord) -> Drawing:
    """The pieces of a part apart, with their numbers; not to scale."""
    del record
    whole = assemble(part)
    eye = Eye(whole.plane.angle + _ASIDE, _ELEVATION)
    seen = [eye.seen(mesh.vertices) for mesh in whole.meshes]
    factor = _factor(seen)
    lines = _lines(whole, eye, factor)
    pen = Pen()
    _draw_pieces(pen, whole, seen, lines, factor)
    told = "its pieces apart" if len(whole.pieces) > 1 else "in one piece"
    told = f"{part.outcome.name}, {told}"
    return pen.drawing(told, f"{told}; not to scale", None)


def _factor(seen: list[FloatArray]) -> float:
    """Mm on paper for a mm of the part, so that all pieces fit over each other."""
    heights = [float(np.ptp(points[:, 1])) for points in seen]
    width = max(float(np.ptp(points[:, 0])) for points in seen)
    return min(_ROOM[0] / width, (_ROOM[1] - _APART * (len(seen) - 1)) / sum(heights))


def _lines(whole: AssembledPart, eye: Eye, factor: float) -> list[list[FloatArray]]:
    """What is seen of each piece, as lines on paper; the shortest are left out of too many."""
    found = [
        joined(visible_edges(mesh, eye, _PIXEL / factor) * factor, _TOLERANCE)
        for mesh in whole.meshes
    ]
    longest = _longest(found, [1 for each in found for _ in each], _MOST_LINES)
    lines = [[simplified(line, _TOLERANCE) for line in each] for each in longest]
    return _longest(lines, [len(line) for each in lines for line in each], _MOST_POINTS)


def _longest(lines: list[list[FloatArray]], sizes: list[int], most: int) -> list[list[FloatArray]]:
    """Of each piece's lines the longest, as many as have no more than a size together."""
    if sum(sizes) <= most:
        return lines
    every = [line for each in lines for line in each]
    points, starts = np.concatenate(every), np.cumsum([0] + [len(line) for line in every[:-1]])
    spans = np.maximum.reduceat(points, starts) - np.minimum.reduceat(points, starts)
    order = np.argsort(-spans.max(axis=1), kind="stable")
    kept = np.zeros(len(every), bool)
    kept[order[np.cumsum(np.array(sizes)[order]) <= most]] = True
    flags = iter(kept.tolist())
    return [[line for line in each if next(flags)] for each in lines]


def _draw_pieces(
    pen: Pen,
    whole: AssembledPart,
    seen: list[FloatArray],
    lines: list[list[FloatArray]],
    factor: float,
) -> None:
    """From the lowest piece up, the axis between them, each with its number to the left."""
    left = min(float(points[:, 0].min()) for points in seen) * factor - 5.0 - BALLOON
    foot = 0.0
    for number, (points, drawn) in enumerate(zip(seen, lines, strict=True), 1):
        low, high = float(points[:, 1].min()) * factor, float(points[:, 1].max()) * factor
        lift = np.array([0.0, foot - low])
        lifted = [(line + lift) * [1.0, -1.0] for line in drawn]
        pen.polylines("fine", lifted, whole.pieces[number - 1].name)
        top = foot + high - low
        middle = (foot + top) / 2.0
        near = _leftmost([line + lift for line in drawn], middle)
        draw_balloon(pen, (left, -middle), str(number), (near, -middle))
        if number < len(seen):
            pen.line("axis", (0.0, -top), (0.0, -top - _APART))
        foot = top + _APART


def _leftmost(lines: list[FloatArray], height: float) -> float:
    """Where a level line from the left first meets one of the lines; 0 where it meets none."""
    found = []
    for line in lines:
        start, end = line[:-1], line[1:]
        meets = (start[:, 1] <= height) != (end[:, 1] <= height)
        run = (end - start)[meets]
        found += (start[meets, 0] + (height - start[meets, 1]) / run[:, 1] * run[:, 0]).tolist()
    return min(found, default=0.0)
