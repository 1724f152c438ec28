"""Where lines along a round surface cross its loops."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import TURN, short_way
from ..values import FloatArray, IntArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Where edges cross lines: by edge, and along each edge in order.

    edge : (k,) which of the edges given
    line : (k,) which line
    share : (k,) how far along the edge, 0 to 1
    """

    edge: IntArray
    line: IntArray
    share: FloatArray

    def __post_init__(self) -> None:
        read_only(self.edge)
        read_only(self.line)
        read_only(self.share)


def cross_lines(start: FloatArray, end: FloatArray, lines: FloatArray) -> Crossings:
    """Which lines edges cross on their short way round.

    A vertex that lies on a line counts as lying before it, wherever it is asked, so
    that a loop crosses a line as often one way as the other.

    Parameters
    ----------
    start, end : (n,) angles of the ends of edges, in [-pi, pi]
    lines : ascending angles in [-pi, pi)
    """
    count = len(lines)
    step = short_way(end - start)
    wraps = np.round((start + step - end) / TURN).astype(np.int64)
    before = np.searchsorted(lines, start, side="left")
    passed = np.searchsorted(lines, end, side="left") + count * wraps - before
    number = np.where(step > 0.0, passed.clip(0), -passed.clip(None, 0))
    edge = np.repeat(np.arange(len(start)), number)
    rank = np.arange(len(edge)) - np.repeat(np.cumsum(number) - number, number)
    forward = step[edge] > 0.0
    line = np.mod(np.where(forward, before[edge] + rank, before[edge] - 1 - rank), count)
    ahead = short_way(lines[line] - start[edge])
    share = (ahead / np.where(step == 0.0, 1.0, step)[edge]).clip(0.0, 1.0)
    return Crossings(edge, line, share)
