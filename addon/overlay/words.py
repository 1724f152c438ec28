"""The words of a drawing, laid out on the screen so that none overlap."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import blf
import bpy
import gpu
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix

from ...core.showing.drawing import Label, Tone
from ...core.showing.label_places import Box, Placed, Point, Words, place_words
from ..words.told import told
from .strokes import SHADER
from .theme import Colour, ground_colour, plate_colour, tone_colour
from .view_scale import on_screen

FONT = 0
SHADOW_BLUR = 5
TALL = "Ág"
"""As high above and below the line as letters are."""
DESCENT = 0.2
"""What of a line's height is under its letters' feet."""
SLANT = 0.25
"""Sine of the slant from which on words have a corner at their place, not the middle of a side."""
ROWS = (1.0, 2.0, 3.0, 4.0)
"""Beyond the first, over or under a level part."""
PLATE = 4.0
"""By how much the plate behind an alert is larger than its words, pixels."""


@dataclass(frozen=True, slots=True)
class Said:
    """Words with their place on the screen; rank : of two that overlap the lower is kept."""

    text: str
    tone: Tone
    rank: int
    words: Words


def said_label(label: Label, matrix: Matrix, width: float, height: float) -> Said | None:
    """A label as it is to be laid out; None: it is behind the viewer."""
    ends = [
        on_screen(matrix, (label.x, 0.0, station), width, height)
        for station in (label.low, label.high)
    ]
    inner = on_screen(matrix, (0.0, 0.0, label.low), width, height)
    low, high = ends
    if low is None or high is None or inner is None:
        return None
    text = label_text(label)
    size = _text_size(text)
    outward = low[0] - inner[0], low[1] - inner[1]
    words = _words(low, high, size, outward)
    return Said(text, label.tone, label.rank, replace(words, room=label.room * size[1]))


def said_there(text: str, tone: Tone, place: Point) -> Said:
    """A line of its own, at a place; it goes before all others."""
    return Said(text, tone, -1, Words(place, place, *_text_size(text), (-0.5, -0.5)))


def _text_size(text: str) -> Point:
    """Width of a text and height of a line, pixels: lines are alike whatever their letters."""
    width, _ = blf.dimensions(FONT, text)
    _, height = blf.dimensions(FONT, TALL)
    return width, height


def label_text(label: Label) -> str:
    """In the language that Blender speaks; of several words each is translated."""
    values = {
        name: ", ".join(told(word) for word in value) if isinstance(value, tuple) else value
        for name, value in label.values.items()
    }
    return told(label.template, **values)


def _words(low: Point, high: Point, size: Point, outward: Point) -> Words:
    """Beside an upright part level with its place; over or under a level one, and moved away."""
    length = max(math.hypot(*outward), 1e-6)
    x, y = (min(1.0, max(-1.0, part / length / SLANT)) for part in outward)
    words = Words(low, high, *size, (0.5 * x - 0.5, 0.5 * y - 0.5))
    if abs(x) < 1.0:
        return replace(words, steps=tuple(math.copysign(row, y) for row in ROWS))
    return words


def draw_words(said: Sequence[Said], size: tuple[float, float], free: Box | None = None) -> None:
    """Draw them, and a line to those that had to be moved.

    size : of the region, pixels
    free : of it, what lies under no header or sidebar; None: all of it
    """
    ranked = sorted(said, key=lambda one: one.rank)
    screen = free if free is not None else (0.0, 0.0, *size)
    placed = place_words([one.words for one in ranked], screen)
    shown = [(one, place) for one, place in zip(ranked, placed, strict=True) if place is not None]
    _draw_leaders(shown, size)
    for one, place in shown:
        if one.tone == "alert":
            _draw_plate(one, place, plate_colour())
        elif place.aside:
            _draw_plate(one, place, ground_colour())
    blf.enable(FONT, blf.SHADOW)
    blf.shadow(FONT, SHADOW_BLUR, *ground_colour())
    for one, place in shown:
        blf.color(FONT, *tone_colour("plain" if one.tone == "alert" else one.tone))
        x, y = place.corner
        blf.position(FONT, x, y + DESCENT * one.words.height, 0.0)
        blf.draw(FONT, one.text)
    blf.disable(FONT, blf.SHADOW)


def set_text_size() -> None:
    """As the interface has it."""
    preferences = bpy.context.preferences
    blf.size(FONT, preferences.ui_styles[0].widget.points * preferences.system.ui_scale)


def _draw_leaders(shown: Sequence[tuple[Said, Placed]], size: tuple[float, float]) -> None:
    places = [point for one, place in shown if place.moved for point in _leader(one, place)]
    if not places:
        return
    shader = gpu.shader.from_builtin(SHADER)
    shader.bind()
    shader.uniform_float("viewportSize", size)
    shader.uniform_float("lineWidth", 1.0)
    shader.uniform_float("color", tone_colour("faint"))
    gpu.state.blend_set("ALPHA")
    batch_for_shader(shader, "LINES", {"pos": places}).draw(shader)
    gpu.state.blend_set("NONE")


def _draw_plate(one: Said, place: Placed, colour: Colour) -> None:
    """What sets an alert off from all else, and keeps lines from words with no room beside them."""
    x, y = (edge - PLATE for edge in place.corner)
    right, top = x + one.words.width + 2.0 * PLATE, y + one.words.height + 2.0 * PLATE
    shader = gpu.shader.from_builtin("UNIFORM_COLOR")
    shader.bind()
    shader.uniform_float("color", colour)
    corners = [(x, y), (right, y), (x, top), (right, top)]
    batch_for_shader(shader, "TRI_STRIP", {"pos": corners}).draw(shader)


def _leader(one: Said, place: Placed) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """From what the words belong to, to the nearest middle of their sides."""
    x = place.corner[0] - one.words.shift[0] * one.words.width
    y = place.corner[1] - one.words.shift[1] * one.words.height
    return (*place.anchor, 0.0), (x, y, 0.0)
