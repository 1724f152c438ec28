"""Making the round surfaces and ends exact, and leaving all else as it is."""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import partial

import numpy as np

from ..errors import TruingRefused
from ..meshes.in_blocks import Beside
from ..values import BORE, ROUND_OFF, FloatArray, Settings, Survey, TruedPart
from .exact_survey import as_trued, check_walls
from .loop_kinds import Circle, Rim, find_circles, find_rims
from .moves import greatest_moves
from .rebuild import Rebuilt, rebuild
from .source import Source, take_apart
from .targets import Flat, Target, targets_of

__all__ = ["as_trued", "true_up", "truing_remarks"]


def true_up(survey: Survey, settings: Settings) -> TruedPart:
    """The part with its round surfaces, flat ends and round side holes exact.

    Surfaces are meshed anew between their loops. Where two of them meet, in a circle
    or in a side hole's rim, the loop is made anew as well. All else keeps its
    vertices; those on a surface's edge move radially onto it, keeping angle and station.

    Raises
    ------
    BadSetting : a bore is asked for that the other settings leave as it is
    TruingRefused : the exact surfaces would cross or leave no wall, a vertex would move
        too far, or they do not close with what is kept
    """
    exact = as_trued(survey, settings)
    targets = targets_of(exact, settings)
    before = len(survey.mesh.triangles)
    if settings.true == "none":
        none = tuple(np.empty(0) for _ in survey.bores)
        return TruedPart(survey.mesh, survey.labels, none, before, 0.0, 0.0, survey.numbers)
    check_walls(survey, exact)
    source = take_apart(exact, targets, settings)
    circles, flats = find_circles(source)
    making = partial(_first_that_closes, exact, source, circles, flats)
    with Beside(making) as other:  # many small steps there, few long ones here
        moves = greatest_moves(source, flats)
        _check_moves(moves.greatest, settings)
        made = other.result()
    return TruedPart(
        mesh=made.mesh,
        labels=made.labels,
        generators=_generators(exact, targets, made),
        triangles_before=before,
        max_move=moves.greatest,
        greatest_chord=moves.chord,
        numbers=made.numbers,
    )


def truing_remarks(survey: Survey, settings: Settings) -> tuple[str, ...]:
    """What was asked for and is not there to be made true."""
    if settings.true != "bore" or survey.bores:
        return ()
    return ("The part is solid: with --true bore nothing but its ends is made true.",)


def _check_moves(greatest: float, settings: Settings) -> None:
    if greatest > max(settings.max_move, ROUND_OFF):
        raise TruingRefused(
            f"a vertex that truing would move by {greatest:.3f} mm",
            f"at most {settings.max_move:.3f} mm",
            f"--max-move {math.ceil(greatest * 100.0) / 100.0:.2f}, or --true none",
        )


def _first_that_closes(
    survey: Survey, source: Source, circles: list[Circle], flats: tuple[Flat, ...]
) -> Rebuilt:
    """The mesh made anew in the quick way, else with care, else with side holes left alone."""
    refusal: TruingRefused | None = None
    for rims, careful in _ways(find_rims(source)):
        try:
            return rebuild(survey, source, circles, rims, flats, careful=careful)
        except TruingRefused as problem:
            refusal = refusal or problem
    assert refusal is not None
    raise refusal


def _ways(rims: list[Rim]) -> Iterator[tuple[list[Rim], bool]]:
    yield rims, False
    yield rims, True
    if rims:
        yield [], True


def _generators(
    survey: Survey, targets: tuple[Target, ...], made: Rebuilt
) -> tuple[FloatArray, ...]:
    """For each bore the lines along it; none where it was left as it was."""
    lines = {target.number: target.lines for target in targets if target.label == BORE}
    return tuple(
        made.lines[lines[number]].copy() if number in lines else np.empty(0)
        for number in range(len(survey.bores))
    )
