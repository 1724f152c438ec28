"""Plans that follow the settings: made anew shortly after a change of them.

A person sees it happen; in the background nothing is planned that is not asked for.
"""

from __future__ import annotations

import bpy

from ...core.errors import CoreError
from ..properties import groups
from ..properties.panel_settings import scene_of, settings_for
from ..work.modal_work import redraw_viewports, running_stage
from .cut_lists import PartInScene, plan_again
from .found import Found, found_of, look_again, needs_survey

DELAY_S = 0.1
"""From the first of some changes to the new plan."""


def schedule() -> None:
    """Plan anew, soon."""
    if not bpy.app.background and not bpy.app.timers.is_registered(_replan_shown):
        bpy.app.timers.register(_replan_shown, first_interval=DELAY_S)


def is_current(context: bpy.types.Context, source: bpy.types.Object, found: Found) -> bool:
    """Whether what was found of an object holds for it as it is now.

    Raises
    ------
    CoreError : its settings contradict each other
    """
    look_again(context, source, found)
    return not needs_survey(found, settings_for(scene_of(context), source), scene_of(context))


def _replan_shown() -> float | None:
    """All that was surveyed and is in a window's scene. Blender calls it, as a timer."""
    if running_stage() is not None:
        return DELAY_S
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            for source in window.view_layer.objects:
                found = found_of(source) if source.type == "MESH" else None
                if found is not None and source.mode == "OBJECT":
                    _replan(bpy.context, source, found)
    redraw_viewports()
    return None


def _replan(context: bpy.types.Context, source: bpy.types.Object, found: Found) -> None:
    try:
        if not is_current(context, source, found):
            return
    except CoreError:
        pass  # it becomes the plan's problem
    plan_again(PartInScene(scene_of(context), source, found))


def register() -> None:
    """Have changes of settings told."""
    groups.on_change.append(schedule)


def unregister() -> None:
    """Plan nothing any more."""
    groups.on_change.remove(schedule)
    if bpy.app.timers.is_registered(_replan_shown):
        bpy.app.timers.unregister(_replan_shown)
