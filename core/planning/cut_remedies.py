"""What would make a plan possible. A remedy is named only after planning with it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from ..jointing.joint_design import ENGAGEMENT_STEP, LEAST_ENGAGEMENT, MOST_ENGAGEMENT
from ..values import LEAD_IN, Settings, Survey
from .cut_search import is_possible
from .rule_words import avoid_words
from .seam_stretches import SeamField

_LEAST_CLEARANCE, _MOST_CLEARANCE = 0.05, 0.5


def remedies(survey: Survey, settings: Settings) -> list[str]:
    """All single changes of a setting that give a plan, each the least that does."""
    found = [
        *_one_cut_less(survey, settings),
        *_one_avoid_less(survey, settings),
        _any_joint(survey, settings),
        _guard(survey, settings),
        _engagement(survey, settings),
        _clearance(survey, settings),
        _wider_clearance(survey, settings),
        _least_wall(survey, settings),
        _envelope(survey, settings),
    ]
    named = [remedy for remedy in found if remedy is not None]
    if not named:
        whole = _tenths_up(survey, settings)[-1]
        named = [f"an envelope {whole:.1f} mm high, without any --cut or --pieces"]
    return named


def _first_that_works(
    survey: Survey, steps: list[float], changed: Callable[[float], Settings]
) -> float | None:
    """The mildest of ever stronger changes that gives a plan, by halving."""
    if not steps or not is_possible(survey, changed(steps[-1])):
        return None
    too_mild, enough = -1, len(steps) - 1
    while enough - too_mild > 1:
        middle = (too_mild + enough) // 2
        if is_possible(survey, changed(steps[middle])):
            enough = middle
        else:
            too_mild = middle
    return steps[enough]


def _down(start: float, stop: float, per_mm: int) -> list[float]:
    """Multiples of 1 / per_mm under `start`, down to `stop`, rounded for a reader."""
    first, last = int(np.ceil(start * per_mm - 1e-9)) - 1, round(stop * per_mm)
    return [step / per_mm for step in range(first, last - 1, -1)]


def _one_cut_less(survey: Survey, settings: Settings) -> list[str]:
    found = []
    for cut in sorted(set(settings.cuts)):
        rest = tuple(other for other in settings.cuts if other != cut)
        if is_possible(survey, replace(settings, cuts=rest)):
            found.append(f"no --cut {cut:g}")
    return found


def _one_avoid_less(survey: Survey, settings: Settings) -> list[str]:
    found = []
    for stretch in dict.fromkeys(settings.avoid):
        rest = tuple(other for other in settings.avoid if other != stretch)
        if is_possible(survey, replace(settings, avoid=rest)):
            found.append(f"without {avoid_words(stretch)}")
    return found


def _any_joint(survey: Survey, settings: Settings) -> str | None:
    if settings.joint is None or not is_possible(survey, replace(settings, joint=None)):
        return None
    return f"without --joint {settings.joint}"


def _guard(survey: Survey, settings: Settings) -> str | None:
    guard = _first_that_works(
        survey, _down(settings.guard, 0.0, 10), lambda value: replace(settings, guard=value)
    )
    return None if guard is None else f"--guard {guard:.1f}"


def _engagement(survey: Survey, settings: Settings) -> str | None:
    """The longest shorter one, else the shortest longer one, of half millimetres."""
    strips = SeamField(survey, settings).strips(LEAST_ENGAGEMENT)
    current = min((strip.least for strip in strips), default=MOST_ENGAGEMENT)
    steps = np.arange(LEAST_ENGAGEMENT, 2.0 * MOST_ENGAGEMENT, ENGAGEMENT_STEP)
    shorter, longer = steps[steps < current][::-1], steps[steps > current]
    for engagement in [*shorter.tolist(), *longer.tolist()]:
        if is_possible(survey, replace(settings, engagement=engagement)):
            return f"--engagement {engagement:.1f}"
    return None


def _clearance(survey: Survey, settings: Settings) -> str | None:
    clearance = _first_that_works(
        survey,
        _down(settings.clearance, _LEAST_CLEARANCE, 100),
        lambda value: replace(settings, clearance=value),
    )
    return None if clearance is None else f"--clearance {clearance:.2f}"


def _wider_clearance(survey: Survey, settings: Settings) -> str | None:
    """One with which a collar passes a taper, where a tenon finds no wall."""
    if settings.joint not in (None, "collar", "sleeve"):
        return None
    first = math.floor(settings.clearance * 100.0 + 1e-9) + 1
    steps = [step / 100.0 for step in range(first, round(_MOST_CLEARANCE * 100.0) + 1)]
    clearance = _first_that_works(survey, steps, lambda value: replace(settings, clearance=value))
    return None if clearance is None else f"--clearance {clearance:.2f}"


def _least_wall(survey: Survey, settings: Settings) -> str | None:
    """Not under the lead-in's width: the tenon's tip would become an edge."""
    least_wall = _first_that_works(
        survey,
        _down(settings.least_wall, LEAD_IN, 100),
        lambda value: replace(settings, least_wall=value),
    )
    return None if least_wall is None else f"--least-wall {least_wall:.2f}"


def _envelope(survey: Survey, settings: Settings) -> str | None:
    enough = height_needed(survey, settings)
    return None if enough is None else f"an envelope {enough:.1f} mm high"


def height_needed(survey: Survey, settings: Settings) -> float | None:
    """The least envelope's height, to 0.1 mm, that gives a plan; None: no height does."""
    x, y, _ = settings.envelope
    return _first_that_works(
        survey,
        _tenths_up(survey, settings),
        lambda value: replace(settings, envelope=(x, y, value)),
    )


def _tenths_up(survey: Survey, settings: Settings) -> list[float]:
    """Tenths of a millimetre over the envelope's height, up to one that the part fits whole."""
    bottom, top = survey.ends(settings)
    first = math.floor(settings.envelope[2] * 10.0 + 1e-9) + 1
    last = math.ceil((top - bottom) * 10.0 - 1e-9)
    return [step / 10.0 for step in range(min(first, last), last + 1)]
