"""What a joint of several tenons promises as a whole: one seat, and material between them.

Seen from the middle of the joint a pin's outline is no function of the angle, so the seat is
told from points of the tenons in the sockets' material (`blocked_turns`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import permutations

import numpy as np

from ..values import Check, FloatArray, Settings
from .arcs import Outlines
from .blocked_turns import blocked_turns, body_of, free_until, sections_about
from .joint_checks import (
    AFTER_PLAY_DEG,
    COLLISION_DEPTH,
    MOST_PLAY_DEG,
    TURNED_SLICES,
    FinishedTenon,
)
from .joint_slices import ribs_stop
from .nearness import nearest_distances
from .turning import PLAY_SOUGHT_DEG, TOUCH_DEPTH
from .verdicts import at_least, at_most, least

_FAR = 50.0
"""mm, up to which distances between tenons are measured."""


def group_checks(tenons: list[FinishedTenon], settings: Settings) -> list[Check]:
    """Every promise of the tenons of a joint together."""
    first = tenons[0]
    middle = group_middle(tenons)
    stations = first.tenon.station + spread(*parallel_part(tenons, settings))
    lower = sections_about(first.lower, middle, stations)
    upper = sections_about(first.upper, middle, stations)
    return [*_seat_checks(lower, upper, first.number), *_apart_checks(tenons, stations, settings)]


def group_middle(tenons: list[FinishedTenon]) -> FloatArray:
    """(2,) about which the tenons of a joint would turn."""
    return circle_middle(np.array([made.shape.middle for made in tenons]))


def circle_middle(points: FloatArray) -> FloatArray:
    """(2,) the middle of the circle through points, the least-squares one of more than three.

    Of two points, and of those on one line, their mean.
    """
    mean: FloatArray = points.mean(axis=0)
    arms = points - mean
    if len(points) < 3 or np.linalg.matrix_rank(arms, tol=1e-6) < 2:
        return mean
    rows = np.column_stack([2.0 * arms, np.ones(len(arms))])
    solved = np.linalg.lstsq(rows, (arms**2).sum(axis=1), rcond=None)[0]
    middle: FloatArray = mean + solved[:2]
    return middle


def parallel_part(tenons: list[FinishedTenon], settings: Settings) -> tuple[float, float]:
    """Heights over the seam, mm, between which all tenons, ribs and sockets are parallel."""
    low = max(made.tenon.mouth_bevel(settings.mouth_relief) for made in tenons)
    return low, min(ribs_stop(made.tenon) - made.tenon.station for made in tenons)


def spread(low: float, high: float) -> FloatArray:
    """(3,) places spread between two."""
    places: FloatArray = low + (high - low) * (np.arange(TURNED_SLICES) + 0.5) / TURNED_SLICES
    return places


def _seat_checks(lower: Outlines, upper: Outlines, number: int) -> list[Check]:
    """The play each way about the middle, and the whole degrees beyond it that nothing stops."""
    tenons = lower[~lower.is_void]
    touching = body_of(tenons, TOUCH_DEPTH)
    most = np.radians(PLAY_SOUGHT_DEG)
    plays = [float(np.degrees(free_until(touching, upper, most, sense))) for sense in (1, -1)]
    turns = np.arange(1.0, 360.0)
    beyond = (turns > plays[0] + AFTER_PLAY_DEG) & (360.0 - turns > plays[1] + AFTER_PLAY_DEG)
    pressed = body_of(tenons, COLLISION_DEPTH)
    free = ~blocked_turns(pressed, upper, np.radians(turns[beyond]))
    return [
        at_most("one_seat_play", max(plays), MOST_PLAY_DEG, joint=number),
        at_most("one_seat_free_turns", float(free.sum()), 0.0, joint=number),
    ]


def _apart_checks(
    tenons: list[FinishedTenon], stations: FloatArray, settings: Settings
) -> list[Check]:
    """How far tenons stand from each other, and the walls between their sockets."""
    own, rooms = [], []
    for made in tenons:
        middle = made.shape.middle
        lower = sections_about(made.lower, middle, stations)
        upper = sections_about(made.upper, middle, stations)
        own.append(_Placed(lower[~lower.is_void & (lower.windings == 1)], middle))
        rooms.append(_Placed(upper[upper.is_void & (upper.windings == -1)], middle))
    limit, number = 2.0 * settings.least_wall, tenons[0].number
    return [
        at_least("between_tenons", _least_between(own), limit, joint=number),
        at_least("between_sockets", _least_between(rooms), limit, joint=number),
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Placed:
    """Outlines about a middle of their own."""

    outlines: Outlines
    middle: FloatArray


def _least_between(groups: list[_Placed]) -> float:
    """Least distance, mm, between outlines of two groups; not a number where one has none."""
    if not all(len(group.outlines) for group in groups):
        return math.nan
    nearest = [
        nearest_distances(
            one.outlines.starts + one.middle - other.middle,
            one.outlines.level,
            other.outlines,
            _FAR,
        )
        for one, other in permutations(groups, 2)
    ]
    return least(np.concatenate(nearest))
