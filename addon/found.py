"""What was found of the scene's parts, and what is planned for them.

It is kept in memory only, for it follows from the meshes: a file that is loaded, or
Blender started anew, has none of it. It is stale once the object's mesh or place changes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import bpy

from ..core.errors import CoreError, NotTubular
from ..core.passing_on import pass_on
from ..core.stages import KnownPart, Progress, SettingsOf, know_part, mend_parts, plan_known
from ..core.values import Outcome, PassedOn, Settings
from .convert import ObjectPart

SettingsOfBody = Callable[[int], Settings]


@dataclass(slots=True, eq=False)
class FoundPart:
    """One body of an object.

    known : what was found of it; passed on where its shape is not understood
    planned : where it would be cut; None: it cannot be, and `problem` says why
    settings : that plan or problem went by; None: it was not planned yet
    """

    name: str
    known: KnownPart | PassedOn
    planned: Outcome | PassedOn | None = None
    problem: CoreError | None = None
    settings: Settings | None = None


@dataclass(slots=True, eq=False)
class Found:
    """All of one object.

    asked : the settings that survey and truing went by
    remarks : what was mended, and which unit was taken
    built : what came of it when the pieces were built last
    version : another one after each change, for what is drawn
    """

    source: ObjectPart
    asked: Settings
    parts: tuple[FoundPart, ...]
    remarks: tuple[str, ...] = ()
    built: tuple[Outcome | PassedOn, ...] | None = None
    stale: bool = False
    version: int = field(default=0)


_kept: dict[int, Found] = {}
"""By the `session_uid` of the object."""


def found_of(source: bpy.types.Object) -> Found | None:
    """What was found of an object, if it was surveyed."""
    return _kept.get(source.session_uid)


def keep(source: bpy.types.Object, found: Found) -> None:
    """Keep what was found of an object."""
    _kept[source.session_uid] = found


def forget_all() -> None:
    """Forget everything."""
    _kept.clear()


def survey_source(source: ObjectPart, name: str, settings: Settings, progress: Progress) -> Found:
    """Mend, survey and true up every body of an object. It touches nothing of Blender's.

    Raises
    ------
    CoreError : the mesh cannot be mended, or a part neither be understood nor passed on
    """
    progress("mend")
    settings_of: SettingsOf = lambda _name: settings  # noqa: E731 - one for all bodies
    sound = mend_parts(source.mesh, name, settings_of, source.scale_to_mm)
    parts = []
    for part in sound:
        known: KnownPart | PassedOn
        try:
            known = know_part(part, settings, progress)
        except NotTubular as refusal:
            known = pass_on(part.body, part.name, settings, refusal, proven=False)
        parts.append(FoundPart(part.name, known))
    mended = dict.fromkeys(said for part in sound for said in part.body.remarks)
    remarks = tuple(filter(None, (source.remark, *mended)))
    return Found(source, settings, tuple(parts), remarks)


def plan_found(found: Found, settings_of: SettingsOfBody) -> None:
    """Plan every body anew; what cannot be planned has its problem told."""
    for number, part in enumerate(found.parts):
        part.planned, part.problem, part.settings = None, None, None
        if isinstance(part.known, PassedOn):
            part.planned = part.known
            continue
        try:
            part.settings = settings_of(number)
            part.planned = plan_known(part.known, part.settings)
        except CoreError as problem:
            part.problem = problem
    found.version += 1


def needs_survey(found: Found, settings: Settings) -> bool:
    """Whether what was found does not hold with these settings any more."""
    return found.stale or _surveyed_with(found.asked) != _surveyed_with(settings)


def _surveyed_with(settings: Settings) -> tuple[object, ...]:
    return settings.max_move, settings.flip, settings.true, settings.bore


@bpy.app.handlers.persistent  # type: ignore[untyped-decorator] # the stub has no types for it
def _note_changes(_scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """What was found of an object holds no more once its mesh or place changes."""
    if not _kept:
        return
    for update in depsgraph.updates:
        if not (update.is_updated_geometry or update.is_updated_transform):
            continue
        changed = update.id.original
        if isinstance(changed, bpy.types.Object) and changed.session_uid in _kept:
            _kept[changed.session_uid].stale = True


@bpy.app.handlers.persistent  # type: ignore[untyped-decorator] # the stub has no types for it
def _forget_on_load(*_arguments: object) -> None:
    forget_all()


def register() -> None:
    """Have Blender tell of changes."""
    bpy.app.handlers.depsgraph_update_post.append(_note_changes)
    bpy.app.handlers.load_pre.append(_forget_on_load)


def unregister() -> None:
    """Take that back, and forget everything."""
    bpy.app.handlers.load_pre.remove(_forget_on_load)
    bpy.app.handlers.depsgraph_update_post.remove(_note_changes)
    forget_all()
