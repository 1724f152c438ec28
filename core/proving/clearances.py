"""The clearance between tenon and socket, level by level: how far apart their outlines lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import BoolArray, FloatArray, IntArray, read_only
from .arcs import Outlines
from .nearness import nearest_distances
from .overlaps import windings_at

_WIDEST_GAP = np.radians(0.2)
"""An outline open for longer than this, seen from the middle, is not all round."""

_LEVEL_APART = 32.0
"""Between the angles of two levels on one line: more than three turns."""


@dataclass(frozen=True, slots=True, eq=False)
class Facing:
    """What tenon and socket turn to each other, of the outlines of one piece.

    outlines : the segments
    piece : all outlines of the piece
    off_key, off_key_after : (k,) whether start and stop of each segment miss the key
    """

    outlines: Outlines
    piece: Outlines
    off_key: BoolArray
    off_key_after: BoolArray


@dataclass(frozen=True, slots=True, eq=False)
class Clearances:
    """Samples of the clearance: at every corner of tenon and socket, to the other's outline.

    level : (n,) int
    distance : (n,) mm, negative where the corner lies in the other's material
    off_key : (n,) whether the corner misses the key
    open : (s,) of the levels on which tenon or socket is not all round, off the key
    """

    level: IntArray
    distance: FloatArray
    off_key: BoolArray
    open: BoolArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))


def measure_clearances(
    tenon: Facing, socket: Facing, touched: BoolArray, reach: float
) -> Clearances:
    """Measure both ways.

    Parameters
    ----------
    touched : (s,) the levels on which outlines may cross
    reach : mm, up to which distances are exact; what is farther may be told too far
    """
    both = (tenon, socket)
    levels = len(touched)
    return Clearances(
        np.concatenate([one.outlines.level for one in both]),
        np.concatenate([_signed(one, other, touched, reach) for one, other in (both, both[::-1])]),
        np.concatenate([one.off_key for one in both]),
        _is_open(tenon, levels) | _is_open(socket, levels),
    )


def _signed(one: Facing, other: Facing, touched: BoolArray, reach: float) -> FloatArray:
    """(k,) mm, from the starts of one's segments to the other; negative in its material."""
    points, level = one.outlines.starts, one.outlines.level
    apart = nearest_distances(points, level, other.outlines, reach)
    doubtful = np.flatnonzero(touched[level])
    inside = windings_at(points[doubtful], level[doubtful], other.piece) > 0
    apart[doubtful[inside]] *= -1.0
    return apart


def _is_open(facing: Facing, levels: int) -> BoolArray:
    """(s,) levels on which segments leave an angle open, but for the key's own."""
    arcs, onward = facing.outlines.arcs, facing.outlines.turn > 0.0
    off_low = np.where(onward, facing.off_key, facing.off_key_after)
    off_high = np.where(onward, facing.off_key_after, facing.off_key)
    twice = np.concatenate([arcs.order, arcs.order])
    low = arcs.level[twice] * _LEVEL_APART + arcs.low[twice]
    low += np.repeat([0.0, 2.0 * np.pi], len(arcs.order))
    again = np.argsort(low, kind="stable")
    order, low = twice[again], low[again]
    gaps = low[1:] - np.maximum.accumulate(low + arcs.span[order])[:-1]
    before, after = order[:-1], order[1:]
    excused = ~off_high[before] & ~off_low[after] & (gaps < np.pi)
    found = (arcs.level[before] == arcs.level[after]) & (gaps > _WIDEST_GAP) & ~excused
    is_open: BoolArray = np.bincount(arcs.level, minlength=levels) == 0
    is_open[arcs.level[after[found]]] = True
    return is_open
