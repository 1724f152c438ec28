"""Distances, walls, overlaps and turns of outlines, against closed forms and every pair."""

from __future__ import annotations

import math

import numpy as np
import pytest
from borewright.core.proving.arcs import Outlines, meeting, outlines_of
from borewright.core.proving.nearness import nearest_distances
from borewright.core.proving.overlaps import shared_areas, touching_levels, windings_at
from borewright.core.proving.section import cut_sections
from borewright.core.proving.turning import play_deg, turn_collisions
from borewright.core.proving.walls import least_wall
from borewright.core.values import FloatArray
from hypothesis import given, settings
from hypothesis import strategies as st
from manifold3d import Manifold

from tests.core.test_section import as_mesh, polygon, prism

STATIONS = np.array([2.0, 5.0, 8.0])
NO_SHIFT = (0.0, 0.0)


def seen(solid: Manifold, middle: tuple[float, float] = NO_SHIFT) -> Outlines:
    return outlines_of(cut_sections(as_mesh(solid), STATIONS), np.array(middle))


def pipe(
    inner: float, outer: float, count: int = 64, shift: tuple[float, float] = NO_SHIFT
) -> Manifold:
    return prism(polygon(count, outer)) - prism(polygon(count, inner, centre=shift), -1.0, 11.0)


def distance(point: FloatArray, start: FloatArray, stop: FloatArray) -> float:
    along = stop - start
    share = min(max(float((point - start) @ along / (along @ along)), 0.0), 1.0)
    return float(np.hypot(*(point - start - share * along)))


# Which segments face each other.


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), widen=st.floats(0.0, 0.6))
def test_arcs_that_meet_are_those_that_share_an_angle(seed: int, widen: float) -> None:
    """Against every pair, sampled: two arcs meet where the start of one lies in the other."""
    rng = np.random.default_rng(seed)
    one, other = (
        seen(prism(polygon(int(rng.integers(3, 12)), 5.0, turn=rng.uniform(0, 6), centre=centre)))
        for centre in (rng.uniform(-7.0, 7.0, 2), rng.uniform(-2.0, 2.0, 2))
    )
    first, second = meeting(one.arcs.widened(widen), other.arcs)
    found = set(zip(first.tolist(), second.tolist(), strict=True))
    assert len(found) == len(first) or widen > 0.0
    for i in range(len(one)):
        for j in range(len(other)):
            apart = np.angle(
                np.exp(
                    1j * (one.arcs.low[i] + one.arcs.span[i] / 2)
                    - 1j * (other.arcs.low[j] + other.arcs.span[j] / 2)
                )
            )
            reach = one.arcs.span[i] / 2 + other.arcs.span[j] / 2 + widen
            if one.level[i] == other.level[j] and abs(abs(apart) - reach) > 1e-9:
                assert ((i, j) in found) == (abs(apart) < reach)


# Distances.


def test_parallel_sides_are_their_apothems_apart() -> None:
    """(R - r) cos(pi / n), closed form, from corners to sides."""
    inner, outer = seen(prism(polygon(24, 5.0))), seen(prism(polygon(24, 5.4)))
    due = 0.4 * math.cos(math.pi / 24)
    assert nearest_distances(inner.starts, inner.level, outer, 1.0) == pytest.approx(due, rel=1e-6)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_distances_up_to_the_reach_are_those_of_every_pair(seed: int) -> None:
    rng = np.random.default_rng(seed)
    outlines = seen(
        prism(polygon(int(rng.integers(3, 20)), 5.0, centre=tuple(rng.uniform(-3.0, 3.0, 2))))
    )
    points = rng.uniform(-7.0, 7.0, (20, 2))
    level = rng.integers(0, 3, 20)
    reach = float(rng.uniform(0.1, 4.0))
    told = nearest_distances(points, level, outlines, reach)
    for point, plane, answer in zip(points, level, told, strict=True):
        here = outlines[outlines.level == plane]
        due = min(map(distance, [point] * len(here), here.starts, here.stops))
        assert answer == pytest.approx(due, abs=1e-9) or min(answer, due) > reach


# Walls.


def every_segment(outlines: Outlines) -> np.ndarray:
    return np.ones(len(outlines), bool)


