"""Triangles inside plane polygons and between rings."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray, IntArray
from .ear_clipping import Triple, clip_ears


def fill_polygon(points: FloatArray, outer: IntArray, holes: list[IntArray]) -> list[Triple]:
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
    return [(ring[a], ring[b], ring[c]) for a, b, c in clip_ears(points[np.array(ring)])]


def _with_bridge(
    points: FloatArray, ring: list[int], hole: list[int], starts: FloatArray, ends: FloatArray
) -> list[int]:
    """The ring led along a bridge to a hole, around it, and back.

    The bridge is the shortest that crosses no edge (from starts to ends) and starts
    at no corner that already has one: there it would be open to which side it lies.
    """
    counts = np.bincount(ring)
    free = [k for k, corner in enumerate(ring) if counts[corner] == 1]
    gaps = np.linalg.norm(points[[ring[k] for k in free]][:, None] - points[hole][None], axis=2)
    for flat in np.argsort(gaps, axis=None, kind="stable"):
        i, j = divmod(int(flat), len(hole))
        if not _crosses(points[ring[free[i]]], points[hole[j]], starts, ends):
            break
    at = free[i]
    return ring[: at + 1] + hole[j:] + hole[: j + 1] + ring[at:]


def _crosses(p: FloatArray, q: FloatArray, starts: FloatArray, ends: FloatArray) -> bool:
    """Does the segment pq run through any of the segments (touching at ends is allowed)?"""

    def side(a: FloatArray, b: FloatArray, c: FloatArray) -> FloatArray:
        turned: FloatArray = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (
            b[..., 1] - a[..., 1]
        ) * (c[..., 0] - a[..., 0])
        return turned

    across = side(p, q, starts) * side(p, q, ends) < 0.0
    along = side(starts, ends, p) * side(starts, ends, q) < 0.0
    return bool((across & along).any())


def stitch(first: FloatArray, second: FloatArray, *, closed: bool) -> list[Triple]:
    """Triangles of the band between two chains of points about one centre.

    Parameters
    ----------
    first, second : angles of the chains' points, growing in the main (noise may turn
        back a little); the first chain is the one that a viewer with the band's
        front before them sees below, with angles growing to the right
    closed : the chains run once around; else they end where they end

    Returns
    -------
    Triples of indices, the second chain's counted on from the first's.
    """
    n, m = len(first), len(second)
    first, second = _unwrapped(first), _unwrapped(second)
    if closed:
        turn = int(np.argmin(np.abs(np.exp(1j * second) - np.exp(1j * first[0]))))
        second = _unwrapped(np.roll(second, -turn))
        second += np.angle(np.exp(1j * (second[0] - first[0]))) + first[0] - second[0]
        first = np.append(first, first[0] + 2.0 * np.pi)
        second = np.append(second, second[0] + 2.0 * np.pi)
    else:
        turn = 0
    i = j = 0
    triangles: list[Triple] = []
    while i < len(first) - 1 or j < len(second) - 1:
        here, there = i % n, n + (j + turn) % m
        step_first = i < len(first) - 1 and (
            j == len(second) - 1 or first[i] + first[i + 1] <= second[j] + second[j + 1]
        )
        if step_first:
            triangles.append((here, (i + 1) % n, there))
            i += 1
        else:
            triangles.append((here, n + (j + 1 + turn) % m, there))
            j += 1
    return triangles


def _unwrapped(angles: FloatArray) -> FloatArray:
    """The angles without jumps of a whole turn, from the first one on."""
    steps = np.angle(np.exp(1j * np.diff(angles)))
    whole: FloatArray = angles[0] + np.concatenate([[0.0], np.cumsum(steps)])
    return whole


def signed_area(points: FloatArray) -> float:
    """Area, mm2, of a polygon; negative where it runs clockwise."""
    x, y = points.T
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0)
