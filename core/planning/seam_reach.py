"""The fewest pieces, proven: which seams can be reached from the part's ends.

A seam at s can be followed by one at t when the piece between fits, its tenon
counted, and the joints do not meet:

    t + stands(t) - s <= height    and    t - below(t) >= s + zone(s) + 1 mm

Both are linear on a stretch, so the seams that can follow those of one span
are again a span, with ends known in closed form. Sets of such spans are
carried from the low end up, seam by seam, and from the high end down. The part's
ends take the place of seams of no engagement and no zone; so do stations
insisted on, which no step may pass over: all of these are gates.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..values import FIT_SLACK, BoolArray, FloatArray, IntArray, read_only
from .intervals import GRAIN
from .seam_stretches import Stretch

SEAM_GAP = 1.0
"""Least distance, mm, from the top of a joint's zone to the next seam."""

_SLACK_STEPS = 12

_Row = tuple[float, float, float, float, float, float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """All stretches as arrays; the first is the part's low end, the last its high end.

    stands : mm, how far the piece below a seam stands over it
    below : mm, how far a zone reaches under its seam
    gate : 2 j for the j-th gate (the low end is the 0th), 2 j + 1 between it and the next
    way : the kind of joint and its run of wall, -1 of the part's ends
    """

    low: FloatArray
    high: FloatArray
    engagement: FloatArray
    stands: FloatArray
    below: FloatArray
    zone_low: FloatArray
    zone_slope: FloatArray
    gate: IntArray
    way: IntArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))

    def zone_at(self, stations: FloatArray, home: IntArray) -> FloatArray:
        """Heights of the zones, mm, of seams at stations of the stretches `home`."""
        zones: FloatArray = self.zone_low[home] + self.zone_slope[home] * (
            stations - self.low[home]
        )
        return zones

    @property
    def high_end(self) -> int:
        """Number of the stretch that is the part's high end."""
        return len(self.low) - 1


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """A set of seams: closed spans of stations, each within one stretch, its `home`."""

    low: FloatArray
    high: FloatArray
    home: IntArray

    def __post_init__(self) -> None:
        for array in (self.low, self.high):
            read_only(array)
        read_only(self.home)


def lay_ground(
    stretches: Sequence[Stretch], ends: tuple[float, float], insisted: Sequence[float]
) -> Ground:
    """The stretches between the part's ends, cut at the stations insisted on.

    ends : stations of the part's lowest and highest points
    insisted : ascending. One that lies in no stretch becomes a gate that no
        seam can take, so that no plan is found.
    """
    bottom, top = ends
    rows: list[_Row] = [(bottom, bottom, 0.0, 0.0, 0.0, -SEAM_GAP, 0.0, 0.0, -1.0)]
    bounds = [-math.inf, *insisted, math.inf]
    for number, (above, below) in enumerate(pairwise(bounds)):
        for stretch in stretches:
            low, high = max(stretch.low, above), min(stretch.high, below)
            if low < high or (low == high and low not in insisted):
                rows.append(_row(stretch, low, high, 2 * number + 1))
            if stretch.low - GRAIN <= below <= stretch.high + GRAIN:
                rows.append(_row(stretch, below, below, 2 * number + 2))
    rows.append((top, top, 0.0, 0.0, 0.0, 0.0, 0.0, 2.0 * len(insisted) + 2.0, -1.0))
    columns = np.ascontiguousarray(np.array(rows).T)
    return Ground(
        low=columns[0],
        high=columns[1],
        engagement=columns[2],
        stands=columns[3],
        below=columns[4],
        zone_low=columns[5],
        zone_slope=columns[6],
        gate=columns[7].astype(np.int64),
        way=columns[8].astype(np.int64),
    )


def _row(stretch: Stretch, low: float, high: float, gate: int) -> _Row:
    return (
        low,
        high,
        stretch.engagement,
        stretch.stands,
        stretch.below,
        stretch.zone_at(low),
        stretch.zone_slope,
        float(gate),
        float(stretch.way),
    )


