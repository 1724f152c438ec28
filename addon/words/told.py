"""Messages in the language that Blender speaks: a template is translated, then filled in."""

from __future__ import annotations

import bpy

CONTEXT = "Borewright"
"""Of all our words, so that Blender's dictionary has none of them: its bore or seam is another."""


def told(template: str, **values: object) -> str:
    """A message with its values; of the template a translation, where there is one."""
    translated: str = bpy.app.translations.pgettext_rpt(template, CONTEXT) or template
    return translated.format(**values) if values else translated


def label_told(label: str) -> str:
    """The name of one of our settings or choices, as Blender shows it."""
    return bpy.app.translations.pgettext_iface(label, CONTEXT) or label
