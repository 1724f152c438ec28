"""The tab in the viewport's sidebar: its panels in the order of the job.

Drawing is cheap and changes nothing: it shows settings, and what was found and planned.
"""

from __future__ import annotations

import bpy

from . import (
    cuts_panel,
    display_panel,
    joint_panel,
    part_panel,
    pieces_panel,
    printer_panel,
)

CLASSES = (
    *part_panel.CLASSES,
    *printer_panel.CLASSES,
    *joint_panel.CLASSES,
    *cuts_panel.CLASSES,
    *display_panel.CLASSES,
    *pieces_panel.CLASSES,
)
"""In the order in which they are shown, each before its sub-panels."""


def register() -> None:
    """Add the tab."""
    for panel in CLASSES:
        bpy.utils.register_class(panel)


def unregister() -> None:
    """Take it back."""
    for panel in reversed(CLASSES):
        bpy.utils.unregister_class(panel)
