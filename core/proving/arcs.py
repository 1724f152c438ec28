"""Which segments of sections face each other, seen from a middle: arcs of angle that meet.

What lies within a distance of a point lies within an angle of it, seen from the middle, so
that only few segments need be measured against each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .section import Sections

_TURN = 2.0 * math.pi
_LEVEL_APART = 8.0
"""Between the angles of two levels on one line: more than a turn."""


@dataclass(frozen=True, eq=False)
class Arcs:
    """Arcs of angle, each on one of several levels.

    level : (k,) int
    low : (k,) radians, in [0, 2 pi)
    span : (k,) radians, from 0 to 2 pi
    """

    level: IntArray
    low: FloatArray
    span: FloatArray

    def __getitem__(self, chosen: BoolArray | IntArray) -> Arcs:
        return Arcs(self.level[chosen], self.low[chosen], self.span[chosen])

    def widened(self, by: FloatArray | float) -> Arcs:
        """The arcs with an angle added at both ends."""
        span = np.minimum(self.span + 2.0 * by, _TURN)
        return Arcs(self.level, np.mod(self.low - by, _TURN), span)

    @cached_property
    def order(self) -> IntArray:
        """(k,) the arcs by level and low end."""
        return np.argsort(self._keys, kind="stable")

    @cached_property
    def _keys(self) -> FloatArray:
        keys: FloatArray = self.level * _LEVEL_APART + self.low
        return keys

    @cached_property
    def _sorted_keys(self) -> FloatArray:
        return self._keys[self.order]

    @cached_property
    def _first_of_level(self) -> IntArray:
        """Where each level begins in the order, and one more: where the last ends."""
        levels = int(self.level.max(initial=-1)) + 2
        return np.searchsorted(self._sorted_keys, np.arange(levels) * _LEVEL_APART)

    def starting_within(
        self, level: IntArray, low: FloatArray, span: FloatArray, *, from_low: bool
    ) -> tuple[IntArray, IntArray]:
        """Pairs (question, arc): arcs of a level whose low end lies within `span` after `low`.

        low : radians, in [0, 2 pi)
        span : radians, up to 2 pi
        from_low : whether an arc that starts at `low` itself counts
        """
        known = len(self._first_of_level) - 2
        there = np.minimum(level, known)
        offset = self._first_of_level[there]
        count = (
            np.where(level <= known, self._first_of_level[there + 1] - offset, 0)
            if known >= 0
            else 0 * level
        )
        first = np.searchsorted(
            self._sorted_keys, level * _LEVEL_APART + low, "left" if from_low else "right"
        )
        high = low + span
        again = high >= _TURN
        last = np.searchsorted(
            self._sorted_keys, level * _LEVEL_APART + np.where(again, high - _TURN, high), "right"
        )
        number = np.where(count > 0, last - first + count * again, 0)
        question = np.repeat(np.arange(len(level)), number)
        within = np.arange(len(question)) - np.repeat(
            np.cumsum(number) - number - first + offset, number
        )
        size = count[question]
        place = within - size * (within >= size)
        return question, self.order[place + offset[question]]


def arcs_of(starts: FloatArray, stops: FloatArray, level: IntArray) -> tuple[Arcs, FloatArray]:
    """The arcs that segments span about the origin, and how far each turns, + as angles grow."""
    first, last = (np.arctan2(ends[:, 1], ends[:, 0]) for ends in (starts, stops))
    turn = last - first
    turn -= _TURN * np.round(turn / _TURN)
    low = np.mod(np.where(turn >= 0.0, first, last), _TURN)
    return Arcs(level, np.where(low >= _TURN, 0.0, low), np.abs(turn)), turn


def points_as_arcs(points: FloatArray, level: IntArray) -> Arcs:
    """Points as arcs of no span."""
    low = np.mod(np.arctan2(points[:, 1], points[:, 0]), _TURN)
    return Arcs(level, np.where(low >= _TURN, 0.0, low), np.zeros(len(low)))


def reach_angle(radius: FloatArray, reach: FloatArray | float) -> FloatArray:
    """Angle, radians, within which lies all that is within `reach` of a point at a radius."""
    angle: FloatArray = np.arcsin(np.minimum(reach / np.maximum(radius, 1e-12), 1.0))
    return np.where(radius <= reach, math.pi, angle)


def meeting(one: Arcs, other: Arcs) -> tuple[IntArray, IntArray]:
    """Pairs of arcs, one of each, that share an angle on a level; touching counts."""
    first, second = other.starting_within(one.level, one.low, one.span, from_low=True)
    third, fourth = one.starting_within(other.level, other.low, other.span, from_low=False)
    return np.concatenate([first, fourth]), np.concatenate([second, third])


@dataclass(frozen=True, eq=False)
class Outlines:
    """Segments of sections about a middle, with all that is asked of them.

    starts, stops : (k, 2) mm, from the middle
    arcs : (k,) what each spans, seen from the middle
    turn : (k,) radians, from its start to its stop
    along, length : (k,) mm, along its loop to the start of each, and of the whole loop
    loop, level : (k,) int
    is_void : (k,) whether the loop runs round a void
    windings : (k,) how often the loop runs round the middle, + as angles grow
    """

    starts: FloatArray
    stops: FloatArray
    arcs: Arcs
    turn: FloatArray
    along: FloatArray
    length: FloatArray
    loop: IntArray
    level: IntArray
    is_void: BoolArray
    windings: IntArray

    def __getitem__(self, chosen: BoolArray | IntArray) -> Outlines:
        if chosen.dtype == np.bool_:
            chosen = np.flatnonzero(chosen)
        return Outlines(
            self.starts[chosen],
            self.stops[chosen],
            self.arcs[chosen],
            self.turn[chosen],
            self.along[chosen],
            self.length[chosen],
            self.loop[chosen],
            self.level[chosen],
            self.is_void[chosen],
            self.windings[chosen],
        )

    def __len__(self) -> int:
        return len(self.level)

    def radial_reach(self) -> tuple[FloatArray, FloatArray]:
        """(k,), (k,) mm, bounds of each segment's least and greatest distance from the middle."""
        radii = [np.hypot(ends[:, 0], ends[:, 1]) for ends in (self.starts, self.stops)]
        low, high = np.minimum(*radii), np.maximum(*radii)
        return low * np.cos(np.minimum(self.arcs.span, np.pi / 2.0)), high


def outlines_of(sections: Sections, middle: FloatArray) -> Outlines:
    """All segments of sections, seen from a middle, by level and angle."""
    starts, stops = sections.starts - middle, sections.stops - middle
    arcs, turn = arcs_of(starts, stops, sections.level)
    windings = np.bincount(sections.loop, turn, minlength=len(sections.loop_area)) / _TURN
    every = Outlines(
        starts,
        stops,
        arcs,
        turn,
        sections.along,
        sections.loop_length[sections.loop],
        sections.loop,
        sections.level,
        (sections.loop_area < 0.0)[sections.loop],
        np.round(windings).astype(np.int64)[sections.loop],
    )
    return every[arcs.order]  # what is in order is found, and ordered again, sooner
