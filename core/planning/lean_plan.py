"""Parts that are too tall: planned upright, with a word on leaning, or leaning as asked."""

from __future__ import annotations

import contextlib
import math
from dataclasses import replace
from functools import lru_cache

import numpy as np

from ..errors import BadSetting, CoreError, NoPlan, TooWide, WallTooThin
from ..values import FIT_SLACK, Lean, Mesh, Plan, Settings, Survey
from .cut_plan import key_angle, plan_cuts
from .floor_fit import fits_floor, turn_to_fit
from .lean_words import lean_reasons
from .leaning import find_lean, leaning_rows, lowest_lean
from .rule_words import cutting_words

_MOST_TOLD = math.radians(45.0)
"""A part that has to lean by more is not worth a word: half of it would need supports."""

_LAST_PARTS = 8
"""As many as one job is likely to have, whose leans are kept, and their trued meshes with them."""


def plan_upright(survey: Survey, mesh: Mesh, settings: Settings) -> Plan:
    """The plan of `plan_cuts`; where it cuts, told whether the part would fit leaning.

    Parameters
    ----------
    mesh : of the part as it was trued, in the part frame
    settings : with the envelope that pieces of their own size may use

    Raises
    ------
    CoreError : as `plan_cuts`; its remedy tells of leaning where that would do
    """
    try:
        plan = plan_cuts(survey, settings)
    except (NoPlan, TooWide, WallTooThin) as problem:
        lean = None if cutting_words(settings) else _worth_telling(survey, mesh, settings)
        if lean is not None:
            problem.remedy += f"; or --lean: in 1 piece, leaning by {_degrees(lean)} degrees"
        raise
    if not plan.cuts or _fits_upright(mesh, settings):
        return plan
    lean = _worth_telling(survey, mesh, settings)
    if lean is None:
        return plan
    reasons = lean_reasons(survey, mesh, lean, leaning_rows(lean.tilt, lean.azimuth), settings)
    told = (
        f"Leaning by {_degrees(lean)} degrees it would fit in one piece (--lean). Upright is "
        f"better: {'; '.join(reasons)}. The price is {_joints(plan)}."
    )
    return replace(plan, remarks=(*plan.remarks, told))


def _fits_upright(mesh: Mesh, settings: Settings) -> bool:
    """In one piece; cut all the same where cuts or pieces are asked for."""
    floor, height = settings.envelope[:2], settings.envelope[2]
    high = float(np.ptp(mesh.vertices[:, 2]))
    return high <= height + FIT_SLACK and fits_floor(mesh.vertices[:, :2], floor)


def _joints(plan: Plan) -> str:
    each = " or ".join(dict.fromkeys(f"{joint.engagement:.2f}" for joint in plan.joints))
    count = len(plan.joints)
    return f"1 joint, engaged over {each} mm" if count == 1 else f"{count} joints, each {each} mm"


def _worth_telling(survey: Survey, mesh: Mesh, settings: Settings) -> Lean | None:
    return _told_lean(mesh, settings.envelope, _best_side(survey))


@lru_cache(maxsize=_LAST_PARTS)
def _told_lean(mesh: Mesh, room: tuple[float, float, float], side: float) -> Lean | None:
    """Kept for the next plan of the part: cuts and joints change nothing of it."""
    return find_lean(mesh, room, side, _MOST_TOLD)


def _degrees(lean: Lean) -> str:
    return f"{math.degrees(lean.tilt):.1f}"


def plan_leaning(survey: Survey, mesh: Mesh, settings: Settings) -> Plan:
    """The part as one piece: upright where it fits so, else leaning as little as will do.

    Parameters
    ----------
    mesh, settings : as in `plan_upright`

    Raises
    ------
    BadSetting : cuts or pieces are asked for as well
    NoPlan : it does not fit leaning
    TooWide : it does not fit the envelope's floor, leaning or not
    """
    asked = cutting_words(settings)
    if asked:
        raise BadSetting(
            f"--lean with {' and '.join(asked)}",
            "one piece that leans, or several that stand upright",
            f"--lean without {' and '.join(asked)}, or {' and '.join(asked)} without --lean",
        )
    if _fits_upright(mesh, settings):
        plan = plan_cuts(survey, settings)
        return replace(plan, remarks=(*plan.remarks, "It stands upright: it need not lean."))
    lean = find_lean(mesh, settings.envelope, _best_side(survey))
    if lean is None:
        raise _no_lean(survey, mesh, settings)
    rows = leaning_rows(lean.tilt, lean.azimuth)
    reasons = lean_reasons(survey, mesh, lean, rows, settings)
    leaning = float(np.ptp(mesh.vertices @ rows[2]))
    high, height = float(np.ptp(mesh.vertices[:, 2])), settings.envelope[2]
    told = (
        f"As asked it leans by {_degrees(lean)} degrees, in 1 piece: {high:.2f} mm long, it stands "
        f"{leaning:.2f} mm high so in an envelope {height:.2f} mm high."
    )
    better = f"Upright, in pieces, it would be better: {'; '.join(reasons)}."
    return Plan((), (), (told, better), lean)


def _best_side(survey: Survey) -> float:
    """The side to lie lowest: away from the side holes."""
    middle = sum(hole.station for hole in survey.side_holes) / max(1, len(survey.side_holes))
    return key_angle(survey.side_holes, middle)


def _no_lean(survey: Survey, mesh: Mesh, settings: Settings) -> CoreError:
    """How high it is at the lean that suits the floor best, and what to try."""
    floor, height = settings.envelope[:2], settings.envelope[2]
    lowest = lowest_lean(mesh, floor, _best_side(survey))
    if lowest is None:
        return _too_wide(mesh, floor)
    tilt, high = lowest
    return NoPlan(
        f"leaning by {math.degrees(tilt):.1f} degrees, the best on a floor of {floor[0]:g} x "
        f"{floor[1]:g} mm, the part is {high:.2f} mm high",
        f"at most {height:.2f} mm",
        f"{_upright_words(survey, settings)}an envelope {math.ceil(high * 100.0) / 100.0:.2f} mm "
        "high",
    )


def _too_wide(mesh: Mesh, floor: tuple[float, float]) -> TooWide:
    try:
        turn_to_fit(mesh.vertices[:, :2], floor)
    except TooWide as problem:
        return problem
    raise AssertionError("a part that fits its floor upright fits it at one lean")


def _upright_words(survey: Survey, settings: Settings) -> str:
    with contextlib.suppress(CoreError):
        count = len(plan_cuts(survey, settings).cuts) + 1
        return f"no --lean, for {count} pieces that stand upright; or "
    return ""
