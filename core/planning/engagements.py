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


def engagement_limits(run: WallRun) -> list[EngagementStrip]:
    """A run of wall, cut where the trade's least or usual engagement steps."""
    strips: list[EngagementStrip] = []
    ends = _engagement_breaks(run)
    diameters = run.joint_diameter((ends[1:] + ends[:-1]) / 2.0)
    for (low, high), diameter in zip(pairwise(ends.tolist()), diameters.tolist(), strict=True):
        usual = usual_engagement(diameter)
        least = min(usual, shortest_engagement(diameter))
        _lengthen(strips, EngagementStrip(low, high, least, usual))
    return strips


def capped_strips(limits: list[EngagementStrip], cap: float | None) -> list[EngagementStrip]:
    """Engagements shortened to a cap, but no further than the trade bears; None: not at all."""
    strips: list[EngagementStrip] = []
    for limit in limits:
        least = limit.most if cap is None else min(limit.most, max(cap, limit.least))
        _lengthen(strips, EngagementStrip(limit.low, limit.high, least, limit.most))
    return strips


def _lengthen(strips: list[EngagementStrip], strip: EngagementStrip) -> None:
    """Add a strip, as one with the last where the engagements are the same."""
    if strips and (strips[-1].least, strips[-1].most) == (strip.least, strip.most):
        strip = EngagementStrip(strips.pop().low, strip.high, strip.least, strip.most)
    strips.append(strip)


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