def may_follow(first: IntArray, second: IntArray) -> BoolArray:
    """Whether a step from one gate number to another passes over no gate."""
    step = second - first
    least_step = np.where(first % 2 == 0, 1, 0)
    follows: BoolArray = (step == least_step) | (step == least_step + 1)
    return follows


def reach_up(ground: Ground, runs: Runs, height: float) -> Runs:
    """All seams that can be the next above one of the runs."""
    every = np.arange(len(ground.low))
    limit = height - ground.stands[None, :] - ground.below[None, :] - SEAM_GAP
    low, high, possible = _where_zone_within(ground, runs, limit)
    next_low = low + ground.zone_at(low, runs.home[:, None]) + SEAM_GAP + ground.below[None, :]
    next_high = high + height - ground.stands[None, :]
    possible &= may_follow(ground.gate[runs.home][:, None], ground.gate[None, :])
    return _collect(
        np.maximum(next_low, ground.low),
        np.minimum(next_high, ground.high),
        np.broadcast_to(every, possible.shape),
        possible,
    )


def reach_down(ground: Ground, runs: Runs, height: float) -> Runs:
    """All seams that can be the next below one of the runs."""
    every = np.arange(len(ground.low))
    whole = Runs(ground.low.copy(), ground.high.copy(), every)
    stands, below = ground.stands[runs.home][None, :], ground.below[runs.home][None, :]
    low, high, possible = _where_zone_within(ground, whole, height - stands - below - SEAM_GAP)
    lowest = runs.low[None, :] + stands - height
    room = runs.high[None, :] - below - SEAM_GAP - (ground.low + ground.zone_low)[:, None]
    highest = ground.low[:, None] + room / (1.0 + ground.zone_slope)[:, None]
    possible &= may_follow(ground.gate[:, None], ground.gate[runs.home][None, :])
    return _collect(
        np.maximum(low, lowest),
        np.minimum(high, highest),
        np.broadcast_to(every[:, None], possible.shape),
        possible,
    )


