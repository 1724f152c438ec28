"""What a survey needs of Blender, copied out of it, and the survey itself, beside it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter

import bpy

from ...core.errors import CoreError
from ...core.values import Settings
from ..meshes.convert import ObjectReading, part_read, read_as, read_object
from ..properties.panel_settings import job_properties, scene_of, settings_of_bodies
from ..work.worker import Progress
from .cut_lists import show_cuts
from .found import (
    Found,
    Refused,
    found_of,
    keep,
    plan_found,
    plans_of,
    survey_source,
    take_plans,
    with_plans,
)
from .replanning import is_current


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """One object as it was when a job began.

    reading, read_as : its triangles, and what says how large they are
    read_s : seconds that reading it took
    settings_of : of each of its bodies
    """

    session_uid: int
    name: str
    reading: ObjectReading
    read_as: tuple[str, float]
    read_s: float
    settings_of: Callable[[int], Settings]


def ask(context: bpy.types.Context, source: bpy.types.Object) -> Asked:
    """All that a survey of an object needs.

    Raises
    ------
    CoreError : its settings contradict each other
    """
    scene = scene_of(context)
    settings_of = settings_of_bodies(scene, source)
    began = perf_counter()
    reading = read_object(context, source)
    read_s = perf_counter() - began
    asked = read_as(scene, job_properties(scene).unit)
    return Asked(source.session_uid, source.name, reading, asked, read_s, settings_of)


def survey_and_plan(asked: Asked, progress: Progress) -> Found:
    """What is found of an object, and its plan. It touches nothing of Blender's.

    Raises
    ------
    CoreError : nothing can be found of it
    """
    came_to = try_survey(asked, progress)
    if isinstance(came_to, Refused):
        raise came_to.problem
    return came_to


def try_survey(asked: Asked, progress: Progress) -> Found | Refused:
    """The same, or why nothing can be found of it."""
    began = perf_counter()
    scale_to_mm = None
    try:
        part = part_read(asked.reading, asked.read_as)
        scale_to_mm = part.scale_to_mm
        found = survey_source(part, asked.name, asked.settings_of(0), progress)
    except CoreError as problem:
        return Refused(problem, scale_to_mm)
    found.read_s, found.survey_s = asked.read_s, perf_counter() - began
    progress("plan")
    plan_found(found, asked.settings_of)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """One object whose plan is wanted, to build something of it.

    plan : what was found of it; or what a new survey needs
    settings_of : of each of its bodies
    """

    session_uid: int
    name: str
    plan: Found | Asked
    settings_of: Callable[[int], Settings]

    def found(self, progress: Progress) -> Found:
        """What was found of it, planned. It touches nothing of Blender's.

        Raises
        ------
        CoreError : nothing can be found of it any more
        """
        if isinstance(self.plan, Asked):
            return survey_and_plan(self.plan, progress)
        progress("plan")
        return with_plans(self.plan, plans_of(self.plan, self.settings_of))


def keep_planned(source: bpy.types.Object, found: Found) -> Found:
    """Keep what was found of an object, or its plans where that survey is kept; list its cuts."""
    kept = as_kept(source, found)
    if kept is found:
        keep(source, found)
    take_plans(kept, [part.planning for part in found.parts])
    show_cuts(source, kept)
    return kept


def as_kept(source: bpy.types.Object, found: Found) -> Found:
    """What is kept of an object, if that is the same survey; else what was found."""
    kept = found_of(source)
    return kept if kept is not None and kept.token == found.token else found


def want(context: bpy.types.Context, source: bpy.types.Object) -> Wanted:
    """What the plan of an object that was surveyed needs, with the settings as they are.

    Raises
    ------
    CoreError : its settings contradict each other
    """
    known = found_of(source)
    assert known is not None
    if is_current(context, source, known):
        settings_of = settings_of_bodies(scene_of(context), source)
        return Wanted(source.session_uid, source.name, known, settings_of)
    asked = ask(context, source)
    return Wanted(source.session_uid, source.name, asked, asked.settings_of)
