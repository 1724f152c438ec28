"""Triangles of a large simple polygon, by cutting off many ears at once, round after round.

Ears that are not neighbours do not overlap, so all that are rounder than both their
neighbours go in one round. A polygon of thousands of corners is gone after some tens.
"""

from __future__ import annotations

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .ear_clipping import FLAT, clip_ears

_FEW = 250
"""So many corners are cut off one by one."""

_SPREAD = 0.6180339887
"""Golden section: multiples of it, whole turns off, set neighbours apart."""


def clip_in_rounds(points: FloatArray) -> IntArray:
    """Triangles of a simple polygon, as `ear_clipping.clip_ears` makes them.

    Parameters
    ----------
    points : (n, 2) float, mm, counter-clockwise; may touch itself along bridges

    Returns
    -------
    (n - 2, 3) indices, counter-clockwise
    """
    ring = np.arange(len(points))
    parts: list[IntArray] = []
    while len(ring) > _FEW:
        before, after = np.roll(ring, 1), np.roll(ring, -1)
        chosen = _choose(points, before, ring, after)
        if not chosen.any():
            break
        parts.append(np.column_stack([before, ring, after])[chosen])
        ring = ring[~chosen]
    parts.append(ring[np.array(clip_ears(points[ring]))])
    return np.vstack(parts)


def _choose(points: FloatArray, before: IntArray, ring: IntArray, after: IntArray) -> BoolArray:
    """(n,) ears to cut off now: open, of the rounder half, rounder than their neighbours."""
    a, b, c = points[before], points[ring], points[after]
    height, roundness = _measures(a, b, c)
    blunt = height < FLAT
    is_open = ~blunt
    sharp = np.flatnonzero(is_open)
    is_open[sharp[_any_inside(a[sharp], b[sharp], c[sharp], b[blunt])]] = False
    if not is_open.any():
        return is_open
    score = np.round(2.0 * np.log2(np.maximum(roundness, 1e-12))) + np.mod(ring * _SPREAD, 1.0)
    score[~is_open | (score < np.median(score[is_open]))] = -np.inf
    best = (score > np.roll(score, 1)) & (score >= np.roll(score, -1))
    chosen: BoolArray = best & np.isfinite(score)
    return chosen


def _measures(a: FloatArray, b: FloatArray, c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far each corner b stands off the line past it, mm, and how round its ear is."""
    arm, onward, closing = b - a, c - b, c - a
    area = arm[:, 0] * onward[:, 1] - arm[:, 1] * onward[:, 0]
    cut = (closing**2).sum(axis=1)
    longest = np.maximum(np.maximum((arm**2).sum(axis=1), (onward**2).sum(axis=1)), cut)
    return area / np.maximum(np.sqrt(cut), 1e-300), area / np.maximum(longest, 1e-300)


def _any_inside(a: FloatArray, b: FloatArray, c: FloatArray, others: FloatArray) -> BoolArray:
    """(n,) whether any other point lies in a triangle, or on it but in no corner."""
    others = others[np.argsort(others[:, 0], kind="stable")]
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    first = np.searchsorted(others[:, 0], low[:, 0], side="left")
    counts = np.searchsorted(others[:, 0], high[:, 0], side="right") - first
    which = np.repeat(np.arange(len(a)), counts)
    point = np.arange(len(which)) + np.repeat(first - np.cumsum(counts) + counts, counts)
    y = others[point, 1]
    level = (y >= low[which, 1]) & (y <= high[which, 1])
    which, place = which[level], others[point[level]]
    inside = np.ones(len(which), bool)
    for start, end in ((a, b), (b, c), (c, a)):
        side, arm = (end - start)[which], place - start[which]
        inside &= side[:, 0] * arm[:, 1] - side[:, 1] * arm[:, 0] >= 0.0
        inside &= (arm != 0.0).any(axis=1)
    found = np.zeros(len(a), bool)
    found[which[inside]] = True
    return found
