"""Where one cut of a planned part may lie, and why not elsewhere. It knows nothing of Blender.

A cut that a person moves keeps its place among the others: those insisted on stay where
they are, the others may yield, and there are as many pieces as before. All of that is
solved in closed form once; each question after it costs next to nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ...core.errors import NoPlan
from ...core.planning.cut_search import shortest_ground
from ...core.planning.intervals import GRAIN, Span, merge, nearest
from ...core.planning.seam_reach import (
    SEAM_GAP,
    Ground,
    Runs,
    climb,
    high_end,
    reach_down,
    seam_windows,
)
from ...core.planning.station_map import MapStretch, map_stations
from ...core.values import FIT_SLACK, Plan, Settings, Survey

_EXACT = 1024.0
"""Stations are brought to 1/1024 mm, as the planner's are; a property holds such exactly."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a cut may not lie at a station: a template to be translated, and its numbers."""

    template: str
    values: Mapping[str, object]

    def __str__(self) -> str:
        return self.template.format(**self.values)


class CutPlaces:
    """Where a cut may lie.

    Parameters
    ----------
    survey : of the part as it was trued
    settings : what the plan is made with, without a word on this cut, and with the
        envelope that pieces of their own size may use
    number : which cut of the plan it is, from 1; None: a further one
    pieces : how many there are to be
    above, below : stations of cuts insisted on that it stays between; None: there is none
    """

    def __init__(
        self,
        survey: Survey,
        settings: Settings,
        number: int | None,
        pieces: int,
        above: float | None,
        below: float | None,
    ) -> None:
        self._survey, self._settings = survey, settings
        self._number, self._pieces = number, pieces
        self._kept_below, self._kept_above = above, below
        self._ground = shortest_ground(survey, settings)
        height = settings.envelope[2] + FIT_SLACK
        self._levels = climb(self._ground, height, pieces)
        self._windows: list[Runs] = []
        if self._levels is not None:
            self._windows = seam_windows(self._ground, self._levels, height)
        chosen = self._windows[1:-1] if number is None else self._windows[number : number + 1]
        self.spans = self._between(span for runs in chosen for span in _free(self._ground, runs))

    def _between(self, spans: Iterable[Span]) -> tuple[Span, ...]:
        """What of the spans lies between the neighbours; of them the ones a property can hold."""
        below, above = self._kept_below, self._kept_above
        return tuple(
            span
            for span in merge(spans)
            if (below is None or span[0] > below)
            and (above is None or span[1] < above)
            and _exact_in(span, span[0]) is not None
        )

    @property
    def length(self) -> float:
        """Of the part, mm."""
        return self._survey.length

    def is_free(self, station: float) -> bool:
        """Whether the cut may lie at a station."""
        return any(low - GRAIN <= station <= high + GRAIN for low, high in self.spans)

    def snap(self, station: float) -> float | None:
        """The nearest station, to 1/1024 mm, at which it may lie; None: there is none."""
        wished = nearest(self.spans, station)
        if wished is None:
            return None
        span = next(one for one in self.spans if one[0] <= wished <= one[1])
        return _exact_in(span, wished)

    def follow(self, station: float, wished: float) -> float:
        """Where a cut that is at a station goes when the mouse is at the one wished.

        Where the mouse is if the cut may lie there, else as near as the free stretch that it
        is in reaches: it does not leap over what it may not pass.
        """
        if not self.is_free(wished):
            here = [one for one in self.spans if one[0] - GRAIN <= station <= one[1] + GRAIN]
            wished = min(max(wished, here[0][0]), here[0][1]) if here else station
        free = self.snap(wished)
        return station if free is None else free

    def widest_middle(self) -> float | None:
        """The middle of the widest stretch in which it may lie; None: there is none."""
        widest = max(self.spans, key=lambda span: span[1] - span[0], default=None)
        return None if widest is None else self.snap((widest[0] + widest[1]) / 2.0)

    def reason(self, station: float) -> Reason | None:
        """Why the cut may not lie at a station; None where it may."""
        if self.is_free(station):
            return None
        if not 0.0 < station < self.length:
            told = "The part ends at 0 and at {length:.2f} mm"
            return Reason(told, {"length": self.length})
        closed = [one for one in self._closed if one.low <= station <= one.high]
        if closed:
            return Reason("{reason}", {"reason": _sentence(closed[0].reason)})
        return self._insisted_reason(station) or self._height_reason(station)

    def refusal(self, station: float) -> NoPlan:
        """The error to raise where a cut at a station is asked for, and can lie nowhere near."""
        fine = self.snap(station)
        return NoPlan(
            f"no seam can lie at {station:.2f} mm: {self.reason(station)}",
            "a station that keeps every rule",
            f"{fine:.2f} mm" if fine is not None else "fewer seams insisted on, or other settings",
        )

    def know_reasons(self) -> None:
        """Work out what `reason` goes by, before the first move of the mouse has to wait for it."""
        assert self._closed is not None

    @cached_property
    def _closed(self) -> list[MapStretch]:
        """The stretches of the part where no seam may lie, whatever the pieces' heights."""
        return [
            stretch
            for stretch in map_stations(self._survey, self._settings, ()).stretches
            if not stretch.is_open
        ]

    def _insisted_reason(self, station: float) -> Reason | None:
        """It would pass, or take, the place of a cut that is insisted on."""
        below, above = self._kept_below, self._kept_above
        kept = below if below is not None and station <= below else above
        if kept is None or (kept is above and station < kept):
            return None
        return Reason(
            "The seam at {kept:.2f} mm is insisted on and keeps its place", {"kept": kept}
        )

    def _height_reason(self, station: float) -> Reason:
        """Too few pieces below it, or above it, to come that far; or joints would meet."""
        height = self._settings.envelope[2]
        if self._number is None or self._levels is None:
            return Reason(
                "A seam there, and {count} pieces of at most {height:.2f} mm whose joints lie "
                "{gap:.2f} mm apart, cannot be had together",
                {"count": self._pieces, "height": height, "gap": SEAM_GAP},
            )
        below, above = self._number, self._pieces - self._number
        if not _holds(self._levels[below], station):
            if station > self._levels[below].high.max(initial=0.0):
                return _too_tall("below", below, height)
            return Reason("Its joint would meet the one below", {})
        if station < self._down(above).low.min(initial=math.inf):
            return _too_tall("above", above, height)
        return Reason("Its joint would meet the one above", {})

    def _down(self, steps: int) -> Runs:
        """The seams from which so many pieces come up to the high end."""
        height = self._settings.envelope[2] + FIT_SLACK
        runs = high_end(self._ground)
        for _ in range(steps):
            runs = reach_down(self._ground, runs, height)
        return runs


