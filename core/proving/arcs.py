"""Which segments of sections face each other, seen from a middle: arcs of angle that meet.

What lies within a distance of a point lies within an angle of it, seen from the middle, so
that only few segments need be measured against each other.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..meshes.angles import plane_lengths
from ..values import BoolArray, FloatArray, IntArray
from .section import Sections

_TURN = 2.0 * math.pi
_LEVEL_APART = 8.0
"""Between the angles of two levels on one line: more than a turn."""
_PAST_TURN = 7.0
"""Past all angles of a level, on that line, and short of those of the next one."""


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

    def starting_within(self, asked: Arcs, *, from_low: bool) -> tuple[IntArray, IntArray]:
        """Pairs (question, arc): arcs of a level that start within an arc asked for.

        from_low : whether an arc that starts where the one asked for does counts
        """
        high = asked.low + asked.span
        again = np.flatnonzero(high >= _TURN)
        level = asked.level * _LEVEL_APART
        first = np.searchsorted(self._sorted_keys, asked._keys, "left" if from_low else "right")
        last = np.searchsorted(self._sorted_keys, level + np.minimum(high, _PAST_TURN), "right")
        around = level[again]
        number = np.concatenate(
            [last, np.searchsorted(self._sorted_keys, around + (high[again] - _TURN), "right")]
        )
        first = np.concatenate([first, np.searchsorted(self._sorted_keys, around, "left")])
        number -= first
        question = np.concatenate([np.arange(len(high)), again]).repeat(number)
        skipped = first - np.cumsum(number) + number
        return question, self.order[np.arange(len(question)) + skipped.repeat(number)]


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
    first, second = other.starting_within(one, from_low=True)
    third, fourth = one.starting_within(other, from_low=False)
    return np.concatenate([first, fourth]), np.concatenate([second, third])


@dataclass(frozen=True, eq=False)
class Outlines:
    """Segments of sections about a middle, with all that is asked of them.

    ends : (4, k) mm, from the middle: x and y of the start, and of the stop, of each
    arcs : (k,) what each spans, seen from the middle
    turn : (k,) radians, from its start to its stop
    along, length : (k,) mm, along its loop to the start of each, and of the whole loop
    loop, level : (k,) int
    is_void : (k,) whether the loop runs round a void
    windings : (k,) how often the loop runs round the middle, + as angles grow
    """

    ends: FloatArray
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
            if chosen.all():
                return self
            chosen = np.flatnonzero(chosen)
        return Outlines(
            self.ends.take(chosen, axis=1),
            self.arcs[chosen],
            self.turn.take(chosen),
            self.along.take(chosen),
            self.length.take(chosen),
            self.loop.take(chosen),
            self.level.take(chosen),
            self.is_void.take(chosen),
            self.windings.take(chosen),
        )

    @property
    def starts(self) -> FloatArray:
        """(k, 2) mm, from the middle."""
        return self.ends[:2].T

    @property
    def stops(self) -> FloatArray:
        """(k, 2) mm, from the middle."""
        return self.ends[2:].T

    def __len__(self) -> int:
        return len(self.level)

    def radial_reach(self) -> tuple[FloatArray, FloatArray]:
        """(k,), (k,) mm, bounds of each segment's least and greatest distance from the middle."""
        return self._radial_reach

    @cached_property
    def _radial_reach(self) -> tuple[FloatArray, FloatArray]:
        radii = plane_lengths(*self.ends[:2]), plane_lengths(*self.ends[2:])
        low, high = np.minimum(*radii), np.maximum(*radii)
        return low * np.cos(np.minimum(self.arcs.span, np.pi / 2.0)), high

    def reach_by_level(self, levels: int) -> tuple[FloatArray, FloatArray]:
        """Each (levels or more,) mm, bounds of the least and greatest distance on each level.

        Infinite and 0 where there is nothing.
        """
        levels = max(levels, int(self.level.max(initial=0)) + 1)
        inner, outer = np.full(levels, math.inf), np.zeros(levels)
        low, high = self.radial_reach()
        heads = np.flatnonzero(np.diff(self.level, prepend=-1))
        if len(heads):
            np.minimum.at(inner, self.level[heads], np.minimum.reduceat(low, heads))
            np.maximum.at(outer, self.level[heads], np.maximum.reduceat(high, heads))
        return inner, outer

    @cached_property
    def lengths(self) -> FloatArray:
        """(k,) mm, of each segment."""
        return plane_lengths(*(self.ends[2:] - self.ends[:2]))

    @cached_property
    def inward(self) -> tuple[FloatArray, FloatArray]:
        """(k,), (k,) x and y of unit normals, into the material."""
        x, y = (self.ends[2:] - self.ends[:2]) / np.maximum(self.lengths, 1e-12)
        return -y, x


def outlines_of(sections: Sections, middle: FloatArray) -> Outlines:
    """All segments of sections, seen from a middle, by level and angle."""
    ends = np.vstack([(sections.starts - middle).T, (sections.stops - middle).T])
    arcs, turn = arcs_of(ends[:2].T, ends[2:].T, sections.level)
    windings = np.bincount(sections.loop, turn, minlength=len(sections.loop_area)) / _TURN
    every = Outlines(
        ends,
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
