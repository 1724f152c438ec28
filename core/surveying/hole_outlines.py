"""Outlines of side holes: rounded rectangles (circle and slot among them) and ellipses.

Both are fitted to points by least squares of their distances. The points may be of a
wall that runs along a direction: then the outline drifts with the height along it, so
that the direction is found too.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..values import BoolArray, FloatArray, read_only

_FEW_STEPS, _STEPS = 8, 40
_MOST_POINTS = 800
_STARTS = (0.0, math.pi / 4.0)
_CORNERS = (1.0, 0.2)
_LEAST_HALF = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """A closed outline about a centre, in a plane.

    centre : (2,) mm, at height 0
    drift : (2,) mm that the centre moves per mm of height
    half : half lengths along the outline's own two axes, mm
    turn : radians, from the plane's first axis to the outline's
    corner : radius of a rounded rectangle's corners, mm; an ellipse's is 0
    rms : mm, of the points' distances
    """

    kind: Literal["rounded", "ellipse"]
    centre: FloatArray
    drift: FloatArray
    half: tuple[float, float]
    turn: float
    corner: float
    rms: float

    def __post_init__(self) -> None:
        read_only(self.centre)
        read_only(self.drift)

    def distances(self, points: FloatArray, heights: FloatArray) -> FloatArray:
        """(n,) mm, how far points lie outside; exact for rectangles, near the ellipse else."""
        return _distances(self.kind, points, heights, _state_of(self))

    def points(self, count: int) -> FloatArray:
        """(about count, 2) points on the outline at height 0, about the centre."""
        turn = 2.0 * math.pi * np.arange(count) / count
        circle = np.column_stack([np.cos(turn), np.sin(turn)])
        if self.kind == "ellipse":
            flat = circle * self.half
        else:
            inner = np.maximum(np.array(self.half) - self.corner, 0.0)
            flat = self.corner * circle + inner * np.sign(np.round(circle, 9))
        cosine, sine = math.cos(self.turn), math.sin(self.turn)
        turned: FloatArray = flat @ np.array([[cosine, sine], [-sine, cosine]])
        return turned


def fit_outline(points: FloatArray, heights: FloatArray, *, drifting: bool) -> Outline:
    """The rounded rectangle or ellipse, whichever is nearer to the points.

    Minimises the sum of squared distances.

    Parameters
    ----------
    points : (n, 2) mm, n >= 4
    heights : (n,) mm along the wall
    drifting : whether the centre may move with the height
    """
    if len(points) > _MOST_POINTS:
        some = np.random.default_rng(0).choice(len(points), _MOST_POINTS, replace=False)
        points, heights = points[some], heights[some]
    free = np.ones(8, bool)
    free[2:4] = drifting and float(np.ptp(heights)) > 0.0
    starts = [_start(points, turn, corner) for turn in _STARTS for corner in _CORNERS]
    found = [_descend("rounded", points, heights, start, free, _FEW_STEPS) for start in starts]
    free[7] = False
    found += [
        _descend("ellipse", points, heights, _start(points, turn, 0.0), free, _FEW_STEPS)
        for turn in _STARTS
    ]
    best = min(found, key=lambda outline: outline.rms)
    free[7] = best.kind == "rounded"
    return _descend(best.kind, points, heights, _state_of(best), free, _STEPS)


def _start(points: FloatArray, turn: float, corner: float) -> FloatArray:
    """Centre, drift, half lengths, turn and corner of the box about the points."""
    cosine, sine = math.cos(turn), math.sin(turn)
    turned = points @ np.array([[cosine, -sine], [sine, cosine]])
    low, high = turned.min(axis=0), turned.max(axis=0)
    middle, half = (low + high) / 2.0, np.maximum((high - low) / 2.0, _LEAST_HALF)
    centre = middle @ np.array([[cosine, sine], [-sine, cosine]])
    return np.array([*centre, 0.0, 0.0, *half, turn, corner * half.min()])


def _state_of(outline: Outline) -> FloatArray:
    return np.array([*outline.centre, *outline.drift, *outline.half, outline.turn, outline.corner])


def _distances(kind: str, points: FloatArray, heights: FloatArray, state: FloatArray) -> FloatArray:
    arms = points - state[:2] - heights[:, None] * state[2:4]
    cosine, sine = math.cos(state[6]), math.sin(state[6])
    along = np.abs(arms[:, 0] * cosine + arms[:, 1] * sine)
    beside = np.abs(arms[:, 1] * cosine - arms[:, 0] * sine)
    half = state[4:6]
    if kind == "ellipse":
        reach = np.hypot(along / half[0], beside / half[1])
        slope = np.hypot(along / half[0] ** 2, beside / half[1] ** 2)
        near: FloatArray = (reach - 1.0) * reach / np.maximum(slope, 1e-12)
        return near
    corner = state[7]
    out = along - half[0] + corner
    up = beside - half[1] + corner
    outside = np.hypot(np.maximum(out, 0.0), np.maximum(up, 0.0))
    distances: FloatArray = outside + np.minimum(np.maximum(out, up), 0.0) - corner
    return distances


def _within_bounds(kind: str, state: FloatArray) -> FloatArray:
    """Half lengths stay positive, and a corner's radius within them."""
    kept = state.copy()
    kept[4:6] = np.maximum(kept[4:6], _LEAST_HALF)
    kept[7] = min(max(kept[7], 0.0), float(kept[4:6].min())) if kind == "rounded" else 0.0
    return kept


def _solved(normal: FloatArray, right: FloatArray) -> FloatArray:
    """The step that solves the normal equations; of many the least."""
    try:
        return np.asarray(np.linalg.solve(normal, right))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.lstsq(normal, right, rcond=None)[0])


def _descend(
    kind: Literal["rounded", "ellipse"],
    points: FloatArray,
    heights: FloatArray,
    state: FloatArray,
    free: BoolArray,
    most_steps: int,
) -> Outline:
    """Damped Gauss-Newton steps (Levenberg and Marquardt's), by differences."""
    state = _within_bounds(kind, state)
    misses = _distances(kind, points, heights, state)
    damping, step = 1e-3, 1e-6
    for _ in range(most_steps):
        slopes = np.zeros((len(points), 8))
        for k in np.flatnonzero(free):
            ahead = state.copy()
            ahead[k] += step
            slopes[:, k] = (_distances(kind, points, heights, ahead) - misses) / step
        normal = slopes.T @ slopes
        scale = np.diag(np.diag(normal) + 1e-9 * len(points))
        moved = _within_bounds(kind, state - _solved(normal + damping * scale, slopes.T @ misses))
        tried = _distances(kind, points, heights, moved)
        if tried @ tried < misses @ misses:
            gain = 1.0 - (tried @ tried) / (misses @ misses)
            state, misses, damping = moved, tried, damping / 10.0
            if gain < 1e-9:
                break
        elif damping > 1e6:
            break
        else:
            damping *= 10.0
    return Outline(
        kind,
        state[:2].copy(),
        state[2:4].copy(),
        (float(state[4]), float(state[5])),
        float(state[6]),
        float(state[7]),
        float(np.sqrt(np.mean(misses**2))),
    )
