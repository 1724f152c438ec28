"""Flat faces between any outlines: all of the area once, and nothing turned over."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from borewright.core.errors import BadMesh
from borewright.core.meshes.ear_rounds import clip_in_rounds
from borewright.core.meshes.polygon import signed_area
from borewright.core.meshes.section_filling import fill_section
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import CrossSection
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


def areas(points: FloatArray, triangles: IntArray) -> FloatArray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    u, v = b - a, c - a
    return (u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2.0


def check_filled(points: FloatArray, rings: list[IntArray], triangles: IntArray) -> None:
    """The triangles are the area between the rings, and the rings are all of their border."""
    parts = areas(points, triangles)
    assert parts.min() > -1e-9
    assert parts.sum() == pytest.approx(sum(signed_area(points[ring]) for ring in rings), rel=1e-9)
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    edges = set(zip(start.tolist(), end.tolist(), strict=True))
    assert len(edges) == len(start)
    border = {edge for edge in edges if edge[::-1] not in edges}
    expected = {
        pair
        for ring in rings
        for pair in zip(ring.tolist(), np.roll(ring, -1).tolist(), strict=True)
    }
    assert border == expected


def fill(contours: list[FloatArray]) -> None:
    points = np.vstack(contours)
    ends = np.cumsum([len(contour) for contour in contours])
    rings = [np.arange(end - len(c), end) for c, end in zip(contours, ends, strict=True)]
    check_filled(points, rings, fill_section(points, rings))


def circle(radius: float, count: int, x: float = 0.0, y: float = 0.0) -> CrossSection:
    return CrossSection.circle(radius, count).translate((x, y))


SECTIONS: dict[str, Callable[[], CrossSection]] = {
    "ring": lambda: circle(10.0, 90) - circle(6.0, 70),
    "octagon about a circle": lambda: circle(10.0, 8) - circle(8.5, 120),
    "hexagon that nearly touches": lambda: circle(10.0, 6) - circle(8.6, 200),
    "bore far off centre": lambda: circle(10.0, 90) - circle(6.0, 70, 3.7),
    "slot in the outside": lambda: (
        circle(10.0, 90)
        - CrossSection.square((4.0, 3.0), center=True).translate((9.5, 0.3))
        - circle(6.0, 70)
    ),
    "undercut slot": lambda: (
        circle(10.0, 90)
        - CrossSection.square((4.0, 1.0), center=True).translate((9.5, 0.3))
        - circle(0.9, 24, 8.0, 0.3)
        - circle(6.0, 70)
    ),
    "long hook": lambda: (
        circle(10.0, 90)
        - circle(6.0, 70)
        + ((circle(16.0, 400) - circle(14.0, 400)) - CrossSection.square((20.0, 20.0)))
        + CrossSection.square((2.0, 8.0)).translate((-1.0, 8.0))
    ),
    "blind pocket": lambda: circle(10.0, 90) - circle(6.0, 70) - circle(0.7, 20, 8.1, 0.1),
    "two more bores and a lobe": lambda: (
        circle(20.0, 120)
        - circle(6.0, 70)
        - circle(3.0, 40, 12.0, 3.0)
        - circle(3.0, 40, -12.0, 5.0)
        + circle(2.0, 30, 30.0, 2.0)
    ),
    "rod within a bore": lambda: (
        circle(10.0, 90) - circle(6.0, 70) + (circle(3.0, 40) - circle(1.0, 20))
    ),
}


@pytest.mark.parametrize("section", SECTIONS.values(), ids=SECTIONS.keys())
def test_a_section_is_filled_once_whatever_its_outlines(
    section: Callable[[], CrossSection],
) -> None:
    fill(section().to_polygons())


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(20, 400), st.floats(0.0, 1.0))
def test_a_ring_with_a_rough_outside_is_filled(seed: int, count: int, rough: float) -> None:
    """Roughness up to the facet's own length: the outline is not star-shaped any more."""
    rng = np.random.default_rng(seed)
    angles = 2.0 * math.pi * np.arange(count) / count
    step = 2.0 * math.pi * 10.0 / count
    radii = 10.0 + np.minimum(rough * step, 1.0) * rng.uniform(-1.0, 1.0, count)
    angles = angles + 0.4 * rough * rng.uniform(-1.0, 1.0, count) * step / 10.0
    outside = np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None]
    around = 2.0 * math.pi * np.arange(80) / 80
    inside = 8.0 * np.column_stack([np.cos(around), -np.sin(around)])
    fill([outside, inside])


