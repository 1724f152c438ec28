"""The main job, stage by stage: mend, then for each part survey, true up, plan, build, prove."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace

from .errors import CoreError, NotTubular
from .jointing.pose import lean_on_bed
from .jointing.split import build_pieces, check_buildable
from .meshes.mend import MendedBody, mend_bodies
from .passing_on import pass_on
from .planning.lean_plan import plan_leaning, plan_upright
from .proving.prove import check_proofs, prove_pieces
from .surveying.early_survey import survey_early
from .surveying.survey import survey_part
from .truing.true_up import as_trued, true_up, truing_remarks
from .values import Mesh, Outcome, PassedOn, Settings, Survey, TruedPart

Progress = Callable[[str], None]
SettingsOf = Callable[[str], Settings]


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
    return _each_part(mesh, name, settings_of, scale_to_mm, progress, _plan_body)


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
    return _each_part(mesh, name, settings_of, scale_to_mm, progress, _split_body)


def part_names(name: str, count: int) -> tuple[str, ...]:
    """Names of the parts in one file: NAME alone, else NAME-a to NAME-z, NAME-aa, NAME-ab ..."""
    return (name,) if count == 1 else tuple(f"{name}-{_letters(k)}" for k in range(count))


def _letters(number: int) -> str:
    """As the columns of a table are lettered: 0 is a, 25 is z, 26 is aa."""
    before, last = divmod(number, 26)
    return (_letters(before - 1) if before else "") + chr(ord("a") + last)


def _each_part(
    mesh: Mesh,
    name: str,
    settings_of: SettingsOf,
    scale_to_mm: float,
    progress: Progress,
    do_body: Callable[[_Sound, str, Settings, Progress], Outcome | PassedOn],
) -> tuple[Outcome | PassedOn, ...]:
    progress("mend")
    bodies = _mended(_in_mm(mesh, scale_to_mm), settings_of(name))
    if len(bodies) == 1:
        done = do_body(bodies[0], name, settings_of(name), progress)
        return (replace(done, warnings=(*bodies[0].body.remarks, *done.warnings)),)
    outcomes: list[Outcome | PassedOn] = []
    for body, part in zip(bodies, part_names(name, len(bodies)), strict=True):
        with named_part(part):
            done = do_body(body, part, settings_of(part), naming(progress, part))
        mended, own = body.body.remarks, done.warnings
        if outcomes:  # what the whole file needed is told with its first body
            mended, own = (), (*mended, *own)
        warnings = (*mended, *(f"{part}: {warning}" for warning in own))
        outcomes.append(replace(done, warnings=warnings))
    return tuple(outcomes)


@dataclass(frozen=True, slots=True, eq=False)
class _Sound:
    """A sound body, and its survey where that was made while it was checked."""

    body: MendedBody
    survey: Survey | None


def _mended(mesh: Mesh, settings: Settings) -> list[_Sound]:
    """The sound bodies of a mesh.

    A mesh that proves sound as it is has been surveyed by then, in another thread; of
    any other mesh that survey is forgotten. It is one body then, and a part of the file's
    own name.

    settings : of that part
    """
    with ThreadPoolExecutor(1) as beside:
        early = beside.submit(survey_early, mesh, max_move=settings.max_move, flip=settings.flip)
        bodies = mend_bodies(mesh)
    same = len(bodies) == 1 and (
        bodies[0].mesh.vertices is mesh.vertices and bodies[0].mesh.triangles is mesh.triangles
    )
    return [_Sound(body, early.result() if same else None) for body in bodies]


def _in_mm(mesh: Mesh, scale_to_mm: float) -> Mesh:
    """The same mesh, not a copy, where it is in mm already."""
    return mesh if scale_to_mm == 1.0 else Mesh(mesh.vertices * scale_to_mm, mesh.triangles)


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


def _plan_body(
    sound: _Sound, name: str, settings: Settings, progress: Progress
) -> Outcome | PassedOn:
    try:
        survey = _surveyed(sound, settings, progress)
    except NotTubular as refusal:
        return pass_on(sound.body, name, settings, refusal, proven=False)
    return _planned(sound, survey, name, settings, progress)[0]


def _surveyed(sound: _Sound, settings: Settings, progress: Progress) -> Survey:
    progress("survey")
    if sound.survey is not None:
        return sound.survey
    return survey_part(sound.body, max_move=settings.max_move, flip=settings.flip)


def _planned(
    sound: _Sound, survey: Survey, name: str, settings: Settings, progress: Progress
) -> tuple[Outcome, Survey]:
    """The plan with the survey of the part as it was found, and the survey as it was trued."""
    progress("true up")
    trued = true_up(survey, settings)
    exact = as_trued(survey, settings)
    progress("plan")
    make_plan = plan_leaning if settings.lean else plan_upright
    plan = make_plan(exact, trued.mesh, replace(settings, envelope=settings.room))
    check_buildable(trued, plan, settings)
    remarks = (
        *survey.remarks,
        *_bore_remarks(survey, exact),
        *truing_remarks(survey, settings),
        *_chord_remarks(trued, settings),
        *plan.remarks,
    )
    own = tuple(said for said in dict.fromkeys(remarks) if said not in sound.body.remarks)
    return Outcome(name, survey, trued, plan, warnings=own), exact


def _bore_remarks(survey: Survey, exact: Survey) -> tuple[str, ...]:
    """Which bores were brought to another diameter than the one found."""
    return tuple(
        f"Bore {number} was found {2.0 * found.radius_at_zero:.3f} mm wide and brought to "
        f"{2.0 * made.radius_at_zero:.3f} mm."
        for number, (found, made) in enumerate(zip(survey.bores, exact.bores, strict=True), 1)
        if made.radius_at_zero != found.radius_at_zero
    )


def _chord_remarks(trued: TruedPart, settings: Settings) -> tuple[str, ...]:
    if trued.greatest_chord <= settings.max_move:
        return ()
    told = (
        f"Facets of the source lie up to {trued.greatest_chord:.3f} mm off the true surfaces "
        "between their corners; truing made that good, which max-move does not limit."
    )
    return (told,)


def _split_body(
    sound: _Sound, name: str, settings: Settings, progress: Progress
) -> Outcome | PassedOn:
    try:
        survey = _surveyed(sound, settings, progress)
    except NotTubular as refusal:
        progress("prove")
        return pass_on(sound.body, name, settings, refusal, proven=True)
    planned, exact = _planned(sound, survey, name, settings, progress)
    trued, plan = planned.trued, planned.plan
    progress("build")
    if plan.lean is None:
        pieces = build_pieces(exact, trued, plan, settings, name)
    else:
        leaning = lean_on_bed(f"{name}-01", trued.mesh, exact.frame, settings, plan.lean)
        pieces = (leaning,)
    progress("prove")
    checks = prove_pieces(exact, trued, plan, pieces, settings)
    check_proofs(checks)
    return replace(planned, pieces=pieces, checks=checks)
