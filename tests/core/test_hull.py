"""Hulls of one disc or two against closed forms, and against a search over swept discs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.jointing.hull import (
    hull_middle,
    hull_outline,
    hull_parameter,
    least_parameter,
    outline_excess,
    outline_length,
    outline_place,
    outline_points,
)
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

ONE = (np.array([[2.0, -1.0]]), np.array([4.0]))
EQUAL = (np.array([[7.75, 0.0], [-7.75, 0.0]]), np.array([5.5, 5.5]))
SECOND_WIDER = (np.array([[-6.0, 1.0], [5.0, 4.0]]), np.array([3.0, 5.0]))
SECOND_NARROWER = (np.array([[0.0, 0.0], [3.0, 16.0]]), np.array([7.0, 4.0]))
ALL = (ONE, EQUAL, SECOND_WIDER, SECOND_NARROWER)
Discs = tuple[FloatArray, FloatArray]


def searched_parameter(points: FloatArray, centres: FloatArray, radii: FloatArray) -> FloatArray:
    """The definition of u, by trying 4001 discs between the first and the last."""
    share = np.linspace(0.0, 1.0, 4001)[:, None]
    swept = centres[0] + share * (centres[-1] - centres[0])
    swell = share[:, 0] * (radii[-1] - radii[0])
    reach = np.hypot(*(points[:, None, :] - swept[None]).transpose(2, 0, 1)) - swell
    least: FloatArray = reach.min(axis=1)
    return least


@pytest.mark.parametrize("discs", ALL)
def test_u_is_the_least_reach_of_all_swept_discs(discs: Discs) -> None:
    points = np.random.default_rng(1).uniform(-25.0, 25.0, (500, 2))
    found = hull_parameter(points, *discs)
    assert found == pytest.approx(searched_parameter(points, *discs), abs=1e-4)
    assert (found <= searched_parameter(points, *discs) + 1e-12).all()


def test_u_about_one_bore_is_the_distance_from_its_centre() -> None:
    points = np.array([[5.0, 3.0], [2.0, -1.0]])
    assert hull_parameter(points, *ONE) == pytest.approx([5.0, 0.0])


def test_u_of_a_capsule_is_that_of_circles_and_tangent_lines() -> None:
    # ends: circles of 8 about each centre; flanks: y = +- 8; between the centres: y itself
    points = np.array(
        [[15.75, 0.0], [-7.75, 8.0], [0.0, -8.0], [7.75 + 8.0 * 0.6, 8.0 * 0.8], [3.0, 2.5], [0, 0]]
    )
    assert hull_parameter(points, *EQUAL) == pytest.approx([8.0, 8.0, 8.0, 8.0, 2.5, 0.0])


def test_u_beside_unequal_bores_has_tangent_lines_of_the_known_lean() -> None:
    # centres 13 apart, radii 8 and 3: tangents lean by asin(5 / 13), touch at (5, 12) / 13
    centres, radii = np.array([[0.0, 0.0], [13.0, 0.0]]), np.array([8.0, 3.0])
    normal = np.array([5.0, 12.0]) / 13.0
    touch = np.array([radii[0] * normal, centres[1] + radii[1] * normal])
    shares = np.array([0.0, 0.3, 0.7, 1.0])[:, None]
    line = touch[0] + shares * (touch[1] - touch[0])
    assert hull_parameter(line, centres, radii) == pytest.approx(8.0)
    assert hull_parameter(line + 1.7 * normal, centres, radii) == pytest.approx(9.7)
    # along the line between the centres u = (5 / 13) x
    middle = np.array([[8.0, 0.0], [9.0, 0.0], [10.0, 0.0]])
    expected = np.array([8.0, 9.0, 10.0]) * 5 / 13
    assert hull_parameter(middle, centres, radii) == pytest.approx(expected)


@pytest.mark.parametrize("discs", ALL)
@pytest.mark.parametrize("offset", [0.0, 2.3])
def test_outline_points_lie_on_their_hull_and_normals_lead_out_of_it(
    discs: Discs, offset: float
) -> None:
    centres, radii = discs
    points, normals = hull_outline(centres, radii, offset, 0.5)
    assert hull_parameter(points, centres, radii) == pytest.approx(radii[0] + offset)
    out = hull_parameter(points + 1.25 * normals, centres, radii)
    assert out == pytest.approx(radii[0] + offset + 1.25)
    edges = np.roll(points, -1, axis=0) - points
    assert np.hypot(*edges.T).max() <= 0.5 + 1e-9
    ahead = np.roll(edges, -1, axis=0)
    assert (edges[:, 0] * ahead[:, 1] - edges[:, 1] * ahead[:, 0] >= -1e-9).all()


def test_length_of_a_capsule_is_its_circle_and_twice_the_distance() -> None:
    assert outline_length(*EQUAL, 2.0) == pytest.approx(2.0 * math.pi * 7.5 + 2.0 * 15.5)
    assert outline_length(*ONE, 1.0) == pytest.approx(2.0 * math.pi * 5.0)
    assert outline_excess(*ONE) == 0.0


@pytest.mark.parametrize("discs", ALL)
def test_length_is_that_of_a_fine_polygon(discs: Discs) -> None:
    points, _ = hull_outline(*discs, 1.0, 0.001)
    total = float(np.hypot(*(np.roll(points, -1, axis=0) - points).T).sum())
    # chords of 0.001 on radii of 4 and more fall short by less than 3e-9 each of them
    assert outline_length(*discs, 1.0) == pytest.approx(total, abs=1e-5)


def test_length_about_two_unequal_discs() -> None:
    # belt around pulleys of 8 and 3, 13 apart: flanks of 12, wrapped 2 acos(-+ 5 / 13)
    centres, radii = np.array([[0.0, 0.0], [13.0, 0.0]]), np.array([8.0, 3.0])
    wide, narrow = 2.0 * math.acos(-5.0 / 13.0), 2.0 * math.acos(5.0 / 13.0)
    assert outline_length(centres, radii, 0.0) == pytest.approx(8.0 * wide + 3.0 * narrow + 24.0)


@pytest.mark.parametrize(
    ("centres", "radii", "least"),
    [
        ([[7.75, 0.0], [-7.75, 0.0]], [5.5, 5.5], 0.0),
        # k = -5 / 13: least where the line leaves the first, wider bore
        ([[0.0, 0.0], [13.0, 0.0]], [8.0, 3.0], 8.0 * 5.0 / 13.0),
        # k = 5 / 13: least where it meets the second, wider bore
        ([[0.0, 0.0], [13.0, 0.0]], [3.0, 8.0], -5.0 * 5.0 / 13.0),
        ([[0.0, 0.0]], [3.0], 3.0),
    ],
)
def test_ridge_between_bores(centres: list[list[float]], radii: list[float], least: float) -> None:
    assert least_parameter(np.array(centres), np.array(radii)) == pytest.approx(least)


@pytest.mark.parametrize("discs", [EQUAL, SECOND_WIDER, SECOND_NARROWER])
def test_no_point_of_the_web_is_under_the_ridge(discs: Discs) -> None:
    centres, radii = discs
    points = np.random.default_rng(2).uniform(-20.0, 20.0, (200_000, 2))
    reach = np.hypot(*(points[:, None, :] - centres[None]).transpose(2, 0, 1))
    in_wall = (reach >= radii).all(axis=1)
    found = float(hull_parameter(points[in_wall], centres, radii).min())
    least = least_parameter(centres, radii)
    assert least <= found <= least + 0.1


@pytest.mark.parametrize("discs", ALL)
def test_a_ray_from_the_middle_meets_the_outline_at_its_angle(discs: Discs) -> None:
    centres, radii = discs
    angles = np.random.default_rng(3).uniform(-math.pi, math.pi, 200)
    places = np.array([outline_place(centres, radii, 1.5, angle) for angle in angles.tolist()])
    points, _ = outline_points(centres, radii, 1.5, places)
    arms = points - hull_middle(centres)
    assert np.cos(np.arctan2(arms[:, 1], arms[:, 0]) - angles) == pytest.approx(1.0)


def test_lengths_run_around_and_around() -> None:
    total = outline_length(*EQUAL, 0.0)
    lengths = np.linspace(0.0, total, 50)
    first, _ = outline_points(*EQUAL, 0.0, lengths)
    again, _ = outline_points(*EQUAL, 0.0, lengths + 2.0 * total)
    assert first == pytest.approx(again, abs=1e-9)
    assert first[0] == pytest.approx(first[-1], abs=1e-9)
