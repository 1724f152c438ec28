"""Turning the tenon in its socket about the joint's middle: its play, and where it is free."""

from __future__ import annotations

import math

import numpy as np

from ..meshes.angles import plane_lengths
from ..values import BoolArray, FloatArray, IntArray
from .arcs import Outlines, meeting, points_as_arcs

TOUCH_DEPTH = 1e-3
"""Radial depth, mm, at which surfaces touch: above the rounding of float32."""

PLAY_SOUGHT_DEG = 5.0


def turn_collisions(tenon: FloatArray, socket: FloatArray, depth: float) -> BoolArray:
    """(n,) whether the tenon, turned by 0, 1, ... n - 1 rays, enters the socket by `depth`.

    Parameters
    ----------
    tenon, socket : (s, n) mm, outermost and innermost radii along n rays, on s levels
    depth : mm, radial
    """
    hits = np.zeros(tenon.shape[1], bool)
    for outer, inner in zip(tenon, socket + depth, strict=True):
        if (outer > inner.min()).sum() < (inner < outer.max()).sum():
            hits |= _met_by(outer, inner)
        else:
            hits |= np.roll(_met_by(-inner, -outer)[::-1], 1)
    return hits


def _met_by(high: FloatArray, bound: FloatArray) -> BoolArray:
    """(n,) whether high[i] > bound[i + k] for any i, by turns k from 0 to n - 1."""
    count = len(high)
    chosen = np.flatnonzero(high > bound.min())
    twice = np.concatenate([bound, bound])
    hits = np.zeros(count, bool)
    for ray in chosen.tolist():
        hits |= high[ray] > twice[ray : ray + count]
    return hits


def play_deg(tenon: Outlines, socket: Outlines) -> tuple[float, float]:
    """First turn each way, as angles grow and shrink, at which the two touch.

    A corner touches where it comes to lie on an outline, short of `TOUCH_DEPTH`: corners
    of the tenon on the socket, corners of the socket on the tenon. Without a touch up to
    `PLAY_SOUGHT_DEG` it is infinite.

    Parameters
    ----------
    tenon, socket : the segments that face each other, about the middle
    """
    forth, back = _touching_turns(tenon, socket, -TOUCH_DEPTH)
    other_back, other_forth = _touching_turns(socket, tenon, TOUCH_DEPTH)
    return min(forth, other_forth), min(back, other_back)


def _touching_turns(one: Outlines, other: Outlines, off: float) -> tuple[float, float]:
    """Least turns, degrees, of one's corners moved out by `off`, until they lie on the other."""
    points, level = _corners_within(one, other, off)
    sought = math.radians(PLAY_SOUGHT_DEG)
    arcs = points_as_arcs(points, level)
    which, segment = meeting(arcs.widened(sought), other.arcs)
    x, y = points.T
    radius = plane_lengths(x, y).take(which) + off
    ends = other.ends.take(segment, axis=1)
    (x, y), (dx, dy) = ends[:2], ends[2:] - ends[:2]
    # |start + t along| = radius
    square = np.maximum(dx * dx + dy * dy, 1e-30)
    half = (x * dx + y * dy) / square
    root = half**2 - (x * x + y * y - radius**2) / square
    turns = []
    for sense in (-1.0, 1.0):
        share = -half + sense * np.sqrt(np.maximum(root, 0.0))
        met = (root >= 0.0) & (share >= 0.0) & (share <= 1.0)
        share = share[met]
        turn = np.arctan2(y[met] + share * dy[met], x[met] + share * dx[met])
        turn -= arcs.low[which[met]]
        turns.append(turn - 2.0 * np.pi * np.round(turn / (2.0 * np.pi)))
    every = np.concatenate(turns)
    every = every[np.abs(every) <= sought]
    forth, back = every[every >= 0.0].min(initial=np.inf), -every[every <= 0.0].max(initial=-np.inf)
    return float(np.degrees(forth)), float(np.degrees(back))


def _corners_within(one: Outlines, other: Outlines, off: float) -> tuple[FloatArray, IntArray]:
    """One's corners that, moved out by `off`, lie among the other's radii on their level."""
    points = np.vstack([one.starts, one.stops])
    level = np.concatenate([one.level, one.level])
    inner, outer = other.reach_by_level(int(level.max(initial=0)) + 1)
    radius = plane_lengths(*points.T) + off
    within = (radius >= inner[level]) & (radius <= outer[level])
    return points[within], level[within]
