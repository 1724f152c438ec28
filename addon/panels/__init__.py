"""The tab in the viewport's sidebar: its panels in the order of the job.

Drawing is cheap and changes nothing: it shows settings, and what was found and planned.
"""

from __future__ import annotations

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
