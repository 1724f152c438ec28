"""Loops of regions and connected patches, against counts known in closed form."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from numpy.typing import NDArray

from core.meshes.borders import RegionLoop, connected_patches, region_loops, triangles_at
from core.meshes.half_edges import pair_edges
from tests.parts import plain_tube, ringed_pipe, straight_pipe

IntArray = NDArray[np.int64]


def torus(around: int, along: int) -> IntArray:
    """A closed mesh of around x along squares, two triangles each, in that order."""
    i, j = np.meshgrid(np.arange(around), np.arange(along), indexing="ij")

    def vertex(a: IntArray, b: IntArray) -> IntArray:
        return (a % around) * along + b % along

    corners = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j), (i + 1, j + 1), (i, j + 1)]
    return np.stack([vertex(a, b) for a, b in corners], axis=-1).reshape(-1, 3)


def squares(along: int, marked: list[tuple[int, int]], around: int) -> IntArray:
    """Region 1 on the marked squares of a torus, 0 elsewhere."""
    regions = np.zeros(2 * around * along, np.int64)
    for i, j in marked:
        regions[2 * (i * along + j) : 2 * (i * along + j) + 2] = 1
    return regions


def loops_of(region: int, loops: list[RegionLoop]) -> list[RegionLoop]:
    return [loop for loop in loops if loop.region == region]


def from_least(vertices: IntArray) -> tuple[int, ...]:
    """The same closed chain, begun at its vertex of least number."""
    return tuple(np.roll(vertices, -int(np.argmin(vertices))).tolist())


def check_chain(loop: RegionLoop, triangles: IntArray, regions: IntArray) -> None:
    """Every edge is the region's, starts where said, and is its neighbour's run backward."""
    after = np.roll(loop.vertices, -1)
    assert np.array_equal(triangles[loop.triangles, loop.corners], loop.vertices)
    assert np.array_equal(triangles[loop.triangles, (loop.corners + 1) % 3], after)
    assert np.array_equal(triangles[loop.beyond_triangles, loop.beyond_corners], after)
    ends = triangles[loop.beyond_triangles, (loop.beyond_corners + 1) % 3]
    assert np.array_equal(ends, loop.vertices)
    assert (regions[loop.triangles] == loop.region).all()
    assert np.array_equal(regions[loop.beyond_triangles], loop.beyond)
    assert (loop.beyond != loop.region).all()


def test_a_block_of_squares_has_one_loop_of_its_perimeter() -> None:
    triangles = torus(12, 9)
    regions = squares(9, [(i, j) for i in range(3, 7) for j in range(2, 5)], 12)
    loops = region_loops(triangles, regions, 12 * 9)
    assert [len(loop.vertices) for loop in loops_of(1, loops)] == [2 * (4 + 3)]
    assert [len(loop.vertices) for loop in loops_of(0, loops)] == [2 * (4 + 3)]
    for loop in loops:
        check_chain(loop, triangles, regions)


def test_a_loop_has_its_region_on_the_left() -> None:
    triangles = torus(12, 9)
    loops = region_loops(triangles, squares(9, [(3, 2)], 12), 12 * 9)
    corners = [3 * 9 + 2, 4 * 9 + 2, 4 * 9 + 3, 3 * 9 + 3]
    assert from_least(loops_of(1, loops)[0].vertices) == tuple(corners)
    assert from_least(loops_of(0, loops)[0].vertices) == (
        corners[0],
        corners[3],
        corners[2],
        corners[1],
    )


def test_a_band_around_a_torus_has_two_loops() -> None:
    triangles = torus(12, 9)
    regions = squares(9, [(i, j) for i in range(12) for j in (2, 3)], 12)
    loops = region_loops(triangles, regions, 12 * 9)
    assert sorted(len(loop.vertices) for loop in loops_of(1, loops)) == [12, 12]


def test_squares_that_touch_in_a_point_keep_loops_of_their_own() -> None:
    triangles = torus(12, 9)
    regions = squares(9, [(3, 2), (4, 3)], 12)
    loops = region_loops(triangles, regions, 12 * 9)
    shared = 4 * 9 + 3
    assert [len(loop.vertices) for loop in loops_of(1, loops)] == [4, 4]
    assert all(shared in loop.vertices for loop in loops_of(1, loops))
    assert sum(len(loop.vertices) for loop in loops_of(0, loops)) == 8
    for loop in loops:
        check_chain(loop, triangles, regions)


def test_three_regions_that_meet_know_what_lies_across_each_edge() -> None:
    triangles = torus(12, 9)
    regions = squares(9, [(3, 2), (3, 3)], 12)
    regions[2 * (3 * 9 + 3) : 2 * (3 * 9 + 3) + 2] = 7
    loops = region_loops(triangles, regions, 12 * 9)
    assert Counter(loops_of(1, loops)[0].beyond.tolist()) == {0: 3, 7: 1}
    assert Counter(loops_of(7, loops)[0].beyond.tolist()) == {0: 3, 1: 1}
    assert Counter(loops_of(0, loops)[0].beyond.tolist()) == {1: 3, 7: 3}


def test_one_region_has_no_loops() -> None:
    assert region_loops(torus(5, 4), np.zeros(40, np.int64), 20) == []


def test_a_single_triangle_may_be_a_region() -> None:
    triangles = torus(5, 4)
    regions = np.zeros(len(triangles), np.int64)
    regions[11] = 3
    loops = region_loops(triangles, regions, 20)
    assert from_least(loops_of(3, loops)[0].vertices) == from_least(triangles[11])


def test_two_sheets_that_touch_in_a_vertex_keep_apart() -> None:
    """Two tetrahedra that share vertex 0: each its own region, neither ends anywhere."""
    first = np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]])
    second = np.where(first > 0, first + 3, 0)
    triangles = np.vstack([first, second])
    assert region_loops(triangles, np.repeat([0, 1], 4), 7) == []
    loops = region_loops(triangles, np.array([0, 0, 0, 0, 1, 2, 2, 2]), 7)
    assert sorted((loop.region, len(loop.vertices)) for loop in loops) == [(1, 3), (2, 3)]


def test_an_open_mesh_is_a_mistake_of_ours() -> None:
    triangles = torus(5, 4)[1:]
    regions = np.zeros(len(triangles), np.int64)
    regions[0] = 1
    with pytest.raises(AssertionError, match="closed"):
        region_loops(triangles, regions, 20)


def test_loops_do_not_depend_on_any_order() -> None:
    rng = np.random.default_rng(5)
    around, along = 30, 20
    triangles = torus(around, along)
    regions = rng.integers(0, 3, len(triangles))
    plain = region_loops(triangles, regions, around * along)
    number = rng.permutation(around * along)
    order = rng.permutation(len(triangles))
    turn = (np.arange(3) + rng.integers(0, 3, len(triangles))[:, None]) % 3
    mixed = number[np.take_along_axis(triangles, turn, axis=1)][order]
    turned = region_loops(mixed, regions[order], around * along)
    before = Counter((loop.region, from_least(number[loop.vertices])) for loop in plain)
    assert before == Counter((loop.region, from_least(loop.vertices)) for loop in turned)
    assert [loop.region for loop in turned] == sorted(loop.region for loop in turned)
    for loop in turned:
        check_chain(loop, mixed, regions[order])


@pytest.mark.parametrize("seed", range(20))
def test_every_border_edge_is_in_one_loop_of_each_side(seed: int) -> None:
    """Against a count made edge by edge from the sorted half-edges of the whole mesh."""
    rng = np.random.default_rng(seed)
    around, along = (int(n) for n in rng.integers(3, 15, 2))
    triangles = torus(around, along)
    regions = rng.integers(0, 4, len(triangles)) // rng.integers(1, 4)
    loops = region_loops(triangles, regions, around * along)
    edges = pair_edges(triangles, int(triangles.max()) + 1)
    assert edges is not None
    twin = edges.twins()
    apart = np.flatnonzero(regions.repeat(3) != regions[twin // 3])
    found = [loop.triangles * 3 + loop.corners for loop in loops]
    assert np.array_equal(np.sort(np.concatenate([*found, np.empty(0, np.int64)])), apart)
    for loop in loops:
        assert np.array_equal(
            twin[3 * loop.triangles + loop.corners],
            3 * loop.beyond_triangles + loop.beyond_corners,
        )
        check_chain(loop, triangles, regions)


@pytest.mark.parametrize("make", [plain_tube, straight_pipe, ringed_pipe])
def test_regions_of_a_part_end_in_as_many_loops_as_it_has_openings(make: object) -> None:
    """Regions by the facing of the triangles alone; a tube's holes pierce both walls."""
    part = make()  # type: ignore[operator]
    axis, origin = part.truth.pose[:3, 2], part.truth.pose[:3, 3]
    mesh = part.mesh
    arms = mesh.vertices - origin
    radii = np.linalg.norm(arms - np.outer(arms @ axis, axis), axis=1)
    on_bore = (np.abs(radii - part.truth.bore[0] / 2.0) < 0.02)[mesh.faces].all(axis=1)
    on_bore &= np.abs(mesh.face_normals @ axis) < 0.5
    loops = region_loops(np.asarray(mesh.faces), on_bore.astype(np.int64), len(mesh.vertices))
    assert len(loops_of(1, loops)) == 2 + len(part.truth.holes)


def test_patches_hang_together_by_edges_not_by_points() -> None:
    triangles = torus(12, 9)
    regions = squares(9, [(3, 2), (4, 3), (8, 1), (8, 2)], 12)
    chosen = np.flatnonzero(regions == 1)
    assert connected_patches(triangles, chosen).tolist() == [0, 0, 1, 1, 2, 2, 2, 2]
    assert connected_patches(triangles, chosen[::-1]).tolist() == [0, 0, 0, 0, 1, 1, 2, 2]


def test_no_triangles_make_no_patches() -> None:
    assert connected_patches(torus(3, 3), np.empty(0, np.int64)).tolist() == []


def test_triangles_at_a_vertex_are_its_six() -> None:
    triangles = torus(12, 9)
    marked = np.zeros(12 * 9, bool)
    marked[40] = True
    found = triangles_at(triangles, marked)
    assert len(found) == 6
    assert (triangles[found] == 40).any(axis=1).all()
