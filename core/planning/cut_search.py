"""The search behind a plan: which engagement, which height, which seams can be reached."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..jointing.joint_design import ENGAGEMENT_STEP, LEAST_ENGAGEMENT
from ..values import FIT_SLACK, Settings, Survey
from .seam_reach import Ground, Runs, climb, lay_ground, settle_height
from .seam_stretches import SeamField


@dataclass(frozen=True, slots=True, eq=False)
class Search:
    """What was found: the fewest pieces, and all that can be reached with them.

    field : where seams may lie at all
    cap : mm, down to which engagements were shortened; None: not at all
    height : mm, the envelope's, and what of `FIT_SLACK` had to be added
    usual_pieces : how many it would be with the usual engagement, None: no number would do
    """

    field: SeamField
    ground: Ground
    height: float
    levels: list[Runs]
    cap: float | None
    usual_pieces: int | None

    @property
    def pieces(self) -> int:
        """How many pieces."""
        return len(self.levels) - 1


def _ground_at(field: SeamField, cap: float | None) -> Ground:
    """The stretches at one cap of the engagement, between the cuts insisted on."""
    ends = field.survey.ends(field.settings)
    return lay_ground(field.stretches(cap), ends, insisted_cuts(field.settings))


def insisted_cuts(settings: Settings) -> list[float]:
    """The stations insisted on, ascending, each once."""
    return sorted(set(settings.cuts))


def search_cuts(survey: Survey, settings: Settings) -> Search | None:
    """The fewest pieces, with engagements as long as that allows; None: it cannot be done."""
    field = SeamField(survey, settings)
    usual = _pieces_at(field, None)
    cap = None
    if settings.engagement is None and usual != _least_thinkable(survey, settings):
        shortest = _pieces_at(field, LEAST_ENGAGEMENT)
        if shortest is not None and (usual is None or shortest < usual):
            cap = _longest_cap(field, shortest)
    ground = _ground_at(field, cap)
    settled = settle_height(ground, settings.envelope[2], settings.pieces or 1)
    if settled is None:
        return None
    return Search(field, ground, *settled, cap, usual)


def is_possible(survey: Survey, settings: Settings) -> bool:
    """Whether any plan exists; shorter engagements are tried where they are not given."""
    return _pieces_at(SeamField(survey, settings), LEAST_ENGAGEMENT) is not None


def shortest_ground(survey: Survey, settings: Settings) -> Ground:
    """The ground of the shortest engagements allowed: if it bears no plan, none does."""
    return _ground_at(SeamField(survey, settings), LEAST_ENGAGEMENT)


def _pieces_at(field: SeamField, cap: float | None) -> int | None:
    ground, settings = _ground_at(field, cap), field.settings
    levels = climb(ground, settings.envelope[2] + FIT_SLACK, settings.pieces or 1)
    return None if levels is None else len(levels) - 1


def _least_thinkable(survey: Survey, settings: Settings) -> int:
    """Pieces that nothing can go below: every height used in full, shortest tenons."""
    asked = max(settings.pieces or 1, len(insisted_cuts(settings)) + 1)
    gain = settings.envelope[2] + FIT_SLACK - LEAST_ENGAGEMENT
    bottom, top = survey.ends(settings)
    if top - bottom <= settings.envelope[2] + FIT_SLACK or gain <= 0.0:
        return asked
    return max(asked, int(np.ceil((top - bottom - LEAST_ENGAGEMENT) / gain)))


def _longest_cap(field: SeamField, pieces: int) -> float:
    """The greatest cap, in steps of 0.5 mm, that gives this number of pieces.

    A longer tenon never makes for fewer pieces, so the steps are halved, not walked.
    """
    longest = max(strip.most for strip in field.strips(None))
    enough, too_long = 0, round((longest - LEAST_ENGAGEMENT) / ENGAGEMENT_STEP)
    while too_long - enough > 1:
        steps = (enough + too_long) // 2
        if _pieces_at(field, LEAST_ENGAGEMENT + steps * ENGAGEMENT_STEP) == pieces:
            enough = steps
        else:
            too_long = steps
    return LEAST_ENGAGEMENT + enough * ENGAGEMENT_STEP
