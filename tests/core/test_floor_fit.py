"""Turning a section to fit a floor: closed forms, and a fine scan of all turns."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.errors import TooWide
from borewright.core.meshes.convex_hull import convex_hull
from borewright.core.planning.floor_fit import turn_to_fit
from borewright.core.values import FIT_SLACK
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def rectangle(width: float, depth: float) -> FloatArray:
    x, y = width / 2.0, depth / 2.0
    return np.array([[-x, -y], [x, -y], [x, y], [-x, y]])


def extents(points: FloatArray, turn: float) -> FloatArray:
    cosine, sine = math.cos(turn), math.sin(turn)
    return np.ptp(points @ np.array([[cosine, sine], [-sine, cosine]]), axis=0)


def fits(points: FloatArray, floor: tuple[float, float], turn: float) -> bool:
    return bool((extents(points, turn) <= np.array(floor) + FIT_SLACK + 1e-9).all())


def blob(seed: int) -> FloatArray:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(int(rng.integers(3, 60)), 2)) * rng.uniform(5.0, 60.0, 2)
    angle = rng.uniform(0.0, math.pi)
    cosine, sine = math.cos(angle), math.sin(angle)
    return points @ np.array([[cosine, sine], [-sine, cosine]]) + rng.uniform(-50.0, 50.0, 2)


def test_a_section_that_fits_is_not_turned() -> None:
    assert turn_to_fit(rectangle(180.0, 100.0), (180.0, 180.0)) == 0.0
    assert turn_to_fit(rectangle(180.0 + FIT_SLACK / 2.0, 100.0), (180.0, 180.0)) == 0.0
    with pytest.raises(TooWide):
        turn_to_fit(rectangle(180.0 + FIT_SLACK * 2.0, 170.0), (180.0, 180.0))


def test_a_bar_goes_in_crosswise() -> None:
    turn = turn_to_fit(rectangle(150.0, 50.0), (60.0, 160.0))
    assert fits(rectangle(150.0, 50.0), (60.0, 160.0), turn)


def test_a_bar_goes_in_by_the_diagonal_and_no_farther() -> None:
    # a x b turned by 45 degrees is (a + b) / sqrt(2) both ways, the least square there is
    # for a bar this slender
    side = (200.0 + 10.0) / math.sqrt(2.0)
    bar = rectangle(200.0, 10.0)
    turn = turn_to_fit(bar, (side, side))
    assert turn % (math.pi / 2.0) == pytest.approx(math.pi / 4.0, abs=1e-3)
    assert fits(bar, (side, side), turn)
    with pytest.raises(TooWide):
        turn_to_fit(bar, (side - 2.0 * FIT_SLACK, side - 2.0 * FIT_SLACK))


def test_a_bar_fits_at_turns_that_lay_no_edge_along_the_floor() -> None:
    # of 200 x 1 neither 0 nor 90 degrees fits into 190 x 70, but about 19 degrees do
    bar, floor = rectangle(200.0, 1.0), (190.0, 70.0)
    turn = turn_to_fit(bar, floor)
    assert fits(bar, floor, turn)
    assert 18.0 < math.degrees(turn) < 21.0 or 159.0 < math.degrees(turn) < 162.0
    # in the middle of the turns that do, not at the last one that just does
    assert (extents(bar, turn) < np.array(floor) - 0.3).all()


def test_a_single_angle_is_found() -> None:
    # both extents of 200 x 10 at 30 degrees exactly, and a floor of just that size
    bar = rectangle(200.0, 10.0)
    floor = tuple(float(size) for size in extents(bar, math.radians(30.0)))
    turn = turn_to_fit(bar, (floor[0], floor[1]))
    assert fits(bar, (floor[0], floor[1]), turn)


@pytest.mark.parametrize("seed", range(80))
def test_it_agrees_with_a_fine_scan_of_all_turns(seed: int) -> None:
    points, rng = blob(seed), np.random.default_rng(seed + 1000)
    width, depth = extents(points, rng.uniform(0.0, math.pi)) * rng.uniform(0.85, 1.1)
    floor = (float(width), float(depth))
    scan = np.linspace(0.0, math.pi, 2000)
    fine = [turn for turn in scan.tolist() if fits(points, floor, turn)]
    try:
        turn = turn_to_fit(points, floor)
    except TooWide:
        assert fine == []
        return
    assert fits(points, floor, turn)


def test_the_scanned_cases_fit_and_do_not_fit() -> None:
    refused = 0
    for seed in range(80):
        points, rng = blob(seed), np.random.default_rng(seed + 1000)
        width, depth = extents(points, rng.uniform(0.0, math.pi)) * rng.uniform(0.85, 1.1)
        try:
            turn_to_fit(points, (float(width), float(depth)))
        except TooWide:
            refused += 1
    assert 15 <= refused <= 65


def test_refusal_names_a_floor_that_would_do() -> None:
    bar = rectangle(200.0, 10.0)
    with pytest.raises(TooWide, match=r"200\.00 x 10\.00 mm.*at most 120\.00 x 120\.00") as caught:
        turn_to_fit(bar, (120.0, 120.0))
    words = caught.value.remedy.split()
    floor = float(words[3]), float(words[5])
    assert fits(bar, floor, turn_to_fit(bar, floor))


@pytest.mark.parametrize("seed", range(30))
def test_hull_holds_all_points_and_has_corners_of_theirs(seed: int) -> None:
    points = blob(seed)
    hull = convex_hull(points)
    for corner in hull:
        assert np.hypot(*(points - corner).T).min() < 1e-9
    edges = np.roll(hull, -1, axis=0) - hull
    for edge, corner in zip(edges, hull, strict=True):
        arms = points - corner
        assert (edge[0] * arms[:, 1] - edge[1] * arms[:, 0] >= -1e-7).all()


def test_hull_keeps_a_corner_that_several_vertices_share() -> None:
    points = np.repeat(blob(3), 3, axis=0)
    assert convex_hull(points) == pytest.approx(convex_hull(blob(3)), abs=1e-9)


def test_hull_of_a_grid_is_its_square() -> None:
    x, y = np.meshgrid(np.arange(5.0), np.arange(5.0))
    hull = convex_hull(np.column_stack([x.ravel(), y.ravel()]))
    area = 0.5 * float(
        np.sum(hull[:, 0] * np.roll(hull[:, 1], -1) - np.roll(hull[:, 0], -1) * hull[:, 1])
    )
    assert area == pytest.approx(16.0)
    assert len(hull) == 4


@pytest.mark.parametrize("kind", ["disc", "box"])
def test_of_very_many_points_the_hull_is_that_of_all(kind: str) -> None:
    """Those that lie within are left out first; their corners are put in by hand."""
    rng = np.random.default_rng(5)
    inside = rng.uniform(-1.0, 1.0, (20_000, 2))
    angles = np.sort(rng.uniform(0.0, 2.0 * math.pi, 300))
    if kind == "disc":
        corners = np.column_stack([np.cos(angles), np.sin(angles)])
        inside *= 0.7
    else:
        corners = rectangle(30.0, 7.0)
        inside *= [15.0, 3.5]
    hull = convex_hull(rng.permutation(np.vstack([inside, corners])))
    for corner in corners:
        assert np.hypot(*(hull - corner).T).min() < 1e-12
    assert len(hull) == len(corners)
