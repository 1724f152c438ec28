"""Plans that follow the settings: made anew shortly after a change of them.

A person sees it happen; in the background nothing is planned that is not asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import bpy

from ...core.errors import CoreError
from ...core.values import Settings
from ..properties import groups
from ..properties.panel_settings import scene_of, settings_for, settings_of_bodies
from ..work.modal_work import running_stage
from ..work.redrawing import redraw_viewports
from ..work.worker import Work
from .cut_lists import show_cuts
from .found import (
    Found,
    Planning,
    SettingsOfBody,
    found_of,
    look_again,
    needs_survey,
    plans_of,
    take_plans,
)
from .sources import source_by_uid

DELAY_S = 0.1
"""From the first of some changes until it is planned."""
LOOK_S = 0.02
"""Between two looks at a plan that is being made."""


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


@dataclass(frozen=True, slots=True, eq=False)
class _Job:
    """One object that is planned anew.

    before : how each of its bodies was planned
    """

    session_uid: int
    found: Found
    before: tuple[Planning, ...]
    settings_of: SettingsOfBody


_Jobs = tuple[tuple[_Job, tuple[Planning, ...]], ...]

_going_on: list[Work[_Jobs]] = []
"""One at a time."""


def _replan_shown() -> float | None:
    """All that was surveyed and is in a window's scene. Blender calls it, as a timer."""
    if running_stage() is not None or _going_on:
        return DELAY_S
    jobs: list[_Job] = []
    changed = False
    for window in bpy.context.window_manager.windows:
        with bpy.context.temp_override(window=window):
            for source in window.view_layer.objects:
                found = found_of(source) if source.type == "MESH" else None
                if found is not None and source.mode == "OBJECT":
                    changed |= _look_at(bpy.context, source, found, jobs)
    if changed:
        redraw_viewports()
    if jobs:
        _start(tuple(jobs))
    return None


def _look_at(
    context: bpy.types.Context, source: bpy.types.Object, found: Found, jobs: list[_Job]
) -> bool:
    """Whether anything is otherwise now; what has to be planned is added to the jobs."""
    was_stale = found.stale
    settings_of = _settings_of(context, source, found)
    listed = False
    if settings_of is not None and _is_planned(found, settings_of):
        listed = show_cuts(source, found)  # undo may have brought an earlier list
    elif settings_of is not None:
        before = tuple(part.planning for part in found.parts)
        jobs.append(_Job(source.session_uid, found, before, settings_of))
    return listed or found.stale != was_stale


def _settings_of(
    context: bpy.types.Context, source: bpy.types.Object, found: Found
) -> SettingsOfBody | None:
    """What an object is to be planned with; None: it has to be surveyed again first."""
    try:
        if not is_current(context, source, found):
            return None
        return settings_of_bodies(scene_of(context), source)
    except CoreError as problem:
        return _refusing(problem)


def _is_planned(found: Found, settings_of: SettingsOfBody) -> bool:
    try:
        return all(settings_of(body) == part.settings for body, part in enumerate(found.parts))
    except CoreError:
        return False


def _refusing(problem: CoreError) -> SettingsOfBody:
    """For settings that are at fault, which becomes the plan's problem."""

    def refuse(_body: int) -> Settings:
        raise problem

    return refuse


def _start(jobs: tuple[_Job, ...]) -> None:
    """Plan in a thread: where a part leans or is passed on its whole mesh is looked at."""
    work: Work[_Jobs] = Work(
        lambda _progress: tuple((job, plans_of(job.found, job.settings_of)) for job in jobs)
    )
    _going_on.append(work)
    work.start()
    bpy.app.timers.register(_take_over, first_interval=LOOK_S, persistent=True)


def _take_over() -> float | None:
    """List and show the plans that were made. Blender calls it, as a timer."""
    if not _going_on[0].done:
        return LOOK_S
    for job, plans in _going_on.pop().result():
        source = source_by_uid(job.session_uid)
        if source is None or found_of(source) is not job.found:
            continue
        if any(
            part.planning is not old for part, old in zip(job.found.parts, job.before, strict=True)
        ):
            schedule()  # an operator was quicker
            continue
        take_plans(job.found, plans)
        show_cuts(source, job.found)
    redraw_viewports()
    return None


def register() -> None:
    """Have changes of settings told."""
    groups.on_change.append(schedule)


def unregister() -> None:
    """Plan nothing any more."""
    groups.on_change.remove(schedule)
    for timer in (_replan_shown, _take_over):
        if bpy.app.timers.is_registered(timer):
            bpy.app.timers.unregister(timer)
    for work in _going_on:
        work.wait()
    _going_on.clear()
