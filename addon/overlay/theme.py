"""Colours of the drawing: the theme's, and no others."""

from __future__ import annotations

import bpy

from ...core.showing.drawing import Tone

Colour = tuple[float, float, float, float]


def tone_colour(tone: Tone) -> Colour:
    """What a tone looks like in the theme that is used."""
    theme = bpy.context.preferences.themes[0]
    text = theme.view_3d.space.text_hi
    match tone:
        case "plain":
            return _opaque(text)
        case "faint":
            return _opaque(_between(text, theme.view_3d.space.gradients.high_gradient))
        case "seam":
            return _opaque(theme.user_interface.gizmo_primary)
        case "alert":
            return _opaque(_bright(plate_colour(), text))


def plate_colour() -> Colour:
    """Of the plate under words that alert; before Blender 4.5 that of errors in a list."""
    theme = bpy.context.preferences.themes[0]
    error = getattr(theme.user_interface.wcol_state, "error", None)
    return _opaque(theme.info.info_error if error is None else error)


def ground_colour() -> Colour:
    """Of the viewport's ground, for the rim that sets lines and words off from what is behind."""
    return _opaque(bpy.context.preferences.themes[0].view_3d.space.gradients.high_gradient)


def _opaque(colour: object) -> Colour:
    red, green, blue = tuple(colour)[:3]  # type: ignore[arg-type, var-annotated]
    return red, green, blue, 1.0


def _between(one: object, other: object) -> Colour:
    """Half of each."""
    red, green, blue = (
        (a + b) / 2.0 for a, b in zip(_opaque(one)[:3], _opaque(other)[:3], strict=True)
    )
    return red, green, blue, 1.0


def _bright(colour: object, text: object) -> Colour:
    """A colour of the interface, as bright as the viewport's text; darker on light ground."""
    red, green, blue, _ = _opaque(colour)
    scale = max(_opaque(text)[:3]) / max(red, green, blue, 1e-3)
    return min(1.0, red * scale), min(1.0, green * scale), min(1.0, blue * scale), 1.0
