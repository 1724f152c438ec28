"""Lines of a drawing on the graphics card: one batch for all that look alike."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import bpy
import gpu
import numpy as np
from gpu_extras.batch import batch_for_shader

from ...core.showing.drawing import Layer, Line, Tone, dashed
from ...core.values import FloatArray
from .theme import Colour, ground_colour, tone_colour
from .view_scale import SeenPart

if TYPE_CHECKING:
    from gpu.types import GPUBatch, GPUShader

SHADER = "POLYLINE_UNIFORM_COLOR"
RIM = 2.0
"""Pixels by which the rim of a line is wider than the line."""
HIDDEN = 0.35
"""Opacity of what the part hides."""

Look = tuple[Layer, Tone, float]


@dataclass(frozen=True, slots=True, eq=False)
class Strokes:
    """Batches by how they look."""

    batches: tuple[tuple[Look, GPUBatch], ...]


def make_strokes(lines: Iterable[Line], mm_per_pixel: float) -> Strokes:
    """All lines as batches. Only where there is a window."""
    looks: dict[Look, list[FloatArray]] = {}
    for line in lines:
        segments = dashed(line, mm_per_pixel)
        if len(segments):
            looks.setdefault((line.layer, line.tone, line.width), []).append(segments)
    shader = gpu.shader.from_builtin(SHADER)
    return Strokes(
        tuple(
            (look, batch_for_shader(shader, "LINES", _places(segments)))
            for look, segments in looks.items()
        )
    )


def _places(segments: list[FloatArray]) -> dict[str, Any]:
    """What the shader wants of the ends; the stub knows no arrays there."""
    return {"pos": np.concatenate(segments).reshape(-1, 3).astype(np.float32)}


def draw_strokes(strokes: Strokes, seen: SeenPart, size: tuple[float, float]) -> None:
    """Draw them; size : of the region, pixels."""
    shader = gpu.shader.from_builtin(SHADER)
    shader.bind()
    shader.uniform_float("viewportSize", size)
    scale = bpy.context.preferences.system.ui_scale
    gpu.state.blend_set("ALPHA")
    gpu.state.depth_mask_set(False)
    try:
        for layer, depth, opacity in (
            ("surface", "GREATER", HIDDEN),
            ("surface", "LESS_EQUAL", 1.0),
            ("front", "NONE", 1.0),
            ("beside", "NONE", 1.0),
        ):
            if layer == "beside" and seen.along:
                continue
            gpu.state.depth_test_set(depth)
            chosen = [one for one in strokes.batches if one[0][0] == layer]
            with _matrices(seen, layer):
                _draw_layer(shader, chosen, opacity, scale)
    finally:
        gpu.state.depth_test_set("NONE")
        gpu.state.depth_mask_set(True)
        gpu.state.blend_set("NONE")


@contextmanager
def _matrices(seen: SeenPart, layer: str) -> Iterator[None]:
    """From the part frame to where a layer lies; what was set before is set again."""
    gpu.matrix.push()
    try:
        if layer == "surface":
            gpu.matrix.load_matrix(seen.to_front @ gpu.matrix.get_model_view_matrix())
        gpu.matrix.multiply_matrix(seen.to_world)
        if layer == "beside":
            gpu.matrix.multiply_matrix(seen.to_facing)
        yield
    finally:
        gpu.matrix.pop()


def _draw_layer(
    shader: GPUShader, chosen: list[tuple[Look, GPUBatch]], opacity: float, scale: float
) -> None:
    """First the rims of all, then the lines, so that no rim covers a line."""
    rim = ground_colour()
    if opacity == 1.0:
        for (_, _, width), batch in chosen:
            _draw(shader, batch, rim, 0.6, (width + RIM) * scale)
    for (_, tone, width), batch in chosen:
        _draw(shader, batch, tone_colour(tone), opacity, width * scale)


def _draw(shader: GPUShader, batch: GPUBatch, colour: Colour, opacity: float, width: float) -> None:
    shader.uniform_float("color", (*colour[:3], opacity))
    shader.uniform_float("lineWidth", width)
    batch.draw(shader)
