"""The straight line that most centres of sections lie on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, IntArray, read_only

_VOTERS = 48
_TUKEY = 4.685
_ROUNDS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """Centre = origin + drift * height, both (2,)."""

    origin: FloatArray
    drift: FloatArray

    def __post_init__(self) -> None:
        read_only(self.origin)
        read_only(self.drift)

    def at(self, heights: FloatArray) -> FloatArray:
        """(k, 2) mm."""
        points: FloatArray = self.origin + heights[:, None] * self.drift
        return points

    def misses(self, heights: FloatArray, points: FloatArray) -> FloatArray:
        """(k,) mm, distances of points from the line, across the heights."""
        misses: FloatArray = np.linalg.norm(points - self.at(heights), axis=1)
        return misses


def fit_line(
    heights: FloatArray, points: FloatArray, weights: FloatArray, tolerance: float
) -> Line:
    """The line through two points that holds most others, fitted to those with Tukey's weights.

    Parameters
    ----------
    heights : (k,) mm, k >= 2, not all the same
    points : (k, 2) mm
    weights : (k,) of each
    tolerance : mm, how far off the line a point may lie and still be on it

    References
    ----------
    A. E. Beaton, J. W. Tukey (1974), "The fitting of power series, meaning
    polynomials", Technometrics 16, 147-185 (the biweight; 4.685 by common practice).
    """
    line = _voted(heights, points, weights, tolerance)
    scale = tolerance
    for _ in range(_ROUNDS):
        misses = line.misses(heights, points)
        near = misses < scale
        kept = weights * near * (1.0 - (misses / scale) ** 2) ** 2
        line = _least_squares(heights, points, kept)
        spread = np.median(line.misses(heights, points)[near])
        scale = min(scale, max(_TUKEY * 1.4826 * float(spread), 1e-3))
    return line


def _voted(heights: FloatArray, points: FloatArray, weights: FloatArray, tolerance: float) -> Line:
    chosen = _evenly(heights)
    first, second = np.triu_indices(len(chosen), 1)
    first, second = chosen[first], chosen[second]
    drifts = (points[second] - points[first]) / (heights[second] - heights[first])[:, None]
    origins = points[first] - drifts * heights[first, None]
    places = origins[:, None] + drifts[:, None] * heights[chosen, None]
    misses = np.linalg.norm(places - points[chosen], axis=2)
    votes = ((1.0 - misses / tolerance).clip(0.0) * weights[chosen]).sum(axis=1)
    best = int(votes.argmax())
    return Line(origins[best], drifts[best])


def _evenly(heights: FloatArray) -> IntArray:
    """Numbers of some heights at about even steps."""
    steps = np.linspace(float(heights.min()), float(heights.max()), _VOTERS)
    numbers: IntArray = np.unique(np.searchsorted(heights, steps).clip(0, len(heights) - 1))
    return numbers


def _least_squares(heights: FloatArray, points: FloatArray, weights: FloatArray) -> Line:
    root = np.sqrt(weights)
    system = np.column_stack([root, root * heights])
    origin, drift = np.linalg.lstsq(system, root[:, None] * points, rcond=None)[0]
    return Line(origin, drift)
