"""Messages in the language that Blender speaks: a template is translated, then filled in."""

from __future__ import annotations

import bpy


def told(template: str, **values: object) -> str:
    """A message with its values; of the template a translation, where there is one."""
    translated: str = bpy.app.translations.pgettext_rpt(template) or template
    return translated.format(**values) if values else translated
