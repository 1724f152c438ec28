"""The stages of the main job, each callable alone: mend, know, plan, build and prove."""

from __future__ import annotations

from collections.abc import Callable
from copy import copy
from dataclasses import dataclass, replace
from functools import partial

from .errors import CoreError
from .jointing.pose import lean_on_bed
from .jointing.split import build_pieces, check_buildable
from .meshes.in_blocks import Beside
from .meshes.mend import MendedBody, mend_bodies
from .planning.lean_plan import plan_leaning, plan_upright
from .planning.plan_survey import PlanSurvey, survey_plans
from .proving.prove import check_proofs, prove_pieces
from .surveying.early_survey import survey_early
from .surveying.survey import survey_part
from .truing.true_up import as_trued, true_up, truing_remarks
from .values import Mesh, Outcome, Settings, Survey, TruedPart

Progress = Callable[[str], None]
SettingsOf = Callable[[str], Settings]


@dataclass(frozen=True, slots=True, eq=False)
class SoundPart:
    """A part whose mesh is sound.

    survey : where that was made while the mesh was checked; or why there is none
    """

    name: str
    body: MendedBody
    survey: Survey | CoreError | None


@dataclass(frozen=True, slots=True, eq=False)
class KnownPart:
    """A part as it was found and as it was trued: what its plan goes by.

    survey : of the part as it was found
    exact : the same with the surfaces as they were trued
    """

    name: str
    body: MendedBody
    survey: Survey
    trued: TruedPart
    exact: Survey


def mend_parts(
    mesh: Mesh, name: str, settings_of: SettingsOf, scale_to_mm: float
) -> tuple[SoundPart, ...]:
    """The parts in a mesh, each sound, the largest first.

    A mesh that proves sound as it is has been surveyed by then, in another thread; of
    any other mesh that survey is forgotten. It is one body then, and a part of the
    mesh's own name.

    Parameters
    ----------
    mesh : in the file's units; each large body in it is a part
    name, settings_of, scale_to_mm : as in `plan_parts`

    Raises
    ------
    BadMesh : it cannot be mended
    """
    mesh = _in_mm(mesh, scale_to_mm)
    settings = settings_of(name)
    surveying = partial(survey_early, mesh, max_move=settings.max_move, flip=settings.flip)
    with Beside(surveying) as early:
        bodies = mend_bodies(mesh)
        same = len(bodies) == 1 and (
            bodies[0].mesh.vertices is mesh.vertices and bodies[0].mesh.triangles is mesh.triangles
        )
        survey = early.result() if same else None
    names = part_names(name, len(bodies))
    return tuple(SoundPart(part, body, survey) for part, body in zip(names, bodies, strict=True))


def _in_mm(mesh: Mesh, scale_to_mm: float) -> Mesh:
    """The same mesh, not a copy, where it is in mm already."""
    return mesh if scale_to_mm == 1.0 else Mesh(mesh.vertices * scale_to_mm, mesh.triangles)


def part_names(name: str, count: int) -> tuple[str, ...]:
    """Names of the parts in one file: NAME alone, else NAME-a to NAME-z, NAME-aa, NAME-ab ..."""
    return (name,) if count == 1 else tuple(f"{name}-{_letters(k)}" for k in range(count))


def _letters(number: int) -> str:
    """As the columns of a table are lettered: 0 is a, 25 is z, 26 is aa."""
    before, last = divmod(number, 26)
    return (_letters(before - 1) if before else "") + chr(ord("a") + last)


def know_part(part: SoundPart, settings: Settings, progress: Progress) -> KnownPart:
    """Survey a part and true it up.

    Raises
    ------
    NotTubular : its shape is not understood
    CoreError : it cannot be trued as asked
    """
    progress("survey")
    survey = part.survey
    if isinstance(survey, CoreError):
        raise copy(survey)
    if survey is None:
        survey = survey_part(part.body, max_move=settings.max_move, flip=settings.flip)
    progress("true up")
    trued = true_up(survey, settings)
    return KnownPart(part.name, part.body, survey, trued, as_trued(survey, settings))


def plan_known(part: KnownPart, settings: Settings) -> Outcome:
    """Where to cut a part, and its joints; nothing is built.

    Raises
    ------
    CoreError : the part or the settings do not allow it
    """
    survey, trued, exact = part.survey, part.trued, part.exact
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
    own = tuple(said for said in dict.fromkeys(remarks) if said not in part.body.remarks)
    return Outcome(part.name, survey, trued, plan, warnings=own)


def survey_planned(planned: Outcome, settings: Settings) -> PlanSurvey:
    """Where seams may lie on a part that is planned, why not elsewhere, and the best plans."""
    exact = as_trued(planned.survey, settings)
    return survey_plans(exact, replace(settings, envelope=settings.room), planned.plan)


def build_known(
    part: KnownPart, planned: Outcome, settings: Settings, progress: Progress
) -> Outcome:
    """The pieces of a plan, proven.

    Raises
    ------
    ProofFailed : a finished piece breaks a promise
    """
    trued, plan = part.trued, planned.plan
    progress("build")
    if plan.lean is None:
        pieces = build_pieces(part.exact, trued, plan, settings, part.name)
    else:
        name, frame = f"{part.name}-01", part.exact.frame
        pieces = (lean_on_bed(name, trued.mesh, frame, settings, plan.lean),)
    progress("prove")
    checks = prove_pieces(part.exact, trued, plan, pieces, settings)
    check_proofs(checks)
    return replace(planned, pieces=pieces, checks=checks)


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
        "between their corners; truing made that good, which --max-move does not limit."
    )
    return (told,)