def test_the_wall_of_a_pipe_is_its_closed_form() -> None:
    """Polygons at equal angles: (R - r) cos(pi / n)."""
    outlines = seen(pipe(5.0, 7.0))
    due = 2.0 * math.cos(math.pi / 64)
    assert least_wall(outlines, every_segment(outlines)) == pytest.approx(due, rel=1e-6)


@pytest.mark.parametrize("shift", [(0.5, 0.0), (-1.2, 0.9)])
@pytest.mark.parametrize("middle", [NO_SHIFT, (0.4, -0.3)])
def test_the_wall_beside_a_bore_off_centre(
    shift: tuple[float, float], middle: tuple[float, float]
) -> None:
    """R - r - e, closed form, wherever it is looked at from."""
    outlines = seen(pipe(4.0, 7.0, 720, shift), middle)
    due = 3.0 - math.hypot(*shift)
    assert least_wall(outlines, every_segment(outlines)) == pytest.approx(due, abs=1e-4)


def test_a_wall_is_measured_square_to_a_leaning_side() -> None:
    """A square about a round bore, looked at from the bore: its apothem less the radius."""
    solid = prism(polygon(4, 8.0, turn=0.2)) - prism(polygon(720, 4.0), -1.0, 11.0)
    outlines = seen(solid, (1.0, 0.5))
    due = 8.0 * math.cos(math.pi / 4.0) - 4.0
    assert least_wall(outlines, every_segment(outlines)) == pytest.approx(due, abs=1e-4)


def test_only_walls_of_ours_count() -> None:
    """Two bores 0.3 apart within a wide tube: their web is not ours, the tube's wall is."""
    bores = [prism(polygon(180, 3.0, centre=(x, 0.0)), -1.0, 11.0) for x in (-3.15, 3.15)]
    outlines = seen(prism(polygon(360, 8.0)) - bores[0] - bores[1])
    assert least_wall(outlines, every_segment(outlines)) == pytest.approx(0.3, abs=1e-3)
    assert least_wall(outlines, ~outlines.is_void) == pytest.approx(8.0 - 6.15, abs=1e-3)


def test_a_bubble_leaves_two_thin_walls() -> None:
    shell = prism(polygon(64, 5.7), 1.0, 9.0) - prism(polygon(64, 5.4), -1.0, 11.0)
    outlines = seen(pipe(5.0, 7.0) - shell)
    due = 0.4 * math.cos(math.pi / 64)
    assert least_wall(outlines, every_segment(outlines)) == pytest.approx(due, rel=1e-6)


def test_a_slit_pipe_has_the_wall_of_a_whole_one() -> None:
    """One outline that runs out along the outside and back along the bore."""
    slit = Manifold.cube((10.0, 0.7, 12.0)).translate((0.0, -0.3, -1.0))
    outlines = seen(pipe(5.0, 7.0) - slit)
    due = 2.0 * math.cos(math.pi / 64)
    assert least_wall(outlines, every_segment(outlines)) == pytest.approx(due, rel=1e-4)


def test_a_bump_is_no_wall_and_a_fin_is() -> None:
    """A bump 1.0 wide and 0.3 high on a wall of 2, and a fin 0.4 thick and 2.5 high."""
    bump = Manifold.cube((1.5, 1.0, 12.0), center=True).translate((6.55, 0.0, 5.0))
    fin = Manifold.cube((3.0, 0.4, 12.0), center=True).translate((-8.0, 0.0, 5.0))
    bumped = seen(pipe(5.0, 7.0) + bump)
    wall = 2.0 * math.cos(math.pi / 64)
    assert least_wall(bumped, every_segment(bumped)) == pytest.approx(wall, rel=1e-6)
    finned = seen(pipe(5.0, 7.0) + bump + fin)
    assert least_wall(finned, every_segment(finned)) == pytest.approx(0.4, abs=1e-6)


def test_a_solid_bar_has_no_wall() -> None:
    outlines = seen(prism(polygon(64, 5.0)))
    assert least_wall(outlines, every_segment(outlines)) == math.inf


# Overlaps.


