"""The main job on one part, stage by stage: survey, true up, plan, build, prove."""

from __future__ import annotations

from collections.abc import Callable

from .jointing.split import build_pieces
from .planning.cut_plan import plan_cuts
from .proving.prove import check_proofs, prove_pieces
from .surveying.survey import survey_part
from .truing.true_up import as_trued, true_up
from .values import Mesh, Outcome, Plan, Settings, Survey, TruedPart


def plan_part(
    mesh: Mesh, settings: Settings, scale_to_mm: float, progress: Callable[[str], None]
) -> tuple[Survey, TruedPart, Plan]:
    """Survey, true up and plan, without building anything.

    Parameters
    ----------
    mesh : as imported, in the file's units
    scale_to_mm : how many mm one unit of the file is
    progress : told the name of each stage as it starts

    Raises
    ------
    CoreError : in one of its kinds, when the part or the settings do not allow it
    """
    progress("survey")
    in_mm = Mesh(mesh.vertices * scale_to_mm, mesh.triangles)
    survey = survey_part(in_mm, max_move=settings.max_move, flip=settings.flip)
    progress("true up")
    trued = true_up(survey, settings)
    survey = as_trued(survey, settings)
    progress("plan")
    return survey, trued, plan_cuts(survey, settings)


def run_part(
    mesh: Mesh,
    name: str,
    settings: Settings,
    scale_to_mm: float,
    progress: Callable[[str], None],
) -> Outcome:
    """The whole job: proven pieces, or a refusal.

    Parameters
    ----------
    mesh, scale_to_mm, progress : as in `plan_part`
    name : of the part; pieces are numbered after it

    Raises
    ------
    CoreError : in one of its kinds; `ProofFailed` where a finished piece breaks a promise
    """
    survey, trued, plan = plan_part(mesh, settings, scale_to_mm, progress)
    progress("build")
    pieces = build_pieces(survey, trued, plan, settings, name)
    progress("prove")
    checks = prove_pieces(survey, trued, plan, pieces, settings)
    check_proofs(checks)
    return Outcome(survey, trued, plan, pieces, checks, (*survey.remarks, *plan.remarks))
