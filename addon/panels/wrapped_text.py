"""Text in a panel, broken into as many lines as its width takes: Blender would cut it off."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

import blf
import bpy

_FONT: Final = 0
"""Blender's own, which it draws its interface with."""

_BESIDE: Final = 58.0
"""Of a sidebar's width at a scale of 1: its tabs, the panel's margins and a label's own."""

_ICON: Final = 20.0
_ICON_BESIDE: Final = 34.0
"""Of a line, what an icon before it and the gap to it take."""

_ARROW: Final = 26.0
"""Of a menu's button, what its arrow and margins take."""

_NAME_MARGIN: Final = 8.0
_VALUE_MARGIN: Final = 10.0
"""What a label takes for itself, of the place before a value and of the value's."""

_LABEL_SHARE: Final = 0.4
"""Of the width, what the names of settings take where they stand beside their values."""

_LEAST_WIDTH: Final = 40.0
_USUAL_WIDTH: Final = 280.0
_LINE_HEIGHT: Final = 0.75
"""Of a line that belongs with the one above it."""


def text_width(context: bpy.types.Context) -> float:
    """How wide a line of text in the panel may be, in the pixels of text that is not zoomed."""
    scale = _scale(context)
    region = context.region
    if region is None or not region.width:
        return (_USUAL_WIDTH - _BESIDE) * scale
    view = region.view2d
    shown = view.region_to_view(region.width, 0)[0] - view.region_to_view(0, 0)[0]
    return float(max(shown - _BESIDE * scale, _LEAST_WIDTH * scale))


def draw_text(
    layout: bpy.types.UILayout, context: bpy.types.Context, text: str, icon: str = "NONE"
) -> None:
    """A sentence, or several, in a column of lines."""
    taken = 0.0 if icon == "NONE" else _ICON_BESIDE * _scale(context)
    row = layout.row()
    if icon != "NONE":
        row.label(text="", icon=icon)  # type: ignore[arg-type] # the stub lists every icon
    _draw_lines(row.column(align=True), _broken(context, text, text_width(context) - taken))


def draw_fact(
    layout: bpy.types.UILayout, context: bpy.types.Context, name: str, *values: str
) -> None:
    """A name and what it has, beside each other as settings are, or where that is too narrow
    one under the other.
    """  # noqa: D205 - one sentence
    width = text_width(context)
    if not fits_beside(context, name):
        column = layout.column(align=True)
        _draw_lines(column, _broken(context, name, width))
        column.scale_y = _LINE_HEIGHT
        _draw_values(column, context, values, width)
        return
    split = layout.split(factor=_LABEL_SHARE)
    left = split.column()
    left.alignment = "RIGHT"
    left.scale_y = _LINE_HEIGHT
    left.label(text=name, translate=False)
    _draw_values(split.column(align=True), context, values, _value_width(context))


def fits_beside(context: bpy.types.Context, name: str) -> bool:
    """Whether the name of a setting has room beside its value, as Blender lays them out."""
    room = _LABEL_SHARE * text_width(context) - _NAME_MARGIN * _scale(context)
    return _measured(name, _points(context)) <= room


def fits_as_value(context: bpy.types.Context, text: str) -> bool:
    """Whether a text has room in the place of a value that has a checkbox before it."""
    room = _value_width(context) - _ICON * _scale(context)
    return _measured(text, _points(context)) <= room


def fits_in_menu(context: bpy.types.Context, text: str) -> bool:
    """Whether a text has room on the button of a menu in the place of a value."""
    room = (1.0 - _LABEL_SHARE) * text_width(context) - _ARROW * _scale(context)
    return _measured(text, _points(context)) <= room


def fits_in_sidebar(context: bpy.types.Context, text: str) -> bool:
    """Whether a text has room on the button of a menu that has two small buttons beside it."""
    taken = (_ARROW + 2.0 * _ICON) * _scale(context)
    return _measured(text, _points(context)) <= text_width(context) - taken


def units_wide(context: bpy.types.Context, text: str) -> float:
    """How wide a label of a text is, in the units of layouts."""
    scale = _scale(context)
    return (_measured(text, _points(context)) / scale + _VALUE_MARGIN) / _ICON


def _value_width(context: bpy.types.Context) -> float:
    """Of a text in the place of a value."""
    share = (1.0 - _LABEL_SHARE) * text_width(context)
    return share - _VALUE_MARGIN * _scale(context)


def _draw_values(
    column: bpy.types.UILayout, context: bpy.types.Context, values: tuple[str, ...], width: float
) -> None:
    _draw_lines(column, tuple(line for value in values for line in _broken(context, value, width)))


def _draw_lines(column: bpy.types.UILayout, lines: tuple[str, ...]) -> None:
    column.scale_y = _LINE_HEIGHT
    for line in lines:
        column.label(text=line, translate=False)


def _scale(context: bpy.types.Context) -> float:
    """Of the interface; Blender without a window has none."""
    return float(context.preferences.system.ui_scale) or 1.0


def _points(context: bpy.types.Context) -> float:
    return float(context.preferences.ui_styles[0].widget.points) * _scale(context)


def _broken(context: bpy.types.Context, text: str, width: float) -> tuple[str, ...]:
    return broken_lines(text, int(width), _points(context))


@lru_cache(maxsize=1024)
def broken_lines(text: str, width: int, points: float) -> tuple[str, ...]:
    """The text in lines, none wider than the width unless one character is.

    Parameters
    ----------
    width : pixels
    points : height of the letters
    """
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if _measured(longer, points) <= width:
            lines[-1] = longer
            continue
        if lines[-1]:
            lines.append("")
        *full, lines[-1] = _broken_word(word, width, points)
        lines[-1:-1] = full
    return tuple(lines)


def _broken_word(word: str, width: int, points: float) -> list[str]:
    """A word that may be wider than a line, such as a path, in parts that are not."""
    parts = [""]
    for letter in word:
        if parts[-1] and _measured(parts[-1] + letter, points) > width:
            parts.append("")
        parts[-1] += letter
    return parts


@lru_cache(maxsize=4096)
def _measured(text: str, points: float) -> float:
    blf.size(_FONT, points)
    return float(blf.dimensions(_FONT, text)[0])