def test_a_ring_in_a_ring_shares_nothing_and_does_not_touch() -> None:
    pair = (seen(pipe(4.0, 5.0)), seen(pipe(5.1, 7.0)))
    areas, touched = shared_areas(*pair, 3), touching_levels(*pair, 3)
    assert (areas == 0.0).all()
    assert not touched.any()


@pytest.mark.parametrize("radius", [1.0, 5.3])
def test_a_bar_in_the_material_of_a_ring_is_shared_whole(radius: float) -> None:
    """No outline crosses: one lies all within the other's material."""
    bar = prism(polygon(32, 0.3, centre=(radius, 0.0)))
    pair = (seen(bar), seen(pipe(5.0, 5.6) + pipe(0.5, 2.0)))
    areas, touched = shared_areas(*pair, 3), touching_levels(*pair, 3)
    due = 0.5 * 32 * math.sin(math.pi / 16) * 0.09
    assert touched.all()
    assert areas == pytest.approx(due, rel=0.02)


def test_levels_that_share_are_told_from_those_that_do_not() -> None:
    """Two discs whose lens is a closed form, on the middle level only."""
    one = prism(polygon(720, 2.0, centre=(-1.5, 0.3)), 4.0, 6.0)
    pair = (seen(one), seen(prism(polygon(720, 2.0, centre=(1.5, 0.3)))))
    areas, touched = shared_areas(*pair, 3), touching_levels(*pair, 3)
    lens = 8.0 * math.acos(0.75) - 1.5 * math.sqrt(16.0 - 9.0)
    assert touched.tolist() == [False, True, False]
    assert areas == pytest.approx([0.0, lens, 0.0], rel=1e-3)


def test_windings_count_material_not_voids() -> None:
    outlines = seen(pipe(4.0, 6.0), (0.7, -0.2))
    points = np.array([[5.0, 0.0], [0.0, 5.5], [3.0, 0.0], [7.0, 0.0], [-4.9, 0.0]])
    told = windings_at(points - (0.7, -0.2), np.array([0, 1, 2, 0, 1]), outlines)
    assert told.tolist() == [1, 1, 0, 0, 1]


def test_a_point_seen_in_line_with_a_corner_is_counted_once() -> None:
    outlines = seen(pipe(4.0, 6.0, 8))
    corners = polygon(8, 5.0)
    assert windings_at(corners, np.zeros(8, np.int64), outlines).tolist() == [1] * 8


# Turning.


def tabbed(radius: float, reach: float, half: float, at: float = 0.3) -> Manifold:
    """A disc with a tab out to a reach, its flanks radial."""
    angles = at + np.linspace(-half, half, 9)
    corners = np.column_stack([np.cos(angles), np.sin(angles)]) * reach
    return prism(polygon(360, radius)) + prism(np.vstack([[(0.0, 0.0)], corners]))


@pytest.mark.parametrize("way", [1, -1])
def test_play_is_the_angle_to_the_flank(way: int) -> None:
    tenon = seen(tabbed(5.0, 5.6, 0.2))
    hollow = prism(polygon(360, 9.0)) - tabbed(5.15, 5.75, 0.22, 0.3 + way * 0.01)
    socket = seen(hollow)
    plays = play_deg(tenon, socket[socket.is_void])
    near, far = np.degrees([0.01, 0.03])
    assert plays == pytest.approx((far, near) if way == 1 else (near, far), abs=2e-3)


def test_round_in_round_has_no_end_of_play() -> None:
    tenon, socket = seen(prism(polygon(90, 5.0))), seen(pipe(5.15, 8.0, 90))
    assert play_deg(tenon, socket[socket.is_void]) == (math.inf, math.inf)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_collisions_are_those_of_every_ray_at_every_turn(seed: int) -> None:
    rng = np.random.default_rng(seed)
    tenon, socket = rng.uniform(4.0, 5.0, (2, 40)), rng.uniform(4.7, 6.0, (2, 40))
    due = [
        any(
            (np.roll(outer, turn) > inner + 0.05).any()
            for outer, inner in zip(tenon, socket, strict=True)
        )
        for turn in range(40)
    ]
    assert turn_collisions(tenon, socket, 0.05).tolist() == due
