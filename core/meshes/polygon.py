"""Triangles inside plane polygons and between rings."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .ear_rounds import clip_in_rounds

_NEAREST = 32
"""Bridges tried before all others are put in order."""


def fill_polygon(points: FloatArray, outer: IntArray, holes: list[IntArray]) -> IntArray:
    """Triangles of a polygon with holes, all corners kept.

    Parameters
    ----------
    points : (n, 2) float
    outer : counter-clockwise indices
    holes : clockwise indices each
    """
    ring = [int(corner) for corner in outer]
    waiting = sorted(holes, key=lambda loop: float(points[loop][:, 0].max()))
    while waiting:
        loops = [np.array(ring), *waiting]
        starts = np.vstack([points[loop] for loop in loops])
        ends = np.vstack([points[np.roll(loop, -1)] for loop in loops])
        ring = _with_bridge(points, ring, waiting.pop().tolist(), starts, ends)
    numbers = np.array(ring)
    faces: IntArray = numbers[clip_in_rounds(points[numbers])]
    return faces


def _with_bridge(
    points: FloatArray, ring: list[int], hole: list[int], starts: FloatArray, ends: FloatArray
) -> list[int]:
    """The ring led along a bridge to a hole, around it, and back.

    The bridge is the shortest that crosses no edge (from starts to ends) and starts
    at no corner that already has one: there it would be open to which side it lies.
    Where outlines cross each other and leave no such way it is the shortest of all.
    """
    corners = np.array(ring)
    free = np.flatnonzero(np.bincount(corners)[corners] == 1)
    arms = points[corners[free]][:, None] - points[hole][None]
    gaps = (arms**2).sum(axis=2).ravel()
    ways = (
        flat
        for flat in _by_length(gaps)
        if not _crosses(
            points[corners[free[flat // len(hole)]]], points[hole[flat % len(hole)]], starts, ends
        )
    )
    i, j = divmod(next(ways, int(gaps.argmin())), len(hole))
    at = int(free[i])
    return ring[: at + 1] + hole[j:] + hole[: j + 1] + ring[at:]


def _by_length(gaps: FloatArray) -> Iterator[int]:
    """Numbers of gaps, the shortest first; all are put in order only if it comes to that."""
    some = np.argpartition(gaps, min(_NEAREST, len(gaps) - 1))[:_NEAREST]
    yield from some[np.argsort(gaps[some], kind="stable")].tolist()
    yield from np.argsort(gaps, kind="stable").tolist()


def _crosses(p: FloatArray, q: FloatArray, starts: FloatArray, ends: FloatArray) -> bool:
    """Does the segment pq run through any of the segments (touching at ends is allowed)?"""
    across = side_of(p, q, starts) * side_of(p, q, ends) < 0.0
    along = side_of(starts, ends, p) * side_of(starts, ends, q) < 0.0
    return bool((across & along).any())


def side_of(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
    """Twice the area of (..., 2) points a, b, c: positive where c lies left of the line ab."""
    turned: FloatArray = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (
        b[..., 1] - a[..., 1]
    ) * (c[..., 0] - a[..., 0])
    return turned


def stitch(first: FloatArray, second: FloatArray, *, closed: bool) -> IntArray:
    """Triangles of the band between two chains of points about one centre.

    Parameters
    ----------
    first, second : angles of the chains' points, growing in the main (noise may turn
        back a little); the first chain is the one that a viewer with the band's
        front before them sees below, with angles growing to the right
    closed : the chains run once around; else they start side by side, less than half a
        turn apart, and end where they end

    Returns
    -------
    (m, 3) indices, the second chain's counted on from the first's.
    """
    n, m = len(first), len(second)
    first, second = _unwrapped(first), _unwrapped(second)
    if not closed:
        return zip_chains(first, _started_near(second, first[0]))
    turn = int(np.argmin(np.abs(np.exp(1j * second) - np.exp(1j * first[0]))))
    second = _started_near(_unwrapped(np.roll(second, -turn)), first[0])
    faces = zip_chains(
        np.append(first, first[0] + 2.0 * np.pi), np.append(second, second[0] + 2.0 * np.pi)
    )
    on_first = faces <= n
    closed_faces: IntArray = np.where(on_first, faces % n, n + (faces - n - 1 + turn) % m)
    return closed_faces


def unfold(points: FloatArray, strip: IntArray, first_count: int) -> IntArray:
    """A stitched strip in which triangles folded over are mended with the one beside them.

    Where a chain runs almost straight to or from the centre, the step along it may have
    been taken on the wrong side of the nearest point of the other chain: it changes
    places with the step before or after, if both triangles then are counter-clockwise.

    Parameters
    ----------
    points : (n, 2) of the first chain, then of the second
    strip : (m, 3) as `stitch` gives it
    first_count : points of the first chain
    """
    mended = strip.copy()
    for k in np.flatnonzero(doubled_areas(points, strip) <= 0.0).tolist():
        for before in (k, (k - 1) % len(strip)):
            pair = [before, (before + 1) % len(strip)]
            changed = _steps_changed(mended[pair], first_count)
            if changed is not None and (doubled_areas(points, changed) > 0.0).all():
                mended[pair] = changed
                break
    return mended


def _steps_changed(pair: IntArray, first_count: int) -> IntArray | None:
    """Two triangles of a strip with their steps in the other order; None if both go alike."""
    (here, ahead, there), (_, onward, beyond) = pair.tolist()
    if (ahead < first_count) == (onward < first_count):
        return None
    if ahead < first_count:  # along the first chain, then along the second
        return np.array([[here, onward, there], [here, ahead, onward]])
    return np.array([[here, onward, there], [onward, beyond, there]])


def zip_chains(first: FloatArray, second: FloatArray) -> IntArray:
    """Triangles between two chains of points that run side by side.

    Of the two steps that could come next, one on each chain, that one is taken whose
    middle comes first.

    Parameters
    ----------
    first, second : how far along each point lies, growing in the main

    Returns
    -------
    (n + m - 2, 3) indices, the second chain's counted on from the first's; with the
    first chain below and growing to the right, they are counter-clockwise.
    """
    n = len(first)
    middles = [np.maximum.accumulate(keys[1:] + keys[:-1]) for keys in (first, second)]
    is_first: BoolArray = np.argsort(np.concatenate(middles), kind="stable") < n - 1
    i: IntArray = np.cumsum(is_first) - is_first
    j: IntArray = n + np.cumsum(~is_first) - ~is_first
    faces: IntArray = np.column_stack([i, np.where(is_first, i + 1, j + 1), j])
    return faces


def _unwrapped(angles: FloatArray) -> FloatArray:
    """The angles without jumps of a whole turn, from the first one on."""
    steps = np.diff(angles)
    steps -= np.round(steps / (2.0 * np.pi)) * (2.0 * np.pi)
    whole: FloatArray = angles[0] + np.concatenate([[0.0], np.cumsum(steps)])
    return whole


def _started_near(angles: FloatArray, start: float) -> FloatArray:
    """The angles moved by whole turns, so that the first is within half a turn of `start`."""
    moved: FloatArray = angles + (2.0 * np.pi) * np.round((start - angles[0]) / (2.0 * np.pi))
    return moved


def doubled_areas(points: FloatArray, faces: IntArray) -> FloatArray:
    """(m,) twice the area of plane triangles, mm2; negative where they run clockwise."""
    return side_of(*(points[faces[:, k]] for k in range(3)))


def signed_area(points: FloatArray) -> float:
    """Area, mm2, of a polygon; negative where it runs clockwise."""
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0)
