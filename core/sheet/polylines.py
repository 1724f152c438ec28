"""Lines from many short runs: joined where they meet, and simplified."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray


def joined(runs: FloatArray, tolerance: float) -> list[FloatArray]:
    """Lines, (k, 2) points each, of runs, (n, 2, 2), joined end to end where just two meet.

    Parameters
    ----------
    tolerance : mm, ends nearer to each other are taken for one
    """
    runs = runs[np.hypot(*(runs[:, 1] - runs[:, 0]).T) > tolerance]
    if not len(runs):
        return []
    keys = np.round(runs.reshape(-1, 2) / tolerance).astype(np.int64)
    _, place = np.unique(keys, axis=0, return_inverse=True)
    place = place.reshape(-1)
    order = np.argsort(place, kind="stable")
    counts = np.bincount(place)
    first = np.cumsum(counts) - counts
    partner = np.full(len(place), -1)
    pairs = first[counts == 2]
    partner[order[pairs]], partner[order[pairs + 1]] = order[pairs + 1], order[pairs]
    return _chains(runs.reshape(-1, 2), partner.tolist())


def _chains(points: FloatArray, partner: list[int]) -> list[FloatArray]:
    """Run after run from each free end; what is left then are rings."""
    used = [False] * (len(partner) // 2)
    free = [end for end, other in enumerate(partner) if other < 0]
    lines = []
    for start in [*free, *range(0, len(partner), 2)]:
        if used[start // 2]:
            continue
        order = [start]
        end = start
        while end >= 0 and not used[end // 2]:
            used[end // 2] = True
            order.append(end ^ 1)
            end = partner[end ^ 1]
        lines.append(points[order])
    return lines


def simplified(line: FloatArray, tolerance: float) -> FloatArray:
    """The line with as few of its points as keep it within a tolerance, mm.

    References
    ----------
    Douglas and Peucker (1973), Algorithms for the reduction of the number of points
    required to represent a digitized line.
    """
    kept = np.zeros(len(line), bool)
    kept[[0, -1]] = True
    stack = [(0, len(line) - 1)]
    while stack:
        first, last = stack.pop()
        if last - first < 2:
            continue
        off = _off_line(line[first + 1 : last], line[first], line[last])
        farthest = int(off.argmax())
        if off[farthest] > tolerance:
            middle = first + 1 + farthest
            kept[middle] = True
            stack += [(first, middle), (middle, last)]
    few: FloatArray = line[kept]
    return few


def _off_line(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Distance of points from a line between two ends, which may be one place."""
    run, arms = end - start, points - start
    length = float(np.hypot(*run))
    if length < 1e-9:
        apart: FloatArray = np.hypot(arms[:, 0], arms[:, 1])
        return apart
    turned: FloatArray = np.abs(run[0] * arms[:, 1] - run[1] * arms[:, 0]) / length
    return turned
