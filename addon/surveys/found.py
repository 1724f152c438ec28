"""What was found of the scene's parts, and what is planned for them.

It is kept in memory only, for it follows from the meshes: a file that is loaded, or
Blender started anew, has none of it. An object's own property tells which survey of it is
the one that counts, so that undo and redo go from one to the other.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import count

import bpy

from ...core.errors import CoreError, NotTubular
from ...core.job import named_among, naming_among, with_mending_told
from ...core.meshes.mend import MendedBody
from ...core.passing_on import pass_on
from ...core.showing.drawn_part import PartView, view_part
from ...core.stages import (
    KnownPart,
    Progress,
    SettingsOf,
    SoundPart,
    build_known,
    know_part,
    mend_parts,
    plan_known,
)
from ...core.values import Outcome, PassedOn, Settings
from ..meshes.convert import ObjectPart, read_as, read_object
from ..properties.panel_settings import job_properties, part_properties

SettingsOfBody = Callable[[int], Settings]

_versions = count(1)


@dataclass(frozen=True, slots=True, eq=False)
class Planning:
    """What came of planning a body.

    planned : where it would be cut; None: it cannot be, and `problem` says why
    settings : that plan or problem went by; None: they contradict each other
    view : what is drawn of both; None of a part whose shape is not understood
    """

    planned: Outcome | PassedOn | None = None
    problem: CoreError | None = None
    settings: Settings | None = None
    view: PartView | None = None


@dataclass(slots=True, eq=False)
class FoundPart:
    """One body of an object.

    known : what was found of it, or why its shape is not understood
    """

    name: str
    body: MendedBody
    known: KnownPart | NotTubular
    planning: Planning = field(default_factory=Planning)

    @property
    def planned(self) -> Outcome | PassedOn | None:
        """Where it would be cut; None: it cannot be, and `problem` says why."""
        return self.planning.planned

    @property
    def problem(self) -> CoreError | None:
        """Why it cannot be planned."""
        return self.planning.problem

    @property
    def settings(self) -> Settings | None:
        """What plan or problem went by; None: it was not planned, or they are at fault."""
        return self.planning.settings

    @property
    def view(self) -> PartView | None:
        """What is drawn of it."""
        return self.planning.view


@dataclass(slots=True, eq=False)
class Found:
    """All of one object.

    asked : the settings that survey and truing went by
    remarks : what was mended, and which unit was taken
    built : what came of it when the pieces were built last
    stale : the object's mesh or place has changed since
    suspect : it may have, and has to be looked at
    read_s, survey_s : seconds that it took to read the object, and to survey it
    token : tells this survey of the object from others
    version : another one after each change of any, for what is drawn
    """

    source: ObjectPart
    asked: Settings
    parts: tuple[FoundPart, ...]
    remarks: tuple[str, ...] = ()
    built: tuple[Outcome | PassedOn, ...] | None = None
    stale: bool = False
    suspect: bool = False
    read_s: float = 0.0
    survey_s: float = 0.0
    token: int = field(default_factory=lambda: secrets.randbits(30) + 1)
    version: int = field(default_factory=lambda: next(_versions))


@dataclass(frozen=True, slots=True, eq=False)
class Refused:
    """Why nothing could be found of an object.

    scale_to_mm : of the scene's units; None: it was refused for its size
    """

    problem: CoreError
    scale_to_mm: float | None


_kept: dict[int, Found] = {}
"""By the `session_uid` of the object."""

_refused: dict[int, Refused] = {}
"""The same, of those whose last survey came to nothing."""


def found_of(source: bpy.types.Object) -> Found | None:
    """What was found of an object, if it was surveyed."""
    found = _kept.get(source.session_uid)
    if found is None or part_properties(source).surveyed != found.token:
        return None
    return found


def refusal_of(source: bpy.types.Object) -> Refused | None:
    """Why the last survey of an object came to nothing, if so."""
    return _refused.get(source.session_uid)


def keep(source: bpy.types.Object, found: Found) -> None:
    """Keep what was found of an object."""
    _kept[source.session_uid] = found
    _refused.pop(source.session_uid, None)
    part_properties(source).surveyed = found.token


def keep_refusal(source: bpy.types.Object, refused: Refused) -> None:
    """Nothing is found of an object any more, and why."""
    _kept.pop(source.session_uid, None)
    _refused[source.session_uid] = refused


def kept_objects() -> set[int]:
    """The `session_uid` of each object that something is kept of."""
    return set(_kept)


def suspect(session_uid: int) -> bool:
    """The mesh or place of an object may have changed. Whether anything is kept of it."""
    if session_uid in _kept:
        _kept[session_uid].suspect = True
    return session_uid in _kept


def look_again(context: bpy.types.Context, source: bpy.types.Object, found: Found) -> None:
    """Settle whether an object that may have changed is what was surveyed."""
    if not found.suspect:
        return
    try:
        found.stale = not read_object(context, source).same(found.source.reading)
    except CoreError:
        found.stale = True
    found.suspect = False


def note_change(found: Found) -> None:
    """What is drawn of it has to be drawn anew."""
    found.version = next(_versions)


def forget_all() -> None:
    """Forget everything."""
    _kept.clear()
    _refused.clear()


def survey_source(source: ObjectPart, name: str, settings: Settings, progress: Progress) -> Found:
    """Mend, survey and true up every body of an object. It touches nothing of Blender's.

    Raises
    ------
    CoreError : the mesh cannot be mended, or a part not be trued as asked
    """
    progress("mend")
    settings_of: SettingsOf = lambda _name: settings  # noqa: E731 - one for all bodies
    sound = mend_parts(source.mesh, name, settings_of, source.scale_to_mm)
    parts = []
    for part in sound:
        with named_among(part.name, sound):
            parts.append(_found_part(part, settings, naming_among(progress, part.name, sound)))
    mended = dict.fromkeys(said for part in sound for said in part.body.remarks)
    remarks = tuple(filter(None, (source.remark, *mended)))
    return Found(source, settings, tuple(parts), remarks)


def _found_part(part: SoundPart, settings: Settings, progress: Progress) -> FoundPart:
    known: KnownPart | NotTubular
    try:
        known = know_part(part, settings, progress)
    except NotTubular as refusal:
        known = refusal
    return FoundPart(part.name, part.body, known)


def plan_found(found: Found, settings_of: SettingsOfBody) -> None:
    """Plan every body whose settings have changed; what cannot be planned has its problem told."""
    take_plans(found, plans_of(found, settings_of))


def plans_of(found: Found, settings_of: SettingsOfBody) -> tuple[Planning, ...]:
    """The same, one a body, and nothing is changed. It touches nothing of Blender's."""
    return tuple(
        _planning(part, number, settings_of, found.asked) for number, part in enumerate(found.parts)
    )


