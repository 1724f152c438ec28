"""The main job: mend, then for each part survey, true up, plan, build, prove."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import replace

from .errors import CoreError, NotTubular
from .meshes.mend import MendedBody
from .passing_on import pass_on
from .stages import (
    Progress,
    SettingsOf,
    SoundPart,
    build_known,
    know_part,
    mend_parts,
    plan_known,
)
from .values import Mesh, Outcome, PassedOn, Settings


def plan_parts(
    mesh: Mesh, name: str, settings_of: SettingsOf, scale_to_mm: float, progress: Progress
) -> tuple[Outcome | PassedOn, ...]:
    """Mend, survey, true up and plan, without building anything.

    A part whose shape is not understood is passed on as it is, if it fits the envelope.

    Parameters
    ----------
    mesh : as imported, in the file's units; each large body in it is a part
    name : of the part; several are NAME-a, NAME-b and so on, the largest first
    settings_of : what is asked for the part of a name
    scale_to_mm : how many mm one unit of the file is
    progress : told the name of each stage as it starts

    Raises
    ------
    CoreError : in one of its kinds, when the part or the settings do not allow it;
        with the part's name, where there are several
    """
    return _each_part(mesh, name, settings_of, scale_to_mm, progress, _plan)


def split_parts(
    mesh: Mesh, name: str, settings_of: SettingsOf, scale_to_mm: float, progress: Progress
) -> tuple[Outcome | PassedOn, ...]:
    """The whole job: proven pieces of every part, or a refusal.

    Parameters
    ----------
    mesh, name, settings_of, scale_to_mm, progress : as in `plan_parts`; pieces are
        numbered after the name of their part

    Raises
    ------
    CoreError : as in `plan_parts`; `ProofFailed` where a finished piece breaks a promise
    """
    return _each_part(mesh, name, settings_of, scale_to_mm, progress, _split)


def _each_part(
    mesh: Mesh,
    name: str,
    settings_of: SettingsOf,
    scale_to_mm: float,
    progress: Progress,
    do_part: Callable[[SoundPart, Settings, Progress], Outcome | PassedOn],
) -> tuple[Outcome | PassedOn, ...]:
    progress("mend")
    parts = mend_parts(mesh, name, settings_of, scale_to_mm)
    outcomes = []
    for part in parts:
        with named_among(part.name, parts):
            told = naming_among(progress, part.name, parts)
            outcomes.append(do_part(part, settings_of(part.name), told))
    return with_mending_told([part.body for part in parts], outcomes)


def with_mending_told(
    bodies: Sequence[MendedBody], outcomes: Sequence[Outcome | PassedOn]
) -> tuple[Outcome | PassedOn, ...]:
    """What the parts of one mesh came to, with what was mended among the warnings.

    Of several parts each warning tells which it is about; what the whole mesh needed is
    told with its first part.
    """
    if len(outcomes) == 1:
        (done,) = outcomes
        return (replace(done, warnings=(*bodies[0].remarks, *done.warnings)),)
    told = []
    for number, (body, done) in enumerate(zip(bodies, outcomes, strict=True)):
        mended, own = body.remarks, done.warnings
        if number:
            mended, own = (), (*mended, *own)
        warnings = (*mended, *(f"{done.name}: {warning}" for warning in own))
        told.append(replace(done, warnings=warnings))
    return tuple(told)


def naming(progress: Progress, part: str) -> Progress:
    """Progress that tells which of several parts it is about, once."""
    return lambda stage: progress(stage if f" {part}" in stage else f"{stage} {part}")


@contextmanager
def named_part(part: str) -> Iterator[None]:
    """Have a refusal tell which of several parts it is about, once."""
    try:
        yield
    except CoreError as problem:
        if not problem.found.startswith("in part "):
            problem.found = f"in part {part}: {problem.found}"
        raise


def naming_among(progress: Progress, name: str, parts: Sequence[object]) -> Progress:
    """Progress that tells which of the parts it is about, where there are several."""
    return progress if len(parts) == 1 else naming(progress, name)


def named_among(name: str, parts: Sequence[object]) -> AbstractContextManager[None]:
    """Have a refusal tell which of the parts it is about, where there are several."""
    return nullcontext() if len(parts) == 1 else named_part(name)


def _plan(part: SoundPart, settings: Settings, progress: Progress) -> Outcome | PassedOn:
    try:
        known = know_part(part, settings, progress)
    except NotTubular as refusal:
        return pass_on(part.body, part.name, settings, refusal, proven=False)
    progress("plan")
    return plan_known(known, settings)


def _split(part: SoundPart, settings: Settings, progress: Progress) -> Outcome | PassedOn:
    try:
        known = know_part(part, settings, progress)
    except NotTubular as refusal:
        progress("prove")
        return pass_on(part.body, part.name, settings, refusal, proven=True)
    progress("plan")
    return build_known(known, plan_known(known, settings), settings, progress)
