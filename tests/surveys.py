"""Surveys put together by hand: one bore in one round outside."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from borewright.core.values import RoundSurface, Survey, WallStretch


def one_wall(bore: RoundSurface, outside: RoundSurface) -> WallStretch:
    """The wall between them where both are."""
    return WallStretch(
        (0,), bore, outside, max(bore.start, outside.start), min(bore.stop, outside.stop)
    )


def a_survey(*, bore: RoundSurface, outside: RoundSurface, **rest: Any) -> Survey:
    """A survey of one bore and one outside; `rest` are the survey's other fields."""
    return Survey(
        numbers=np.zeros(len(rest["labels"]), np.int64),
        bores=(bore,),
        outsides=(outside,),
        walls=(one_wall(bore, outside),),
        **rest,
    )


def with_surfaces(
    survey: Survey, *, bore: RoundSurface | None = None, outside: RoundSurface | None = None
) -> Survey:
    """The survey with another bore or outside."""
    bore, outside = bore or survey.bore, outside or survey.outside
    return replace(survey, bores=(bore,), outsides=(outside,), walls=(one_wall(bore, outside),))
