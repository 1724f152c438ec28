"""Having Blender draw anew what shows something of ours."""

from __future__ import annotations

import bpy


def redraw_viewports() -> None:
    """The viewports with their overlays and sidebars."""
    _redraw({"UI", "WINDOW"})


def redraw_sidebars() -> None:
    """The sidebars alone; what the viewports show is as it was."""
    _redraw({"UI"})


def _redraw(regions: set[str]) -> None:
    for window in bpy.context.window_manager.windows:
        for area in window.screen.areas:
            for region in area.regions if area.type == "VIEW_3D" else ():
                if region.type in regions:
                    region.tag_redraw()
