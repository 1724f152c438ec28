"""What is drawn beside the part: the line of stations, seams and holes, heights of pieces.

It lies in the plane y = 0 of the part frame, stations to the left and heights to the right,
at distances in pixels from the part; the drawing is made anew for another scale.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..planning.seam_stretches import Rule
from ..planning.station_map import MapStretch
from ..values import FloatArray, Joint, SideHole
from .drawing import Drawing, Label, Line, Style, Tone

STATIONS, STATION_WORDS = 16.0, 30.0
HEIGHTS, HEIGHTS_STEP, HEIGHT_WORDS = 18.0, 14.0, 42.0
"""Distances from the part's widest radius, pixels."""
ARROW, TICK = 9.0, 4.0
ROOM_FOR_FREE, ROOM_FOR_HOLE, ROOM_FOR_CLOSED = 8.0, 8.0, 3.0
"""Heights of their words that a stretch has to be long on the screen to be told; one that is
closed for a hole beside which the hole is told has to be longer."""

CLOSED: dict[Rule, str] = {
    "wall": "wall too thin",
    "tip": "too short for a tip",
    "holes": "side hole",
    "bore ornaments": "in the bore",
    "recesses": "recess",
    "rings": "ring",
    "avoid": "to be avoided",
}
"""Short words for what closes a stretch."""
NO_ROOM = "no room"


@dataclass(frozen=True, slots=True)
class Beside:
    """Where things beside the part lie.

    radius : mm, the part's greatest
    mm_per_pixel : at the part
    """

    radius: float
    mm_per_pixel: float

    def left(self, pixels: float) -> float:
        """Place of what lies so far to the left of the part."""
        return -self.radius - pixels * self.mm_per_pixel

    def right(self, pixels: float) -> float:
        """Place of what lies so far to the right of the part."""
        return self.radius + pixels * self.mm_per_pixel


@dataclass(frozen=True, slots=True)
class Height:
    """Stations between which a piece stands, and how wide the part is at each, mm."""

    name: str
    low: float
    high: float
    low_radius: float
    high_radius: float


def draw_stretches(stretches: Sequence[MapStretch], beside: Beside) -> Drawing:
    """The line of stations: solid where a seam of the plan may lie, dotted where none may.

    Dashed where one may that makes for more pieces.
    """
    x = beside.left(STATIONS)
    lines = [_stretch_line(stretch, x) for stretch in stretches if stretch.low < stretch.high]
    points = [stretch.low for stretch in stretches if stretch.low == stretch.high]
    ends = sorted({end for stretch in stretches for end in (stretch.low, stretch.high)})
    ticks = _ticks(ends, x, TICK * beside.mm_per_pixel)
    wide = _ticks(points, x, 2.0 * TICK * beside.mm_per_pixel)
    return Drawing(
        (*lines, Line(*ticks, layer="beside", width=1.0), Line(*wide, layer="beside", width=4.0)),
        tuple(_stretch_label(stretch, beside) for stretch in stretches),
    )


def _stretch_line(stretch: MapStretch, x: float) -> Line:
    style: Style = "solid" if stretch.cuts else "dashed" if stretch.is_open else "dotted"
    tone: Tone = "plain" if stretch.is_open else "alert"
    width = 4.0 if stretch.cuts else 2.0 if stretch.is_open else 3.0
    return Line(*_upright(x, stretch.low, stretch.high), style, tone, "beside", width)


def _stretch_label(stretch: MapStretch, beside: Beside) -> Label:
    where = beside.left(STATION_WORDS), stretch.low, stretch.high
    if stretch.cuts:
        numbers = ", ".join(str(cut + 1) for cut in stretch.cuts)
        return Label("free for seam {numbers}", {"numbers": numbers}, *where, rank=2)
    if stretch.is_open:
        words = "free, but for more pieces"
        return Label(words, {}, *where, tone="faint", rank=4, room=ROOM_FOR_FREE)
    why = tuple(CLOSED[rule] for rule in stretch.rules) or (NO_ROOM,)
    room = ROOM_FOR_HOLE if stretch.rules == ("holes",) else ROOM_FOR_CLOSED
    return Label("no seam: {why}", {"why": why}, *where, rank=3, room=room)


