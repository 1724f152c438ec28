"""How a piece stands: its height over the least width of its base."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.estimating.tip_risk import TipRisk, least_width, tip_risk
from borewright.core.meshes.convex_hull import convex_hull
from hypothesis import given
from hypothesis import strategies as some
from manifold3d import CrossSection, Manifold

from tests.core.test_plastic import bar, disc, mesh_of, square

LAYER = 0.2


def test_a_thin_ring_counts_by_its_outer_width() -> None:
    """512 sides: between two of them lies 2 r cos(pi / 512)."""
    tip = tip_risk(bar(disc(13.0) - disc(12.0), 100.0), LAYER)
    assert tip.height == pytest.approx(100.0)
    assert tip.base_width == pytest.approx(26.0 * math.cos(math.pi / 512.0))


@pytest.mark.parametrize("turn_deg", [0.0, 31.0, 90.0])
def test_a_bar_counts_by_its_shorter_side(turn_deg: float) -> None:
    section = CrossSection.square((40.0, 12.0), center=True).rotate(turn_deg)
    assert tip_risk(bar(section, 60.0), LAYER).base_width == pytest.approx(12.0)


def test_feet_count_with_what_lies_between_them() -> None:
    table = Manifold.extrude(square(30.0), 5.0).translate((0.0, 0.0, 20.0))
    for x in (-12.0, 12.0):
        for y in (-12.0, 12.0):
            table += Manifold.extrude(square(4.0), 20.0).translate((x, y, 0.0))
    assert tip_risk(mesh_of(table), LAYER).base_width == pytest.approx(28.0)


def test_what_does_not_touch_the_bed_does_not_count() -> None:
    wide = Manifold.extrude(disc(30.0), 10.0).translate((0.0, 0.0, 10.0))
    tip = tip_risk(mesh_of(wide + Manifold.extrude(square(5.0), 10.0)), LAYER)
    assert tip.base_width == pytest.approx(5.0)


def test_a_leaning_bar_stands_on_its_edge() -> None:
    """30 degrees over: half a layer up the edge is 0.1 / tan 30 + 0.1 tan 30 mm wide."""
    leaning = Manifold.cube((10.0, 10.0, 80.0), center=True).rotate((30.0, 0.0, 0.0))
    tip = tip_risk(mesh_of(leaning), LAYER)
    slope = math.tan(math.radians(30.0))
    assert tip.base_width == pytest.approx(0.1 / slope + 0.1 * slope)
    assert tip.advice == "brim and slower"


def test_a_piece_thinner_than_a_layer_stands_too() -> None:
    assert tip_risk(bar(square(8.0), 0.05), LAYER) == TipRisk(0.05, pytest.approx(8.0))


@pytest.mark.parametrize(("height", "advice"), [
    (40.0, "none"), (40.1, "brim"), (80.0, "brim"), (80.1, "brim and slower"),
])  # fmt: skip
def test_advice_by_height_over_base(height: float, advice: str) -> None:
    assert TipRisk(height, 10.0).advice == advice


def test_the_least_width_of_a_regular_triangle_is_its_height() -> None:
    corners = np.array([[0.0, 0.0], [6.0, 0.0], [3.0, 3.0 * math.sqrt(3.0)]])
    assert least_width(corners) == pytest.approx(3.0 * math.sqrt(3.0))


@given(some.integers(3, 60), some.integers(0, 10**6))
def test_no_direction_is_narrower_and_one_is_as_narrow(count: int, seed: int) -> None:
    """The extents square to all edges, each by all corners."""
    hull = convex_hull(np.random.default_rng(seed).normal(size=(count, 2)) * [8.0, 2.0])
    edges = np.roll(hull, -1, axis=0) - hull
    normals = np.column_stack([-edges[:, 1], edges[:, 0]])
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    assert least_width(hull) == pytest.approx(np.ptp(hull @ normals.T, axis=0).min(), rel=1e-9)
    turns = np.linspace(0.0, math.pi, 181)
    every = np.ptp(hull @ np.array([np.cos(turns), np.sin(turns)]), axis=0)
    assert least_width(hull) <= every.min() * (1.0 + 1e-12)
