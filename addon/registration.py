"""What Blender is told of: each module's classes and handlers, and the command."""

from __future__ import annotations

import bpy

from . import operators, overlay, panels
from .command_line.command import main
from .cuts import cut_drag, cut_operators, handles
from .operators import printer_operators
from .pieces import piece_data, piece_objects
from .properties import groups, preferences
from .surveys import replanning, watching

_MODULES = (
    groups,
    preferences,
    watching,
    replanning,
    piece_data,
    piece_objects,
    operators,
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
    """Make the modules and the command known."""
    for module in _MODULES:
        module.register()
    _commands.append(bpy.utils.register_cli_command("borewright", main))


def unregister() -> None:
    """Take back all of it, in reverse order."""
    bpy.utils.unregister_cli_command(_commands.pop())
    for module in reversed(_MODULES):
        module.unregister()
