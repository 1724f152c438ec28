"""What a mesh must be before anything is read off it."""

from __future__ import annotations

import numpy as np
import pytest
from borewright.core.errors import BadMesh
from borewright.core.meshes.connected import connected_groups
from borewright.core.meshes.mesh_checks import (
    check_closed,
    check_touching,
    enclosed_volume,
    sound_mesh,
    weld,
)
from borewright.core.values import Mesh
from hypothesis import given
from hypothesis import strategies as st

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
    degenerate = np.vstack([BOX, [[0, 1, 1]]])
    sound, remarks = sound_mesh(Mesh(CORNERS, degenerate))
    assert len(sound.triangles) == 12
    assert remarks == ("1 triangles with no area were dropped.",)


@pytest.mark.parametrize("gone", range(12))
def test_a_tear_is_refused_with_its_place(gone: int) -> None:
    with pytest.raises(BadMesh, match="3 open edges") as refusal:
        check_closed(Mesh(CORNERS, np.delete(BOX, gone, axis=0)))
    rim = {tuple(CORNERS[BOX[gone]][[a, b]].mean(axis=0)) for a, b in ((0, 1), (1, 2), (2, 0))}
    assert set(refusal.value.places) == rim


def test_an_edge_of_four_triangles_is_refused_with_its_place() -> None:
    touching = weld(joined(loose(box()), loose(Mesh(CORNERS + np.array([1.0, 1.0, 0.0]), BOX))))
    with pytest.raises(BadMesh, match="1 edges shared by three or more") as refusal:
        check_closed(touching)
    assert refusal.value.places == ((1.0, 1.0, 0.5),)


def test_a_flipped_triangle_is_refused() -> None:
    flipped = BOX.copy()
    flipped[5] = flipped[5][::-1]
    with pytest.raises(BadMesh, match="face opposite ways"):
        check_closed(Mesh(CORNERS, flipped))


def test_two_bodies_that_meet_in_a_point_are_refused_with_its_place() -> None:
    touching = weld(joined(loose(box()), loose(box(1.0))))
    check_closed(touching)
    with pytest.raises(BadMesh, match="1 vertex where the mesh touches itself") as refusal:
        check_touching(touching)
    assert refusal.value.places == ((1.0, 1.0, 1.0),)


def test_two_bodies_are_refused_with_their_sizes() -> None:
    with pytest.raises(BadMesh, match=r"2 separate bodies, of 12, 12 triangles"):
        sound_mesh(joined(box(), box(5.0)))


def test_an_inside_out_mesh_is_turned_and_told() -> None:
    sound, remarks = sound_mesh(Mesh(CORNERS, BOX[:, ::-1]))
    assert enclosed_volume(sound) > 0.0
    assert remarks == ("All triangles faced inward; they were turned outward.",)


@pytest.mark.parametrize(
    ("mesh", "found"),
    [
        (Mesh(CORNERS, BOX[:1]), "1 triangles"),
        (Mesh(CORNERS * [1, 1, np.nan], BOX), "vertex 0 is not a finite number"),
        (Mesh(CORNERS * [1, 1, 0], BOX), "open edges|three or more|volume|triangles"),
    ],
)
def test_what_is_no_solid_is_refused(mesh: Mesh, found: str) -> None:
    with pytest.raises(BadMesh, match=found):
        sound_mesh(mesh)


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
