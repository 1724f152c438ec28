"""Sections turned in others: a round pin in a round hole, of which all is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.proving.arcs import Outlines
from borewright.core.proving.blocked_turns import (
    Body,
    blocked_turns,
    body_of,
    free_until,
    sections_about,
)
from borewright.core.proving.group_checks import circle_middle
from manifold3d import Manifold

from tests.built_joint import as_mesh

CIRCLE, PIN, HOLE = 10.0, 2.0, 2.3
STATIONS = np.array([1.0, 2.0])


def seen(solid: Manifold) -> Outlines:
    return sections_about(as_mesh(solid), np.zeros(2), STATIONS)


def a_rod(radius: float, x: float) -> Manifold:
    return Manifold.cylinder(4.0, radius, circular_segments=720).translate((x, 0.0, 0.0))


def pin(depth: float, x: float = CIRCLE) -> Body:
    return body_of(seen(a_rod(PIN, x)), depth)


PLATE = seen(a_rod(20.0, 0.0) - a_rod(HOLE, CIRCLE))


@pytest.mark.parametrize("depth", [0.0, 0.001, 0.05])
@pytest.mark.parametrize("sense", [1, -1])
def test_a_pin_is_free_for_the_clearance_and_the_depth_and_no_farther(
    depth: float, sense: int
) -> None:
    # its centre moves 2 c sin(t / 2), and may move by what the hole is wider than it
    limit = 2.0 * math.asin((HOLE - PIN + depth) / (2.0 * CIRCLE))
    found = free_until(pin(depth), PLATE, math.radians(5.0), sense)
    assert found == pytest.approx(limit, abs=math.radians(0.01))
    around = sense * np.array([0.98, 1.02]) * limit
    assert blocked_turns(pin(depth), PLATE, around).tolist() == [False, True]


def test_all_turns_but_those_near_the_hole_are_blocked() -> None:
    turns = np.radians(np.arange(0.0, 360.0, 0.5))
    free = ~blocked_turns(pin(0.05), PLATE, turns)
    due = [0.0, 0.5, 1.0, 1.5, 2.0, 358.0, 358.5, 359.0, 359.5]
    assert np.degrees(turns[free]) == pytest.approx(due)


def test_a_pin_in_material_about_the_middle_is_blocked_nearer_than_any_outline() -> None:
    assert blocked_turns(pin(0.05, 3.0), PLATE, np.zeros(1)).all()


def test_a_pin_that_meets_nothing_is_free_for_ever() -> None:
    ring = seen(a_rod(20.0, 0.0) - a_rod(13.0, 0.0))
    assert free_until(pin(0.0), ring, math.radians(5.0), 1) == math.inf


def test_the_middle_is_that_of_the_circle_and_of_two_points_halfway() -> None:
    angles = np.array([0.3, 1.7, 4.0])
    points = np.array([3.0, -2.0]) + 7.0 * np.column_stack([np.cos(angles), np.sin(angles)])
    assert circle_middle(points) == pytest.approx(np.array([3.0, -2.0]))
    assert circle_middle(points[:2]) == pytest.approx(points[:2].mean(axis=0))
    assert circle_middle(np.array([[0.0, 0.0], [1.0, 1.0], [5.0, 5.0]])) == pytest.approx(2.0)
