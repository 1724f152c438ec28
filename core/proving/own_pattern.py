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
from .blocked_turns import blocked_turns, body_of, sections_about
from .joint_checks import COLLISION_DEPTH
from .verdicts import at_most

_TURNS = np.radians(np.arange(0.0, 360.0, 0.2))

_LEVELS = 3


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

    @cache
    def fits(lower: int, upper: int) -> bool:
        return _fits(ends[lower], ends[upper])

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


def _fits(below: MatingEnds, above: MatingEnds) -> bool:
    """Whether one joint's lower end goes into another's upper one at any turn."""
    low = max(below.heights[0], above.heights[0])
    high = min(below.heights[1], above.heights[1])
    heights = low + (high - low) * (np.arange(_LEVELS) + 0.5) / _LEVELS
    lower = sections_about(below.lower, below.middle, below.station + heights)
    upper = sections_about(above.upper, above.middle, above.station + heights)
    return not blocked_turns(body_of(lower, COLLISION_DEPTH), upper, _TURNS).all()