def places_of(survey: Survey, settings: Settings, plan: Plan, number: int) -> CutPlaces:
    """Where a cut of a plan may lie.

    Parameters
    ----------
    survey : of the part as it was trued
    settings : what the plan was made with
    number : which of its cuts, from 0
    """
    station = plan.cuts[number].station
    others = tuple(cut for cut in settings.cuts if cut != station)
    above = max((cut for cut in others if cut < station), default=None)
    below = min((cut for cut in others if cut > station), default=None)
    rest = replace(settings, cuts=others, envelope=settings.room)
    return CutPlaces(survey, rest, number + 1, len(plan.cuts) + 1, above, below)


def places_for_another(survey: Survey, settings: Settings) -> CutPlaces:
    """Where a cut may lie beside those insisted on, whatever number of pieces it makes.

    Parameters
    ----------
    survey : of the part as it was trued
    settings : with the cuts that stay where they are
    """
    rest = replace(settings, envelope=settings.room)
    pieces = max(settings.pieces or 1, len(settings.cuts) + 2)
    return CutPlaces(survey, rest, None, pieces, None, None)


def _free(ground: Ground, runs: Runs) -> list[Span]:
    """The spans of seams, those on cuts insisted on and on the part's ends left out."""
    free = ground.gate[runs.home] % 2 == 1
    return merge(zip(runs.low[free].tolist(), runs.high[free].tolist(), strict=True))


def _holds(runs: Runs, station: float) -> bool:
    return bool(((runs.low - GRAIN <= station) & (station <= runs.high + GRAIN)).any())


def _exact_in(span: Span, station: float) -> float | None:
    """The station of a span next to one of its own that a property holds; None: there is none.

    To 1/1024 mm; where the span is too narrow for that, what float32 holds at all.
    """
    steps = station * _EXACT
    fine = [math.floor(steps) / _EXACT, math.ceil(steps) / _EXACT]
    fine.sort(key=lambda near: abs(near - station))
    single = np.float32(station)
    finest = [float(np.nextafter(single, np.float32(to))) for to in (-math.inf, math.inf)]
    near = (*fine, float(single), *finest)
    return next((one for one in near if span[0] - GRAIN <= one <= span[1] + GRAIN), None)


_TOO_TALL: Mapping[tuple[str, bool], str] = {
    ("below", True): "The piece below would be taller than {height:.2f} mm",
    ("below", False): "The {count} pieces below would be taller than {height:.2f} mm",
    ("above", True): "The piece above would be taller than {height:.2f} mm",
    ("above", False): "The {count} pieces above would be taller than {height:.2f} mm",
}


def _too_tall(side: str, count: int, height: float) -> Reason:
    return Reason(_TOO_TALL[side, count == 1], {"count": count, "height": height})


def _sentence(reason: str) -> str:
    return reason[:1].upper() + reason[1:]
