"""Triangles inside polygons and between rings: all of the area, and nothing twice."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.meshes.ear_clipping import clip_ears
from borewright.core.meshes.polygon import (
    doubled_areas,
    fill_polygon,
    signed_area,
    stitch,
    unfold,
)
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def areas(points: FloatArray, triangles: list[tuple[int, int, int]]) -> FloatArray:
    a, b, c = (points[np.array(triangles)[:, k]] for k in range(3))
    u, v = b - a, c - a
    return (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0


def star(radii: list[float], phase: float = 0.0) -> FloatArray:
    angles = phase + np.arange(len(radii)) * 2.0 * math.pi / len(radii)
    return np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None]


@given(st.lists(st.floats(0.3, 3.0), min_size=3, max_size=40), st.floats(-3.0, 3.0))
def test_ears_cover_a_star_shaped_polygon_once(radii: list[float], phase: float) -> None:
    points = star(radii, phase)
    parts = areas(points, clip_ears(points))
    assert len(parts) == len(points) - 2
    assert parts.min() > -1e-9
    assert parts.sum() == pytest.approx(signed_area(points), rel=1e-9)


@pytest.mark.parametrize("along", [1, 2, 7])
def test_corners_in_line_leave_no_triangle_without_area(along: int) -> None:
    """A strip whose ends carry extra corners, as a rim does where a line crosses it."""
    bottom = np.column_stack([np.linspace(0.0, 1.0, along + 2), np.zeros(along + 2)])
    points = np.vstack([bottom, [[1.0, 300.0], [0.0, 300.0]]])
    parts = areas(points, clip_ears(points))
    assert parts.min() > 1e-6
    assert parts.sum() == pytest.approx(300.0)


def test_an_edge_that_exists_elsewhere_is_not_made_again() -> None:
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    for forbidden in ({0, 2}, {1, 3}):
        made = clip_ears(square, lambda a, b, barred=forbidden: {a, b} == barred)
        assert not any(forbidden <= set(triangle) for triangle in made)


@given(
    st.integers(3, 30),
    st.lists(st.tuples(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5)), max_size=3),
)
def test_holes_are_left_open(corners: int, places: list[tuple[float, float]]) -> None:
    centres = [np.array(place) for place in places]
    for k, centre in enumerate(centres):
        if any(np.linalg.norm(centre - other) < 0.9 for other in centres[:k]):
            return
    outer = star([4.0] * 24)
    hole = star([0.4] * corners)[::-1]
    points = np.vstack([outer, *(hole + centre for centre in centres)])
    rings = [24 + corners * k + np.arange(corners) for k in range(len(centres))]
    parts = areas(points, fill_polygon(points, np.arange(24), rings))
    assert parts.min() > -1e-9
    expected = signed_area(outer) + len(centres) * signed_area(hole)
    assert parts.sum() == pytest.approx(expected, rel=1e-9)


@given(st.integers(12, 60), st.integers(12, 60), st.floats(0.0, 6.0), st.floats(0.0, 6.0))
def test_a_stitched_ring_is_its_area_wherever_the_chains_start(
    n: int, m: int, first: float, second: float
) -> None:
    outer, inner = star([3.0] * n, first), star([1.5] * m, second)
    points = np.vstack([outer, inner])
    angles = [np.arctan2(chain[:, 1], chain[:, 0]) for chain in (outer, inner)]
    made = stitch(*angles, closed=True)
    parts = areas(points, made)
    assert len(made) == n + m
    assert parts.min() > 0.0
    assert parts.sum() == pytest.approx(signed_area(outer) - signed_area(inner), rel=1e-9)


def test_a_stitched_ring_bears_angles_that_waver() -> None:
    rng = np.random.default_rng(1)
    n = 500
    angles = np.arange(n) * 2.0 * math.pi / n + rng.normal(0.0, 0.01, n)
    assert (np.diff(angles) < 0.0).any()
    points = np.vstack([star([3.0] * 40), np.column_stack([np.cos(angles), np.sin(angles)])])
    made = stitch(np.arange(40) * 2.0 * math.pi / 40, angles, closed=True)
    assert len(made) == 540
    inner = signed_area(points[40:])
    assert areas(points, made).sum() == pytest.approx(signed_area(points[:40]) - inner, rel=1e-9)


def test_an_open_band_ends_where_its_chains_end() -> None:
    below, above = np.linspace(-1.0, 2.0, 7), np.linspace(-1.0, 2.0, 5)
    points = np.vstack(
        [np.column_stack([below, 0 * below]), np.column_stack([above, 0 * above + 1])]
    )
    parts = areas(points, stitch(below, above, closed=False))
    assert parts.min() > 0.0
    assert parts.sum() == pytest.approx(3.0)


@pytest.mark.parametrize("first", [-0.01, 0.01])
@pytest.mark.parametrize("second", [-0.01, 0.01])
@pytest.mark.parametrize("span", [4.0, 6.2])
def test_an_open_band_may_start_on_either_side_of_half_a_turn(
    first: float, second: float, span: float
) -> None:
    turns = [math.pi + start + np.linspace(0.0, span, 60) for start in (first, second)]
    chains = [np.column_stack([np.cos(turn), np.sin(turn)]) for turn in turns]
    points = np.vstack([3.0 * chains[0], 1.5 * chains[1]])
    angles = [np.arctan2(chain[:, 1], chain[:, 0]) for chain in chains]
    parts = areas(points, stitch(*angles, closed=False))
    assert parts.min() > 0.0
    assert parts.sum() == pytest.approx((3.0**2 - 1.5**2) * span / 2.0, rel=0.01)


def test_a_step_out_of_a_ring_folds_no_triangle_over() -> None:
    """A groove's flank that leans by 0.05 mm over 0.5, beside a point of the inner ring.

    By angle alone its triangle lies on the wrong side of that point, by 3 um.
    """
    turns = np.radians([136.4, 138.19, 138.377, 139.159, 141.0])
    reach = np.array([16.0023, 16.0023, 15.5001, 15.5011, 15.5])
    inner = np.radians([136.0, 137.198, 139.159, 140.223])
    points = np.concatenate(
        [
            np.column_stack([reach * np.cos(turns), reach * np.sin(turns)]),
            13.88 * np.column_stack([np.cos(inner), np.sin(inner)]),
        ]
    )
    strip = stitch(turns, inner, closed=False)
    assert (doubled_areas(points, strip) <= 0.0).sum() == 1
    mended = unfold(points, strip, len(turns))
    assert (doubled_areas(points, mended) > 0.0).all()
    assert doubled_areas(points, mended).sum() == pytest.approx(doubled_areas(points, strip).sum())