def label_holes(holes: Sequence[SideHole], beside: Beside) -> Drawing:
    """Where each side hole is and how wide."""
    x = beside.left(STATION_WORDS)
    labels = (
        Label(
            "hole {number} at {station} mm: {along} x {across}",
            {
                "number": number,
                "station": f"{hole.station:.1f}",
                "along": f"{hole.axial_width:.2f}",
                "across": f"{hole.across_width:.2f}",
            },
            x,
            hole.low,
            hole.high,
            rank=1,
        )
        for number, hole in enumerate(holes, 1)
    )
    return Drawing(labels=tuple(labels))


def draw_seams(
    joints: Sequence[Joint], radii: Sequence[float], beside: Beside, *, sizes: bool
) -> Drawing:
    """A line from each seam's ring to its words; radii : mm, of the rings."""
    lines = [
        Line(*_level(beside.left(STATION_WORDS), -radius, joint.station), "solid", "seam",
             "beside", 2.0)
        for joint, radius in zip(joints, radii, strict=True)
    ]  # fmt: skip
    labels = (
        Label(
            "seam {number} at {station} mm: {kind}, {engagement} mm" if sizes else "seam {number}",
            {
                "number": number,
                "station": f"{joint.station:.2f}",
                "kind": (joint.kind,),
                "engagement": f"{joint.engagement:.1f}",
            },
            beside.left(STATION_WORDS),
            joint.station,
            joint.station,
            tone="seam",
        )
        for number, joint in enumerate(joints, 1)
    )
    return Drawing(tuple(lines), tuple(labels))


def draw_heights(
    pieces: Sequence[Height], room: float, scale: float, beside: Beside, *, sizes: bool
) -> Drawing:
    """The height of each piece, tenon and all, against the envelope's.

    room : mm, the envelope's height
    scale : the file of a piece is so much higher than the piece
    """
    drawing = Drawing()
    for number, piece in enumerate(pieces, 1):
        height = (piece.high - piece.low) * scale
        tone: Tone = "alert" if height > room + 1e-6 else "plain"
        column = HEIGHTS + HEIGHTS_STEP * ((number - 1) % 2)
        drawing += _dimension(piece, column, beside, tone)
        words = "whole part: {height} of {room} mm" if len(pieces) == 1 else (
            "{piece}: {height} of {room} mm" if sizes else "{piece}"
        )  # fmt: skip
        values = {"piece": piece.name, "height": f"{height:.1f}", "room": f"{room:g}"}
        x = beside.right(HEIGHT_WORDS)
        label = Label(words, values, x, piece.low, piece.high, tone, rank=1)
        drawing += Drawing(labels=(label,))
    return drawing


def _dimension(piece: Height, column: float, beside: Beside, tone: Tone) -> Drawing:
    """A line with an arrow at each end, and the lines out to it."""
    low, high = piece.low, piece.high
    x, pixel = beside.right(column), beside.mm_per_pixel
    arrow = min(ARROW * pixel, (high - low) / 2.0)
    tips = np.array([[x, 0.0, low], [x, 0.0, low], [x, 0.0, high], [x, 0.0, high]])
    tails = tips + np.array(
        [[s * arrow / 3.0, 0.0, t * arrow] for t in (1.0, -1.0) for s in (-1.0, 1.0)]
    )
    reach = beside.right(column + TICK)
    out = [_level(piece.low_radius, reach, low), _level(piece.high_radius, reach, high)]
    return Drawing(
        (
            Line(*_upright(x, low, high), "solid", tone, "beside", 1.5),
            Line(tips, tails, "solid", tone, "beside", 1.5),
            *(Line(*ends, "solid", "faint", "beside", 1.0) for ends in out),
        )
    )


def _upright(x: float, low: float, high: float) -> tuple[FloatArray, FloatArray]:
    return np.array([[x, 0.0, low]]), np.array([[x, 0.0, high]])


def _level(x: float, other: float, station: float) -> tuple[FloatArray, FloatArray]:
    return np.array([[x, 0.0, station]]), np.array([[other, 0.0, station]])


def _ticks(stations: Iterable[float], x: float, half: float) -> tuple[FloatArray, FloatArray]:
    levels = np.array(list(stations), np.float64)
    places = np.column_stack([np.full_like(levels, x), np.zeros_like(levels), levels])
    reach = np.array([half, 0.0, 0.0])
    return places - reach, places + reach