def take_plans(found: Found, plans: Sequence[Planning]) -> None:
    """What was planned of each body is what holds of it from now on."""
    for part, planning in zip(found.parts, plans, strict=True):
        if planning is not part.planning:
            part.planning = planning
            note_change(found)


def with_plans(found: Found, plans: Sequence[Planning]) -> Found:
    """The same survey with other plans, beside the one that is kept."""
    parts = zip(found.parts, plans, strict=True)
    return replace(found, parts=tuple(replace(part, planning=plan) for part, plan in parts))


def _planning(
    part: FoundPart, number: int, settings_of: SettingsOfBody, asked: Settings
) -> Planning:
    """A plan with the settings as they are; asked : what is drawn goes by, if they are at fault."""
    settings = None
    try:
        settings = settings_of(number)
        if settings == part.settings:
            return part.planning
        planned = _planned(part, settings)
    except CoreError as problem:
        return Planning(None, problem, settings, _view(part, None, settings or asked))
    return Planning(planned, None, settings, _view(part, planned, settings))


def _planned(part: FoundPart, settings: Settings) -> Outcome | PassedOn:
    if isinstance(part.known, NotTubular):
        return pass_on(part.body, part.name, settings, part.known, proven=False)
    return plan_known(part.known, settings)


def _view(
    part: FoundPart, planned: Outcome | PassedOn | None, settings: Settings
) -> PartView | None:
    if isinstance(part.known, NotTubular):
        return None
    plan = planned.plan if isinstance(planned, Outcome) else None
    return view_part(part.known, plan, settings)


def build_found(found: Found, progress: Progress) -> tuple[Outcome | PassedOn, ...]:
    """The pieces of what is planned, proven. It touches nothing of Blender's.

    Raises
    ------
    CoreError : a body could not be planned
    ProofFailed : a finished piece breaks a promise
    """
    built: list[Outcome | PassedOn] = []
    for part in found.parts:
        with named_among(part.name, found.parts):
            built.append(_built(part, naming_among(progress, part.name, found.parts)))
    return with_mending_told([part.body for part in found.parts], built)


def _built(part: FoundPart, progress: Progress) -> Outcome | PassedOn:
    if part.problem is not None:
        raise part.problem
    assert part.settings is not None
    if isinstance(part.known, NotTubular):
        progress("prove")
        return pass_on(part.body, part.name, part.settings, part.known, proven=True)
    assert isinstance(part.planned, Outcome)
    return build_known(part.known, part.planned, part.settings, progress)


def needs_survey(found: Found, settings: Settings, scene: bpy.types.Scene) -> bool:
    """Whether what was found does not hold with these settings, in this scene, any more."""
    return (
        found.stale
        or found.source.read_as != read_as(scene, job_properties(scene).unit)
        or _surveyed_with(found.asked) != _surveyed_with(settings)
    )


def _surveyed_with(settings: Settings) -> tuple[object, ...]:
    return settings.max_move, settings.flip, settings.true, settings.bore
