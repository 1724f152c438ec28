"""What Blender is told of: the command, the operator and its menu entry."""

from __future__ import annotations

import bpy

from .command import main
from .operators import BOREWRIGHT_OT_split, draw_menu_entry

_commands: list[object] = []
"""Handle of the registered command, needed to take it back."""


def register() -> None:
    """Make the operator, its menu entry and the command known."""
    bpy.utils.register_class(BOREWRIGHT_OT_split)
    bpy.types.VIEW3D_MT_object.append(draw_menu_entry)
    _commands.append(bpy.utils.register_cli_command("borewright", main))


def unregister() -> None:
    """Take back all of it, in reverse order."""
    bpy.utils.unregister_cli_command(_commands.pop())
    bpy.types.VIEW3D_MT_object.remove(draw_menu_entry)
    bpy.utils.unregister_class(BOREWRIGHT_OT_split)
