"""What Blender is told of: classes, then what hangs on them, and the command."""

from __future__ import annotations

import bpy

from . import operators, overlay, panels
from .command_line.command import main
from .cuts import cut_drag, cut_operators, handles, wish_operators
from .operators import menu
from .pieces import piece_data, piece_objects
from .properties import groups, preferences
from .surveys import replanning, watching
from .words.told import CONTEXT
from .work import modal_work

_CLASSES = (
    *groups.CLASSES,
    *preferences.CLASSES,
    *piece_data.CLASSES,
    *operators.CLASSES,
    *cut_operators.CLASSES,
    *wish_operators.CLASSES,
    *cut_drag.CLASSES,
    *handles.CLASSES,
    *panels.CLASSES,
)
"""In the order in which they need each other."""

_LABELLED = (bpy.types.Operator, bpy.types.Panel, bpy.types.Menu)
"""Kinds of classes that have a label."""

_HOOKED = (
    groups,
    piece_data,
    watching,
    replanning,
    piece_objects,
    menu,
    cut_operators,
    handles,
    overlay,
)
"""Each has `register` and `unregister`, for all that is not a class; in the same order."""

_ENDINGS = (modal_work.stop_running, cut_drag.let_go)
"""What ends that may be going on when the extension is disabled."""

_commands: list[object] = []
"""Handle of the registered command, needed to take it back."""


def register() -> None:
    """Make all of it known."""
    for one in _CLASSES:
        if issubclass(one, _LABELLED):
            one.bl_translation_context = CONTEXT
        bpy.utils.register_class(one)  # type: ignore[arg-type] # the stub forgot gizmos
    for module in _HOOKED:
        module.register()
    _commands.append(bpy.utils.register_cli_command("borewright", main))


def unregister() -> None:
    """End what goes on, and take back all of it in reverse order."""
    for end in _ENDINGS:
        end()
    bpy.utils.unregister_cli_command(_commands.pop())
    for module in reversed(_HOOKED):
        module.unregister()
    for one in reversed(_CLASSES):
        bpy.utils.unregister_class(one)  # type: ignore[arg-type]
