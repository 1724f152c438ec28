"""Lines along a round surface that divide it into strips.

They are close enough for the chord error, and clear of the vertices of all loops
about the surface: a line through a vertex would make outlines that touch.
"""

from __future__ import annotations

import math

import numpy as np

from ..meshes.angles import short_way
from ..values import CHORD_TOLERANCE, FloatArray, RoundSurface

_LEAST_STRIPS = 24
_CLEAR_OF_VERTICES = 0.02
_TRIES = 61
_SHIFT = 0.3


def strip_count(radius: float) -> int:
    """How many facets keep the chord error of a circle within tolerance."""
    return max(_LEAST_STRIPS, math.ceil(math.pi / math.acos(1.0 - CHORD_TOLERANCE / radius)))


def place_lines(surface: RoundSurface, loops: list[FloatArray]) -> FloatArray:
    """Ascending angles of the lines along a surface, clear of all loop vertices.

    Parameters
    ----------
    surface : the widest of those that the lines run along
    loops : the angles of each loop's vertices; a loop that closes on itself within
        a strip gets a line of its own. No strip is wider than the chord error allows.
    """
    radius = max(surface.radius_at(surface.start), surface.radius_at(surface.stop))
    count = strip_count(radius)
    width = 2.0 * math.pi / count
    taken = np.sort(np.concatenate([*loops, np.empty(0)]))
    regular = -math.pi + (np.arange(count) + 0.5) * width
    tries = _SHIFT * width * np.linspace(-1.0, 1.0, _TRIES)
    tries = tries[np.argsort(np.abs(tries), kind="stable")]
    clear = _CLEAR_OF_VERTICES / radius
    lines = _clearest(regular[:, None] + tries[None], taken, clear)
    lines = _wrapped(np.concatenate([lines, _own_lines(loops, lines, taken, clear)]))
    return _with_narrow_strips(lines, width, taken, clear)


def _own_lines(
    loops: list[FloatArray], lines: FloatArray, taken: FloatArray, clear: float
) -> FloatArray:
    """A line for each loop that none of the lines meets."""
    own: list[float] = []
    for loop in loops:
        middle = math.atan2(np.sin(loop).sum(), np.cos(loop).sum())
        reach = short_way(loop - middle)
        inside = short_way(lines - middle)
        around = np.ptp(reach) > math.pi
        if around or ((inside > reach.min()) & (inside < reach.max())).any():
            continue
        tries = middle + np.linspace(0.75 * reach.min(), 0.75 * reach.max(), _TRIES)
        tries = tries[np.argsort(np.abs(tries - middle), kind="stable")]
        own.append(float(_clearest(tries[None], taken, clear)[0]))
    return np.array(own)


def _with_narrow_strips(
    lines: FloatArray, width: float, taken: FloatArray, clear: float
) -> FloatArray:
    """The lines with one more in every strip that their shifts left wider than allowed."""
    gaps: FloatArray = np.diff(lines, append=lines[0] + 2.0 * math.pi)
    wide = np.flatnonzero(gaps > width * (1.0 + 1e-9))
    if not len(wide):
        return lines
    spread = np.linspace(-1.0, 1.0, _TRIES)
    spread = spread[np.argsort(np.abs(spread), kind="stable")]
    middle: FloatArray = lines[wide] + gaps[wide] / 2.0
    reach: FloatArray = width - gaps[wide] / 2.0
    tries: FloatArray = middle.reshape(-1, 1) + reach.reshape(-1, 1) * spread
    return _wrapped(np.concatenate([lines, _clearest(tries, taken, clear)]))


def _wrapped(angles: FloatArray) -> FloatArray:
    """Ascending, in [-pi, pi)."""
    return np.sort(np.mod(angles + math.pi, 2.0 * math.pi) - math.pi)


def _clearest(tries: FloatArray, taken: FloatArray, clear: float) -> FloatArray:
    """Of each row's angles the first that is clear of those taken, else the clearest."""
    if not len(taken):
        return tries[:, 0]
    ring = np.concatenate([taken[-1:] - 2.0 * math.pi, taken, taken[:1] + 2.0 * math.pi])
    angles = np.mod(tries + math.pi, 2.0 * math.pi) - math.pi
    after = np.searchsorted(ring, angles).clip(1, len(ring) - 1)
    gaps = np.minimum(np.abs(ring[after] - angles), np.abs(angles - ring[after - 1]))
    good = gaps >= clear
    column = np.where(good.any(axis=1), good.argmax(axis=1), gaps.argmax(axis=1))
    chosen: FloatArray = tries[np.arange(len(tries)), column]
    return chosen
