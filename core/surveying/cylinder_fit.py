"""Cylinders and cones through points, by geometric least squares.

The sum of squared *distances* to the surface is minimised, by Gauss-Newton in a
frame that follows the axis (Lukacs, Martin and Marshall, "Faithful least-squares
fitting of spheres, cylinders, cones and tori for reliable segmentation", ECCV
1998, section 3): stable as the surface flattens, and free of the bias that an
algebraic fit has on short arcs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import DegeneratePoints
from ..meshes.angles import plane_lengths
from ..meshes.products import moments
from ..values import FloatArray, read_only

_MOST_STEPS = 60
_ON_ONE_LINE = 1e-7
"""Share of their length that points may lie off a line by round-off."""


@dataclass(frozen=True, slots=True, eq=False)
class ConeFit:
    """A cone or cylinder: radius = radius_at_point + slope * distance along direction.

    slope_error : standard error of the slope, from the residuals
    """

    point: FloatArray
    direction: FloatArray
    radius_at_point: float
    slope: float
    slope_error: float
    rms_residual: float

    def __post_init__(self) -> None:
        read_only(self.point)
        read_only(self.direction)


def fit_cone(
    points: FloatArray,
    direction_guess: FloatArray,
    *,
    weights: FloatArray | None = None,
    start: ConeFit | None = None,
    slope_free: bool = True,
    direction_free: bool = True,
    most_steps: int = _MOST_STEPS,
) -> ConeFit:
    """Cone (or cylinder) of small taper through noisy points, by geometric least squares.

    Minimises the sum of squared *distances* to the surface; the linear (algebraic)
    circle fit is only the starting guess, for on short noisy arcs it reads the
    radius too small (W. Gander, G. H. Golub, R. Strebel (1994), "Least-squares
    fitting of circles and ellipses", BIT 34, 558-578, section 3).

    Parameters
    ----------
    points : (n, 3) float, mm
    direction_guess : (3,), the axis within some 20 degrees
    weights : (n,) of each squared distance; equal where None
    start : a cone near the one sought, in place of all guesses
    slope_free : False fits a cylinder
    direction_free : False keeps the direction as guessed

    Raises
    ------
    DegeneratePoints : too few points, or they do not determine the surface
    """
    weights = np.ones(len(points)) if weights is None else weights
    if start is None:
        _check_spread(points, 6)
        state = _first_state(points, direction_guess, weights)
    else:
        state = _state_of(start, points, slope_free=slope_free)
    sizes, ways = np.ones(6), np.eye(6)
    free = np.flatnonzero([True, True, direction_free, direction_free, True, slope_free])
    for _ in range(most_steps):
        slopes, residuals = state.slopes(points)
        slopes = slopes[free]
        weighted = slopes * weights
        sizes, ways = np.linalg.eigh(weighted @ slopes.T)
        if sizes[0] <= 1e-14 * sizes[-1]:
            raise DegeneratePoints(
                f"{len(points)} points that no one cylinder or cone fits best",
                "points around an arc and along an axis",
                "a part with a round surface",
            )
        step = np.zeros(6)
        step[free] = ways @ (ways.T @ -np.einsum("ij,j->i", weighted, residuals) / sizes)
        state.take(step)
        if np.abs(step[:2]).max() + np.abs(step[4]) < 1e-11 * max(1.0, state.radius):
            break
    residuals = state.distances(points)[0]
    spread = float(np.einsum("i,i,i->", residuals, residuals, weights) / weights.sum())
    variance = float((ways[-1] ** 2 / sizes).sum()) * spread if slope_free else 0.0
    return ConeFit(
        state.origin,
        state.rows[2].copy(),
        state.radius,
        state.slope,
        float(np.sqrt(variance)),
        float(np.sqrt(spread)),
    )


def _first_state(
    points: FloatArray, direction_guess: FloatArray, weights: FloatArray
) -> _ConeState:
    mean = np.average(points, axis=0, weights=weights)
    rows = frame_rows(direction_guess)
    local = (points - mean) @ rows.T
    centre = _linear_circle(local[:, :2])[:2]
    state = _ConeState(rows, mean + centre @ rows[:2], 0.0, 0.0)
    state.radius = float(np.average(state.distances(points)[1], weights=weights))
    return state


def _state_of(start: ConeFit, points: FloatArray, *, slope_free: bool) -> _ConeState:
    """The cone as a state whose origin lies amid the points."""
    along = float((points.mean(axis=0) - start.point) @ start.direction)
    radius = start.radius_at_point + start.slope * along
    origin = start.point + along * start.direction
    slope = start.slope if slope_free else 0.0
    return _ConeState(frame_rows(start.direction), origin, radius, slope)


class _ConeState:
    """The cone being fitted, in the frame that follows its axis."""

    def __init__(self, rows: FloatArray, origin: FloatArray, radius: float, slope: float) -> None:
        self.rows, self.origin, self.radius, self.slope = rows, origin, radius, slope

    def distances(self, points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """(n,) distances from the cone and from its axis; (3, n) the points in its frame."""
        local = self.rows @ (points - self.origin).T
        x, y, z = local
        out = plane_lengths(x, y)
        shrink = 1.0 / math.sqrt(1.0 + self.slope**2)
        return (out - self.radius - self.slope * z) * shrink, out, local

    def slopes(self, points: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(6, n) derivatives of the distances by x, y, tilts, radius, slope; the distances."""
        distances, out, (x, y, z) = self.distances(points)
        shrink = 1.0 / math.sqrt(1.0 + self.slope**2)
        rows = np.empty((6, len(z)))
        np.maximum(out, 1e-12, out=out)
        np.divide(x, -out, out=rows[0])
        np.divide(y, -out, out=rows[1])
        rows[2] = z * rows[0] - self.slope * x
        rows[3] = z * rows[1] - self.slope * y
        rows[4] = -1.0
        rows[5] = -z - distances * self.slope * shrink
        rows *= shrink
        return rows, distances

    def take(self, step: FloatArray) -> None:
        dx, dy, tilt_x, tilt_y, d_radius, d_slope = step
        self.origin = self.origin + dx * self.rows[0] + dy * self.rows[1]
        direction = self.rows[2] + tilt_x * self.rows[0] + tilt_y * self.rows[1]
        self.rows = frame_rows(direction, self.rows[0])
        self.radius += float(d_radius)
        self.slope += float(d_slope)


def frame_rows(direction: FloatArray, reference: FloatArray | None = None) -> FloatArray:
    """Right-handed unit rows: reference made perpendicular, its left normal, direction."""
    x, y, z = direction.tolist()
    size = math.hypot(x, y, z)
    x, y, z = x / size, y / size, z / size
    sizes = [abs(x), abs(y), abs(z)]
    least = sizes.index(min(sizes))
    u, v, w = np.eye(3)[least].tolist() if reference is None else reference.tolist()
    along = u * x + v * y + w * z
    u, v, w = u - along * x, v - along * y, w - along * z
    size = math.hypot(u, v, w)
    u, v, w = u / size, v / size, w / size
    return np.array([[u, v, w], [y * w - z * v, z * u - x * w, x * v - y * u], [x, y, z]])


def _linear_circle(points: FloatArray) -> FloatArray:
    """(3,) centre and radius of the linear (Kasa) circle fit: a starting guess."""
    system = np.column_stack([2.0 * points, np.ones(len(points))])
    squares = (points**2).sum(axis=1)[:, None]
    normal, wanted = moments(system, system), moments(system, squares)
    x, y, rest = np.linalg.lstsq(normal, wanted[:, 0], rcond=None)[0]
    return np.array([x, y, np.sqrt(max(rest + x * x + y * y, 1e-300))])


def _check_spread(points: FloatArray, least: int) -> None:
    arms = points - points.mean(axis=0) if len(points) else points
    spread = np.sqrt(np.linalg.eigvalsh(moments(arms, arms)).clip(0.0))[::-1]
    if len(points) < least or spread[1] <= _ON_ONE_LINE * max(spread[0], 1e-300):
        raise DegeneratePoints(
            f"{len(points)} points, spread over {spread[0]:.3g} mm",
            f"at least {least} points that do not coincide or lie on one line",
            "a part with a round surface",
        )
