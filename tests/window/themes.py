"""Blender's own themes, to look at pictures in the light one too."""

from __future__ import annotations

from pathlib import Path

import bpy

LIGHT = "Blender_Light.xml"


def set_light_theme() -> None:
    """Take Blender's light theme.

    Raises
    ------
    FileNotFoundError : Blender came without it
    """
    found = [Path(folder) / LIGHT for folder in bpy.utils.preset_paths("interface_theme")]
    kept = [path for path in found if path.is_file()]
    if not kept:
        raise FileNotFoundError(f"found: no {LIGHT} in {found}; needed: Blender's light theme")
    bpy.ops.script.execute_preset(
        filepath=str(kept[0]), menu_idname="USERPREF_MT_interface_theme_presets"
    )