def test_steep_steps_in_a_ring_are_not_folded_over() -> None:
    """A groove's flanks run nearly radially: stitching by angle alone folds there."""
    half = 0.2
    marks = np.array([-half, -half + 0.005, half - 0.005, half])
    rest = np.linspace(half, 2.0 * math.pi - half, 60)[1:-1]
    angles = np.concatenate([marks, rest])
    radii = np.concatenate([[8.0, 8.5, 8.5, 8.0], np.full(58, 8.0)])
    inner = np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None]
    for turn in np.linspace(0.0, 0.1, 9):
        around = turn + 2.0 * math.pi * np.arange(64) / 64
        outer = 9.3 * np.column_stack([np.cos(around), np.sin(around)])
        fill([outer, inner[::-1]])


def square(side: float, x: float = 0.0) -> FloatArray:
    return np.array([[x, 0.0], [x + side, 0.0], [x + side, side], [x, side]])


def test_a_hole_outside_of_every_outline_is_refused_with_its_place() -> None:
    with pytest.raises(BadMesh, match=r"outline of -4.0000 mm2 .* near \(20.00, 2.00\)"):
        fill([square(5.0), square(2.0, 20.0)[::-1]])


def comb(teeth: int) -> FloatArray:
    """Fingers on a bar, each with a rounded tip: half of the corners are blunt."""
    tip = np.linspace(0.0, math.pi, 12)
    finger = np.column_stack([0.3 * np.cos(tip) + 0.5, 3.0 + 0.3 * np.sin(tip)])
    finger = np.vstack([[0.8, 0.0], finger, [0.2, 0.0]])
    tops = [finger + np.array([k, 0.0]) for k in reversed(range(teeth))]
    return np.vstack([[0.0, -1.0], [float(teeth), -1.0], *tops])


def spiral(corners: int) -> FloatArray:
    """A band rolled up three times: ears of its inner side would reach over other turns."""
    angles = np.linspace(0.0, 6.0 * math.pi, corners)
    radii = 2.0 + angles / 5.0
    arms = np.column_stack([np.cos(angles), np.sin(angles)])
    return np.vstack([arms * (radii[:, None] + 0.8), (arms * radii[:, None])[::-1]])


def spiky(corners: int) -> FloatArray:
    angles = 2.0 * math.pi * np.arange(corners) / corners
    radii = np.random.default_rng(corners).uniform(0.3, 3.0, corners)
    return np.column_stack([np.cos(angles), np.sin(angles)]) * radii[:, None]


@pytest.mark.parametrize("points", [comb(300), spiral(700), spiky(300), spiky(1500)])
def test_thousands_of_corners_go_in_rounds(points: FloatArray) -> None:
    ring = np.arange(len(points))
    made = clip_in_rounds(points)
    assert len(made) == len(points) - 2
    check_filled(points, [ring], made)


def test_corners_in_line_leave_no_triangle_without_area() -> None:
    square = np.array([[0.0, 0.0], [5.0, 0.0], [5.0, 7.0], [0.0, 7.0]])
    sides = [
        a + (b - a) * np.arange(90)[:, None] / 90
        for a, b in zip(square, np.roll(square, -1, 0), strict=True)
    ]
    points = np.vstack(sides)
    assert areas(points, clip_in_rounds(points)).min() > 1e-6
