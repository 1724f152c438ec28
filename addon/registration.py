"""What Blender is told of: each module's classes and handlers, the operator and the command."""

from __future__ import annotations

import bpy

from . import (
    cut_drag,
    cut_operators,
    found,
    handles,
    modal_work,
    overlay,
    panels,
    piece_data,
    pieces,
    preferences,
    printer_operators,
    properties,
)
from .command import main
from .operators import BOREWRIGHT_OT_split, draw_menu_entry

_MODULES = (
    properties,
    preferences,
    found,
    piece_data,
    pieces,
    printer_operators,
    cut_operators,
    cut_drag,
    handles,
    panels,
    overlay,
)
"""Each has `register` and `unregister`; in the order in which they need each other."""

_commands: list[object] = []
"""Handle of the registered command, needed to take it back."""


def register() -> None:
    """Make the modules, the operator, its menu entry and the command known."""
    for module in _MODULES:
        module.register()
    bpy.utils.register_class(BOREWRIGHT_OT_split)
    bpy.types.VIEW3D_MT_object.append(draw_menu_entry)
    _commands.append(bpy.utils.register_cli_command("borewright", main))


def unregister() -> None:
    """Take back all of it, in reverse order; work that goes on is ended first."""
    modal_work.stop_running()
    bpy.utils.unregister_cli_command(_commands.pop())
    bpy.types.VIEW3D_MT_object.remove(draw_menu_entry)
    bpy.utils.unregister_class(BOREWRIGHT_OT_split)
    for module in reversed(_MODULES):
        module.unregister()
