"""Circles, cylinders and cones: exact where the points are, honest where they are not."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.errors import DegeneratePoints
from borewright.core.surveying.cylinder_fit import fit_cone, frame_rows
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def cone_points(radius: float, slope: float, *, arc: float = 2.0 * math.pi) -> FloatArray:
    angle, height = np.meshgrid(np.linspace(0.0, arc, 25)[:-1], np.linspace(-40.0, 40.0, 9))
    reach = radius + slope * height
    return np.column_stack(
        [(reach * np.cos(angle)).ravel(), (reach * np.sin(angle)).ravel(), height.ravel()]
    )


@settings(max_examples=40, deadline=None)
@given(
    st.floats(3.0, 40.0),
    st.floats(-0.03, 0.03),
    st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.linalg.norm(v) > 0.2),
    st.floats(1.6, 2.0 * math.pi),
)
def test_a_cone_in_any_pose_is_found_exactly(
    radius: float, slope: float, axis: tuple[float, float, float], arc: float
) -> None:
    rows = frame_rows(np.array(axis))
    points = cone_points(radius, slope, arc=arc) @ rows + [12.0, -7.0, 300.0]
    guess = rows[2] + 0.05 * rows[0]
    fit = fit_cone(points, guess)
    assert np.linalg.norm(np.cross(fit.direction, rows[2])) < 1e-8
    assert abs(fit.slope) == pytest.approx(abs(slope), abs=1e-8)
    assert fit.rms_residual < 1e-8


def test_noise_averages_out_as_least_squares_promises() -> None:
    """The radius' standard error is sigma / sqrt(n)."""
    rng = np.random.default_rng(2)
    points = np.repeat(cone_points(10.0, 0.0), 40, axis=0)
    points = points * (1.0 + rng.normal(0.0, 0.02, (len(points), 1)) / 10.0 * [1.0, 1.0, 0.0])
    fit = fit_cone(points, np.array([0.05, 0.0, 1.0]), slope_free=False)
    assert fit.rms_residual == pytest.approx(0.02, rel=0.05)
    assert fit.radius_at_point == pytest.approx(10.0, abs=4.0 * 0.02 / math.sqrt(len(points)))


def test_weights_of_zero_leave_points_out() -> None:
    points = cone_points(10.0, 0.0)
    strays = points[:30] * [2.0, 2.0, 1.0]
    weights = np.concatenate([np.ones(len(points)), np.zeros(30)])
    fit = fit_cone(np.vstack([points, strays]), np.array([0.0, 0.0, 1.0]), weights=weights)
    assert fit.radius_at_point == pytest.approx(10.0, abs=1e-9)


@pytest.mark.parametrize(
    "points",
    [
        np.zeros((9, 3)),
        np.column_stack([np.full(20, 5.0), np.zeros(20), np.arange(20.0)]),
        np.eye(3),
    ],
)
def test_points_that_make_no_cylinder_are_refused(points: FloatArray) -> None:
    with pytest.raises(DegeneratePoints, match="points"):
        fit_cone(points, np.array([0.0, 0.0, 1.0]), slope_free=False)


def test_one_ring_determines_no_axis() -> None:
    ring = cone_points(10.0, 0.0)[:24]
    with pytest.raises(DegeneratePoints, match="no one cylinder or cone"):
        fit_cone(ring, np.array([0.0, 0.0, 1.0]))
