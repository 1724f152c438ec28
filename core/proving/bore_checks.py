"""The bores as the pieces have them: free, but for their own facets."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from ..values import CHORD_TOLERANCE, Check, Mesh, Ornament, RoundSurface, Settings, Survey
from .bore_clearance import (
    Stretch,
    bore_intrusion,
    bore_intrusions,
    near_bore,
    stretches_inside,
    stretches_outside,
)
from .piece_checks import ROUNDING
from .solid import Solid
from .verdicts import at_most

_TRUE_DEPTH = CHORD_TOLERANCE + ROUNDING
"""How far the facets of a true bore may stand into it, mm."""

_BORE_MARGIN = 0.1
"""Something that comes this near to the bore's radius, mm, has rims on it."""


_NAMES = "bore_free", "bore_free_at_features"


@dataclass(frozen=True, slots=True, eq=False)
class FoundBore:
    """A stretch of a bore as the source has it, where its own facets are the limit.

    windows : where side holes and ornaments interrupt it: rims there keep their facets
    is_true : whether it was made true elsewhere
    facets : gives the source's triangles that come near it where they count
    """

    bore: RoundSurface
    windows: list[Stretch]
    is_true: bool
    facets: Callable[[], Mesh]

    def limit_for(self, depth: float, stretches: list[Stretch]) -> float:
        """What a depth found is held against, mm: the source is asked only of deep ones."""
        return _TRUE_DEPTH if depth <= _TRUE_DEPTH else self.facet_depth(stretches)

    def facet_depth(self, stretches: list[Stretch]) -> float:
        """How far the bore's own facets may stand into it, mm.

        A true bore keeps the chord tolerance; one left as found keeps what it had.
        """
        if self.is_true and not self.features(stretches):
            return _TRUE_DEPTH
        return max(_TRUE_DEPTH, bore_intrusion(self.facets(), self.bore, stretches) + ROUNDING)

    def features(self, stretches: list[Stretch]) -> list[Stretch]:
        """What holes and ornaments take of some stretches."""
        return [part for stretch in stretches for part in stretches_inside(*stretch, self.windows)]


def found_bores(survey: Survey, settings: Settings) -> tuple[FoundBore, ...]:
    """All bores of a survey; the source is gone through once for each, if at all."""
    is_true = settings.true in {"both", "bore"}
    found = []
    for bore in survey.bores:
        windows = _windows(survey, bore)
        wanted = windows if is_true else [(bore.start, bore.stop)]
        facets = partial(near_bore, survey.mesh, bore, wanted)
        found.append(FoundBore(bore, windows, is_true, cache(facets)))
    return tuple(found)


def _windows(survey: Survey, bore: RoundSurface) -> list[Stretch]:
    """Where side holes and ornaments may have rims in a bore."""
    windows = [(hole.low - ROUNDING, hole.high + ROUNDING) for hole in survey.side_holes]
    windows += [
        (ornament.start - ROUNDING, ornament.stop + ROUNDING)
        for ornament in survey.ornaments
        if ornament.place == "bore" or _meets_bore(ornament, bore)
    ]
    return windows


def _meets_bore(ornament: Ornament, bore: RoundSurface) -> bool:
    """Does something that borders the outside reach through to the bore?"""
    ends = (bore.radius_at(ornament.start), bore.radius_at(ornament.stop))
    return ornament.least_radius <= max(ends) + bore.eccentricity + _BORE_MARGIN


def bore_checks(bores: tuple[FoundBore, ...], solid: Solid) -> list[Check]:
    """Nothing stands into any stretch of any bore but its own facets.

    Beside side holes and bore ornaments the part's own rims are the limit, apart
    from the rest, so that they cannot excuse an intrusion elsewhere.
    """
    stations = solid.placed.vertices[:, 2]
    bottom, top = float(np.min(stations)), float(np.max(stations))
    checks = []
    for found in bores:
        bore = found.bore
        low, high = max(bottom, bore.start) + ROUNDING, min(top, bore.stop) - ROUNDING
        free, rims = stretches_outside(low, high, found.windows), found.features([(low, high)])
        depths = bore_intrusions(solid.placed, bore, (free, rims))
        for name, stretches, depth in zip(_NAMES, (free, rims), depths, strict=True):
            if stretches:
                limit = found.limit_for(depth, stretches)
                checks.append(at_most(name, depth, limit, piece=solid.name))
    return checks
