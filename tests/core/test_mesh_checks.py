"""What a mesh must be before anything is read off it."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadMesh
from borewright.core.meshes.connected import connected_groups
from borewright.core.meshes.equal_rows import first_equal
from borewright.core.meshes.fans import touching_vertices
from borewright.core.meshes.half_edges import pair_edges
from borewright.core.meshes.mesh_checks import (
    check_closed,
    enclosed_volume,
    join_equal,
    weld,
)
from borewright.core.values import IntArray, Mesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.touching import touching_points

SEEDS = st.integers(0, 2**32 - 1)

CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], np.float64)
BOX = np.array(
    [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]
)  # fmt: skip


def box(shift: float = 0.0) -> Mesh:
    return Mesh(CORNERS + shift, BOX)


def loose(mesh: Mesh) -> Mesh:
    """Every triangle with corners of its own, as an STL has them."""
    return Mesh(
        mesh.vertices[mesh.triangles].reshape(-1, 3),
        np.arange(len(mesh.triangles) * 3).reshape(-1, 3),
    )


def joined(*meshes: Mesh) -> Mesh:
    offsets = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    triangles = [mesh.triangles + offset for mesh, offset in zip(meshes, offsets, strict=False)]
    return Mesh(np.vstack([mesh.vertices for mesh in meshes]), np.vstack(triangles))


def test_volume_of_a_unit_box_is_one_and_turns_negative_with_its_faces() -> None:
    assert enclosed_volume(box(7.0)) == pytest.approx(1.0, abs=1e-12)
    assert enclosed_volume(Mesh(CORNERS, BOX[:, ::-1])) == pytest.approx(-1.0, abs=1e-12)


def test_weld_brings_loose_corners_back_to_the_box() -> None:
    welded = weld(loose(box()))
    assert len(welded.vertices) == 8
    check_closed(welded)


def test_weld_takes_minus_zero_for_zero() -> None:
    vertices = loose(box()).vertices.copy()
    vertices[::2] *= np.where(vertices[::2] == 0.0, -1.0, 1.0)
    assert len(weld(Mesh(vertices, loose(box()).triangles)).vertices) == 8


def test_weld_drops_triangles_that_collapse() -> None:
    welded = weld(Mesh(CORNERS, np.vstack([BOX, [[0, 1, 1]]])))
    assert np.array_equal(welded.triangles, BOX)


def test_a_sound_mesh_is_welded_without_a_copy() -> None:
    mesh = box()
    assert np.shares_memory(join_equal(mesh).vertices, mesh.vertices)
    assert np.shares_memory(weld(mesh).triangles, mesh.triangles)


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 2)), min_size=1, max_size=60))
def test_equal_rows_are_those_of_a_plain_search(rows: list[tuple[int, int]]) -> None:
    first = first_equal(list(np.array(rows, np.int64).T.copy()))
    assert first.tolist() == [rows.index(row) for row in rows]


@given(st.integers(2, 9), SEEDS)
def test_equal_rows_are_found_among_many(most: int, seed: int) -> None:
    """Some thousand rows: several turns of the table are needed."""
    values = np.random.default_rng(seed).integers(0, most**4, 3000)
    first = first_equal([values])
    assert np.array_equal(values[first], values)
    assert len(np.unique(first)) == len(np.unique(values))
    assert np.array_equal(first[np.unique(values, return_index=True)[1]],
                          np.unique(values, return_index=True)[1])  # fmt: skip


# Edges


@given(st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=12))
def test_edges_are_paired_just_where_a_plain_count_says_so(
    triangles: list[tuple[int, int, int]],
) -> None:
    sides = Counter(pair for a, b, c in triangles for pair in ((a, b), (b, c), (c, a)))
    closed = all(count == 1 and sides[b, a] == 1 and a != b for (a, b), count in sides.items())
    assert (pair_edges(np.array(triangles), 5) is not None) == closed


@given(SEEDS)
def test_half_edges_find_their_twins_in_any_order(seed: int) -> None:
    rng = np.random.default_rng(seed)
    triangles = renumbered(ball().triangles, rng)
    edges = pair_edges(triangles, int(triangles.max()) + 1)
    assert edges is not None
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    twins = edges.twins()
    assert np.array_equal(start[twins], end)
    assert np.array_equal(end[twins], start)


def renumbered(triangles: IntArray, rng: np.random.Generator) -> IntArray:
    """Vertices, triangles and their corners in another order."""
    number = rng.permutation(int(triangles.max()) + 1)
    turned = (rng.integers(0, 3, len(triangles))[:, None] + np.arange(3)) % 3
    mixed: IntArray = np.take_along_axis(number[triangles], turned, axis=1)
    return mixed[rng.permutation(len(mixed))]


def ball() -> Mesh:
    sphere = trimesh.creation.icosphere(subdivisions=2, radius=10.0)
    return Mesh(np.array(sphere.vertices), np.array(sphere.faces))


@settings(max_examples=40)
@given(SEEDS, st.integers(0, 6))
def test_touching_vertices_are_those_of_a_plain_walk(seed: int, joins: int) -> None:
    """Balls, and one ball, with some pairs of vertices made one, in any order."""
    rng = np.random.default_rng(seed)
    both = joined(ball(), ball())
    triangles = both.triangles.copy()
    for _ in range(joins):
        one, other = rng.choice(len(both.vertices), 2, replace=False)
        triangles[triangles == other] = one
    number = rng.permutation(len(both.vertices))
    vertices = np.empty_like(both.vertices)
    vertices[number] = both.vertices
    triangles = number[triangles]
    edges = pair_edges(triangles, len(vertices))
    if edges is not None:
        found = touching_vertices(edges, Mesh(vertices, triangles))
        assert found.tolist() == [v for v in range(len(vertices)) if fans_of(triangles, v) > 1]


def fans_of(triangles: IntArray, vertex: int) -> int:
    """How many rings the corners around a vertex make, by walking them."""
    onward = {}
    for triangle in triangles[(triangles == vertex).any(axis=1)].tolist():
        k = triangle.index(vertex)
        onward[triangle[k - 2]] = triangle[k - 1]
    rings = 0
    while onward:
        rings += 1
        corner = next(iter(onward))
        while corner in onward:
            corner = onward.pop(corner)
    return rings


# Refusals


@pytest.mark.parametrize("gone", range(12))
def test_a_tear_is_refused_with_its_place(gone: int) -> None:
    with pytest.raises(BadMesh, match="3 edges with one triangle only") as refusal:
        check_closed(Mesh(CORNERS, np.delete(BOX, gone, axis=0)))
    rim = {tuple(CORNERS[BOX[gone]][[a, b]].mean(axis=0)) for a, b in ((0, 1), (1, 2), (2, 0))}
    assert set(refusal.value.places) == rim


def test_an_edge_of_four_triangles_is_refused_with_its_place() -> None:
    touching = weld(joined(loose(box()), loose(Mesh(CORNERS + np.array([1.0, 1.0, 0.0]), BOX))))
    with pytest.raises(BadMesh, match="1 edge shared by three or more") as refusal:
        check_closed(touching)
    assert refusal.value.places == ((1.0, 1.0, 0.5),)


def test_a_flipped_triangle_is_refused() -> None:
    flipped = BOX.copy()
    flipped[5] = flipped[5][::-1]
    with pytest.raises(BadMesh, match="face opposite ways"):
        check_closed(Mesh(CORNERS, flipped))


def test_two_bodies_that_meet_in_a_point_touch_there() -> None:
    touching = weld(joined(loose(box()), loose(box(1.0))))
    check_closed(touching)
    assert touching_points(touching).tolist() == [[1.0, 1.0, 1.0]]


@given(st.integers(1, 30), st.lists(st.tuples(st.integers(0, 29), st.integers(0, 29)), max_size=40))
def test_groups_are_those_of_a_plain_search(count: int, pairs: list[tuple[int, int]]) -> None:
    pairs = [(a % count, b % count) for a, b in pairs]
    first, second = np.array(pairs, np.int64).reshape(-1, 2).T
    groups = connected_groups(count, first, second)
    near: dict[int, set[int]] = {k: {k} for k in range(count)}
    for a, b in pairs:
        near[a].add(b)
        near[b].add(a)
    for start in range(count):
        reached, fresh = {start}, [start]
        while fresh:
            step = near[fresh.pop()] - reached
            reached |= step
            fresh += step
        assert reached == set(np.flatnonzero(groups == groups[start]).tolist())
