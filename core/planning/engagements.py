"""Which engagements a joint may have where: the trade's rule on the joint's diameter."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..jointing.joint_design import (
    ENGAGEMENT_STEP,
    ENGAGEMENT_TIE,
    LEAST_ENGAGEMENT,
    MOST_ENGAGEMENT,
    SHORT_ENGAGEMENT_SHARE,
    shortest_engagement,
    usual_engagement,
)
from ..jointing.wall_run import WallRun
from ..values import FloatArray


@dataclass(frozen=True, slots=True)
class EngagementStrip:
    """A span of stations and the engagements that may be taken there, least and most."""

    low: float
    high: float
    least: float
    most: float


def engagement_strips(
    run: WallRun, given: float | None, cap: float | None
) -> list[EngagementStrip]:
    """A run of wall, cut where the engagement goes from one half millimetre to the next.

    Parameters
    ----------
    given : mm, the engagement that the user asks for
    cap : mm, shorten engagements down to this, but no further than the trade bears;
        None: the usual engagement. Of no effect where the user gave one.
    """
    if given is not None:
        return [EngagementStrip(run.start, run.stop, given, given)]
    strips: list[EngagementStrip] = []
    ends = _engagement_breaks(run)
    middles = (ends[1:] + ends[:-1]) / 2.0
    for (start, stop), diameter in zip(
        pairwise(ends.tolist()), run.joint_diameter(middles).tolist(), strict=True
    ):
        most = usual_engagement(diameter)
        least = most if cap is None else min(most, max(cap, shortest_engagement(diameter)))
        if strips and (strips[-1].least, strips[-1].most) == (least, most):
            strips[-1] = EngagementStrip(strips[-1].low, stop, least, most)
        else:
            strips.append(EngagementStrip(start, stop, least, most))
    return strips


def _engagement_breaks(run: WallRun) -> FloatArray:
    """The run's ends, and where `usual_engagement` or `shortest_engagement` may step."""
    steps = np.arange(LEAST_ENGAGEMENT, MOST_ENGAGEMENT, ENGAGEMENT_STEP)
    usual = 2.0 * steps + ENGAGEMENT_STEP * (1.0 - 2.0 * ENGAGEMENT_TIE)
    diameters = np.concatenate([usual, steps / SHORT_ENGAGEMENT_SHARE])
    low, high = run.edges[:-1, None], run.edges[1:, None]
    inside = (low + high) / 2.0
    first = run.joint_diameter(inside)
    slope = run.diameter_slopes[:, None]
    turns = inside + (diameters - first) / np.where(slope == 0.0, np.inf, slope)
    within = (turns > low) & (turns < high) & (slope != 0.0)
    breaks: FloatArray = np.unique(np.concatenate([run.edges, turns[within]]))
    return breaks
