"""No two middle pieces of a part can change places: each cut's joint goes together with no other.

Two pieces that change places make up to four wrong joints, one at each of their ends. They
cannot stand there when one of those is blocked at every turn.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np

from ..values import Check, FloatArray, Mesh, read_only
from .arcs import Outlines
from .blocked_turns import Body, blocked_turns, body_of, sections_about
from .joint_checks import COLLISION_DEPTH
from .verdicts import at_most

_TURNS = np.radians(np.arange(0.0, 360.0, 0.2))

_LEVELS = 3

_DIGITS = 9
"""Heights that agree to so many digits of a millimetre are one: joints of one size have them."""


@dataclass(frozen=True, slots=True, eq=False)
class MatingEnds:
    """What meets at a joint: of its lower piece, or its collar, and of its upper piece.

    station : the seam
    middle : (2,) mm, about which they turn
    heights : over the seam, mm, between which both run on upright
    """

    lower: Mesh
    upper: Mesh
    station: float
    middle: FloatArray
    heights: tuple[float, float]

    def __post_init__(self) -> None:
        read_only(self.middle)


def pattern_checks(ends: Sequence[MatingEnds]) -> list[Check]:
    """How many pairs of middle pieces could change places; of fewer than two there are none.

    ends : of each joint, from the low end up
    """
    if len(ends) < 3:
        return []

    sections = _Sections(ends)
    fits = cache(sections.fit)
    pairs = combinations(range(1, len(ends)), 2)
    swaps = [all(fits(*joint) for joint in wrong_joints(*pair)) for pair in pairs]
    return [at_most("own_pattern", float(sum(swaps)), 0.0)]


def wrong_joints(one: int, other: int) -> list[tuple[int, int]]:
    """What meets when two pieces change places: (joint of the lower, joint of the upper).

    The n-th piece has the socket of joint n - 1 and the tenon of joint n.
    """
    adjacent = other == one + 1
    between = [(other, one - 1)] if adjacent else [(other, one), (other - 1, one - 1)]
    return [(one - 1, other - 1), *between, (one, other)]


class _Sections:
    """Each joint's ends in sections, each cut once at the heights that it is looked at."""

    def __init__(self, ends: Sequence[MatingEnds]) -> None:
        self._ends = ends
        self._lower = cache(self._cut_lower)
        self._upper = cache(self._cut_upper)

    def fit(self, below: int, above: int) -> bool:
        """Whether one joint's lower end goes into another's upper one at any turn."""
        both = self._ends[below].heights, self._ends[above].heights
        low, high = max(low for low, _ in both), min(high for _, high in both)
        heights = low + (high - low) * (np.arange(_LEVELS) + 0.5) / _LEVELS
        told_apart = tuple(np.round(heights, _DIGITS).tolist())
        body, upper = self._lower(below, told_apart), self._upper(above, told_apart)
        return not blocked_turns(body, upper, _TURNS).all()

    def _cut_lower(self, number: int, heights: tuple[float, ...]) -> Body:
        end = self._ends[number]
        sections = sections_about(end.lower, end.middle, end.station + np.array(heights))
        return body_of(sections, COLLISION_DEPTH)

    def _cut_upper(self, number: int, heights: tuple[float, ...]) -> Outlines:
        end = self._ends[number]
        return sections_about(end.upper, end.middle, end.station + np.array(heights))