def _where_zone_within(
    ground: Ground, runs: Runs, limit: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Parts of the runs whose zones are at most the limit high; shape (runs, limits)."""
    slope = ground.zone_slope[runs.home][:, None]
    excess = ground.zone_at(runs.low, runs.home)[:, None] - limit
    low = np.broadcast_to(runs.low[:, None], excess.shape)
    high = np.broadcast_to(runs.high[:, None], excess.shape)
    turn = low - excess / np.where(slope == 0.0, 1.0, slope)
    low = np.where(slope < 0.0, np.maximum(low, turn), low)
    high = np.where(slope > 0.0, np.minimum(high, turn), high)
    return low, high, np.where(slope == 0.0, excess <= GRAIN, low <= high + GRAIN)


def common_runs(first: Runs, second: Runs) -> Runs:
    """The seams in both sets."""
    low = np.maximum(first.low[:, None], second.low)
    high = np.minimum(first.high[:, None], second.high)
    home = np.broadcast_to(first.home[:, None], low.shape)
    return _collect(low, high, home, first.home[:, None] == second.home)


def _joined(first: Runs, second: Runs) -> Runs:
    """The seams in either set."""
    low = np.concatenate([first.low, second.low])
    high = np.concatenate([first.high, second.high])
    home = np.concatenate([first.home, second.home])
    return _collect(low, high, home, np.ones(len(low), bool))


def _collect(low: FloatArray, high: FloatArray, home: IntArray, possible: BoolArray) -> Runs:
    """Spans that are no more than a grain inverted, merged within each stretch."""
    kept = possible & (low <= high + GRAIN)
    low, high, home = low[kept], high[kept], home[kept]
    middle = (low + high) / 2.0
    low, high = np.where(low > high, middle, low), np.where(low > high, middle, high)
    order = np.lexsort((low, home))
    merged: list[list[float]] = []
    for start, stop, number in zip(
        low[order].tolist(), high[order].tolist(), home[order].tolist(), strict=True
    ):
        if merged and merged[-1][2] == number and start <= merged[-1][1] + GRAIN:
            merged[-1][1] = max(merged[-1][1], stop)
        else:
            merged.append([start, stop, number])
    columns = np.array(merged).reshape(-1, 3).T
    return Runs(columns[0].copy(), columns[1].copy(), columns[2].astype(np.int64))


def low_end(ground: Ground) -> Runs:
    """The part's low end as a set of seams."""
    return _end(ground, 0)


def high_end(ground: Ground) -> Runs:
    """The part's high end as a set of seams."""
    return _end(ground, ground.high_end)


def _end(ground: Ground, number: int) -> Runs:
    station = ground.low[[number]]
    return Runs(station, station.copy(), np.array([number]))


def climb(ground: Ground, height: float, at_least: int) -> list[Runs] | None:
    """The seams that can be the 0th, 1st, 2nd ... up to the high end, or None.

    The list has one entry more than there are pieces, and no shorter list of
    `at_least` pieces exists.
    """
    levels = [low_end(ground)]
    enough = max(at_least, most_steps(ground, height))
    while len(levels[-1].low) and len(levels) - 1 < enough:
        levels.append(reach_up(ground, levels[-1], height))
        if len(levels) - 1 >= at_least and ground.high_end in levels[-1].home:
            return levels
    return None


def most_steps(ground: Ground, height: float) -> float:
    """Steps after which the search for a plan of the fewest pieces is in vain.

    In such a plan no free seam can be left out, so any two pieces in a row
    span more than the height less what a piece stands over its seam, and a zone's foot.
    """
    span = height - float((ground.stands + ground.below).max())
    gates = int(ground.gate[-1]) // 2
    return 2.0 * float(ground.low[-1]) / span + gates + 2.0 if span > 0.0 else math.inf


def most_pieces(ground: Ground, height: float) -> int:
    """The greatest number of pieces that can be made; 0 if none can."""
    most, steps, runs = 0, 0, low_end(ground)
    while len(runs.low):
        steps, runs = steps + 1, reach_up(ground, runs, height)
        if ground.high_end in runs.home:
            most = steps
    return most


def all_above_low_end(ground: Ground, height: float) -> Runs:
    """All seams, the low end with them, that can be reached from the low end."""
    return _spread(ground, height, low_end(ground), reach_up)


def all_below_high_end(ground: Ground, height: float) -> Runs:
    """All seams, the high end with them, from which the high end can be reached."""
    return _spread(ground, height, high_end(ground), reach_down)


def _spread(
    ground: Ground,
    height: float,
    start: Runs,
    step: Callable[[Ground, Runs, float], Runs],
) -> Runs:
    reached, runs, steps = start, start, 0
    while len(runs.low) and steps < most_steps(ground, height):
        runs, steps = step(ground, runs, height), steps + 1
        reached = _joined(reached, runs)
    return reached


def settle_height(ground: Ground, height: float, at_least: int) -> tuple[float, list[Runs]] | None:
    """The height to plan with, and the climb at it.

    That is the envelope's, or, where a little of `FIT_SLACK` saves a piece, the
    least that does: then every piece that passes the envelope passes it alike.
    """
    loose = climb(ground, height + FIT_SLACK, at_least)
    strict = climb(ground, height, at_least)
    if loose is None or (strict is not None and len(strict) == len(loose)):
        return None if strict is None else (height, strict)
    too_little, enough, best = 0.0, FIT_SLACK, loose
    for _ in range(_SLACK_STEPS):
        slack = (too_little + enough) / 2.0
        levels = climb(ground, height + slack, at_least)
        if levels is not None and len(levels) == len(loose):
            enough, best = slack, levels
        else:
            too_little = slack
    return height + enough, best


def seam_windows(ground: Ground, levels: list[Runs], height: float) -> list[Runs]:
    """For the low end, each cut and the high end: the seams that some plan has there."""
    down = high_end(ground)
    windows = [down]
    for below in levels[-2::-1]:
        down = common_runs(below, reach_down(ground, down, height))
        windows.append(down)
    return windows[::-1]
