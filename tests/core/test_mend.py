"""Source meshes made sound: each kind of damage is repaired and told, or refused with its place.

Truth is the closed form of boxes and of their edges; lengths in mm.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

import manifold3d
import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadMesh
from borewright.core.meshes.mend import MendedBody, mend_bodies
from borewright.core.meshes.mesh_checks import check_closed, enclosed_volume
from borewright.core.values import IntArray, Mesh
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.damage import DAMAGES, Damage, Source, source_of
from tests.parts import Hole, plain_tube, tapered_pipe
from tests.touching import touching_points

SEEDS = st.integers(0, 2**32 - 1)


def box(
    size: float = 10.0, at: tuple[float, float, float] = (0.0, 0.0, 0.0), steps: int = 4
) -> Mesh:
    """A box with its low corner at a point, each face of steps x steps squares."""
    corners = [
        (x, y, z)
        for x in range(steps + 1) for y in range(steps + 1) for z in range(steps + 1)
    ]  # fmt: skip
    number = {corner: k for k, corner in enumerate(corners)}
    triangles = []
    for axis in range(3):
        for side in (0, steps):
            for i in range(steps):
                for j in range(steps):
                    quad = []
                    for u, v in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)):
                        corner = [0, 0, 0]
                        corner[axis], corner[axis - 2], corner[axis - 1] = side, u, v
                        quad.append(number[corner[0], corner[1], corner[2]])
                    a, b, c, d = quad if side else [quad[0], *quad[:0:-1]]
                    triangles += [(a, b, c), (a, c, d)]
    used = sorted(set(np.ravel(triangles).tolist()))
    place = {vertex: k for k, vertex in enumerate(used)}
    points = np.array([corners[vertex] for vertex in used]) * (size / steps) + np.array(at)
    return Mesh(points, np.array([[place[v] for v in triangle] for triangle in triangles]))


def joined(*meshes: Mesh) -> Mesh:
    offsets = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes)])
    triangles = [mesh.triangles + offset for mesh, offset in zip(meshes, offsets, strict=False)]
    return Mesh(np.vstack([mesh.vertices for mesh in meshes]), np.vstack(triangles))


def without(mesh: Mesh, gone: IntArray | list[int]) -> Mesh:
    return Mesh(mesh.vertices, np.delete(mesh.triangles, gone, axis=0))


def middles(mesh: Mesh) -> IntArray:
    found: IntArray = mesh.vertices[mesh.triangles].mean(axis=1)
    return found


def on_top(mesh: Mesh, low: float, high: float, top: float = 10.0) -> IntArray:
    """Triangles of the face z = top with x and y between bounds."""
    at = middles(mesh)
    return np.flatnonzero((at[:, 2] == top) & ((at[:, :2] > low) & (at[:, :2] < high)).all(axis=1))


def turned(mesh: Mesh) -> Mesh:
    return Mesh(mesh.vertices, mesh.triangles[:, ::-1])


def the_one(mesh: Mesh) -> MendedBody:
    (body,) = mend_bodies(mesh)
    assert_sound(body)
    return body


def assert_sound(body: MendedBody) -> None:
    """By trimesh, and by our own checks, which are held against plain searches elsewhere."""
    check_closed(body.mesh)
    assert len(touching_points(body.mesh)) == 0
    solid = trimesh.Trimesh(body.mesh.vertices, body.mesh.triangles, process=False)
    assert solid.is_watertight and solid.is_winding_consistent and solid.volume > 0.0


def refusal(mesh: Mesh, match: str) -> BadMesh:
    with pytest.raises(BadMesh, match=match) as refused:
        mend_bodies(mesh)
    assert refused.value.places
    return refused.value


# Nothing to be done


def test_a_sound_body_comes_back_as_it_is_without_a_copy() -> None:
    mesh = box()
    body = the_one(mesh)
    assert np.shares_memory(body.mesh.vertices, mesh.vertices)
    assert np.shares_memory(body.mesh.triangles, mesh.triangles)
    assert (body.remarks, body.tears, body.fills.max()) == ((), (), -1)
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)


# Doubles


@pytest.mark.parametrize("ways", [(1,), (-1,), (1, 1), (1, -1), (-1, -1)])
def test_of_doubled_bodies_one_stays(ways: tuple[int, ...]) -> None:
    copies = [box() if way > 0 else turned(box()) for way in ways]
    body = the_one(joined(box(), *copies))
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)
    assert len(body.mesh.triangles) == len(box().triangles)
    assert body.remarks[1].startswith(f"{192 * len(ways)} doubled triangles were dropped")


def test_a_collapsed_triangle_is_dropped_and_told_with_its_place() -> None:
    mesh = box()
    more = Mesh(mesh.vertices, np.vstack((mesh.triangles, [[3, 7, 7]])))
    body = the_one(more)
    place = ", ".join(f"{v:.3f}" for v in mesh.vertices[[3, 7, 7]].mean(axis=0))
    assert body.remarks == (f"1 triangle with no area was dropped, at ({place}).",)
    assert np.array_equal(body.mesh.triangles, mesh.triangles)


def test_a_wall_without_thickness_between_touching_boxes_goes() -> None:
    """Two boxes face to face: their common face is there back to back. One body is left."""
    body = the_one(joined(box(), box(at=(10.0, 0.0, 0.0))))
    assert enclosed_volume(body.mesh) == pytest.approx(2000.0, rel=1e-12)
    assert len(body.mesh.triangles) == 2 * (192 - 32)
    assert "64 triangles of fins without thickness were dropped" in body.remarks[1]


@pytest.mark.parametrize("copies", [1, 2])
def test_a_fin_without_thickness_goes_even_from_a_body_twice(copies: int) -> None:
    mesh = joined(*([box(), turned(box())] if copies == 2 else [box()]))
    a, b, _ = mesh.triangles[on_top(mesh, 2.0, 8.0)[0]].tolist()
    tip = len(mesh.vertices)
    vertices = np.vstack((mesh.vertices, [5.0, 5.0, 14.0]))
    fin = Mesh(vertices, np.vstack((mesh.triangles, [[a, b, tip], [b, a, tip]])))
    body = the_one(fin)
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)
    assert any("2 triangles of fins" in remark for remark in body.remarks)


# Cracks


def test_corners_apart_by_less_than_a_crack_are_welded() -> None:
    """Each corner of each triangle is up to 0.0009 mm off, so no two are farther than 0.0018."""
    mesh = box()
    loose = mesh.vertices[mesh.triangles].reshape(-1, 3)
    noise = np.random.default_rng(4).uniform(-9e-4, 9e-4, loose.shape)
    body = the_one(Mesh(loose + noise, np.arange(len(loose)).reshape(-1, 3)))
    assert len(body.mesh.vertices) == len(mesh.vertices)
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, abs=600.0 * 9e-4)


def test_corners_farther_apart_are_told_as_a_tear() -> None:
    """One corner of one triangle is pulled 0.02 mm in: that triangle hangs on two corners."""
    mesh = box()
    loose = mesh.vertices[mesh.triangles].reshape(-1, 3).copy()
    row = 3 * int(on_top(mesh, 2.0, 8.0)[0])
    loose[row, 2] -= 0.02
    body = the_one(Mesh(loose, np.arange(len(loose)).reshape(-1, 3)))
    assert len(body.mesh.vertices) == len(mesh.vertices) + 1
    assert body.tears
    assert np.linalg.norm(np.array(body.tears[0].place) - loose[row]) < 2.5
    assert 1000.0 - 0.02 * 2.5**2 < enclosed_volume(body.mesh) < 1000.0


@pytest.mark.parametrize("count", [1, 3])
def test_a_triangle_with_vertices_on_its_edge_is_split_there(count: int) -> None:
    """One triangle is cut into a fan, so its neighbour's edge has vertices on it."""
    mesh = box()
    row = int(on_top(mesh, 2.0, 8.0)[0])
    a, b, c = mesh.triangles[row].tolist()
    shares = (np.arange(count) + 1.0)[:, None] / (count + 1.0)
    inner = mesh.vertices[a] + shares * (mesh.vertices[b] - mesh.vertices[a])
    along = [a, *(len(mesh.vertices) + np.arange(count)).tolist(), b]
    fan = [[one, other, c] for one, other in pairwise(along)]
    body = the_one(
        Mesh(
            np.vstack((mesh.vertices, inner)),
            np.vstack((np.delete(mesh.triangles, row, axis=0), fan)),
        )
    )
    assert len(body.mesh.triangles) == 192 + 2 * count
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-9)
    assert not body.tears
    told = "1 vertex lay" if count == 1 else f"{count} vertices lay"
    assert body.remarks[0].startswith(told)


# Facing


@settings(max_examples=60)
@given(SEEDS, st.floats(0.0, 1.0))
def test_triangles_turned_at_random_all_face_outward_again(seed: int, share: float) -> None:
    mesh = box()
    chosen = np.random.default_rng(seed).random(len(mesh.triangles)) < share
    triangles = np.where(chosen[:, None], mesh.triangles[:, ::-1], mesh.triangles)
    body = the_one(Mesh(mesh.vertices, triangles))
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)
    assert bool(body.remarks) == bool(chosen.any())


def test_a_body_inside_out_is_turned_and_told() -> None:
    body = the_one(turned(box()))
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)
    assert body.remarks == ("All 192 triangles faced inward; they were turned outward.",)


def test_a_surface_with_one_side_is_refused_with_its_place() -> None:
    """A band of nine squares with half a turn in it."""
    turn = 2.0 * np.pi * np.arange(9) / 9.0
    across = np.column_stack((np.cos(turn) * np.cos(turn / 2), np.sin(turn) * np.cos(turn / 2),
                              np.sin(turn / 2)))  # fmt: skip
    middle = 10.0 * np.column_stack((np.cos(turn), np.sin(turn), np.zeros(9)))
    vertices = np.vstack((middle + 2.0 * across, middle - 2.0 * across))
    triangles = []
    for k in range(9):
        a, b = k, 9 + k
        c, d = (k + 1, 9 + k + 1) if k < 8 else (9, 0)
        triangles += [(a, b, d), (a, d, c)]
    refusal(Mesh(vertices, np.array(triangles)), "one side only")


# Tears


@pytest.mark.parametrize(("low", "high", "edges"), [(2.5, 5.0, 4), (2.5, 7.5, 8), (0.0, 10.0, 16)])
def test_a_flat_tear_is_closed_exactly(low: float, high: float, edges: int) -> None:
    mesh = box()
    gone = on_top(mesh, low, high)
    body = the_one(without(mesh, gone))
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)
    (tear,) = body.tears
    middle = (low + high) / 2.0
    assert tear.place == pytest.approx((middle, middle, 10.0))
    assert tear.size == pytest.approx((high - low) * np.sqrt(2.0))
    assert (tear.edges, tear.flatness) == (edges, 0.0)
    assert np.count_nonzero(body.fills == 0) == edges - 2
    assert (middles(body.mesh)[body.fills == 0][:, 2] == 10.0).all()
    place = f"({middle:.3f}, {middle:.3f}, 10.000)"
    assert body.remarks == (
        f"1 tear of {edges} edges, {tear.size:.2f} mm across, was closed, at {place}.",
    )


def test_tears_that_share_a_vertex_are_closed_each_for_itself() -> None:
    mesh = box()
    gone = np.concatenate((on_top(mesh, 2.5, 5.0), on_top(mesh, 5.0, 7.5)))
    body = the_one(without(mesh, gone))
    assert sorted(tear.edges for tear in body.tears) == [4, 4]
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)


def test_a_tear_over_an_edge_is_closed_for_the_time_being_and_its_flatness_told() -> None:
    """Two squares beside one of the box's edges: the rim's middle plane lies at 45 degrees."""
    mesh = box()
    at = middles(mesh)
    near = (at[:, 1] > 2.5) & (at[:, 1] < 7.5)
    gone = np.flatnonzero(
        near & (((at[:, 2] == 10.0) & (at[:, 0] > 7.5)) | ((at[:, 0] == 10.0) & (at[:, 2] > 7.5)))
    )
    body = the_one(without(mesh, gone))
    (tear,) = body.tears
    assert tear.edges == 8
    assert tear.flatness > 0.5
    assert 1000.0 - 5.0 * 2.5**2 <= enclosed_volume(body.mesh) <= 1000.0


@pytest.mark.parametrize("steps", [17, 40])
def test_a_rim_of_more_than_64_edges_is_refused_with_place_and_size(steps: int) -> None:
    mesh = box(steps=steps)
    refused = refusal(without(mesh, on_top(mesh, 0.0, 10.0)), f"1 tear of {4 * steps} open edges")
    assert refused.places == (pytest.approx((5.0, 5.0, 10.0)),)
    assert "14.14 mm across" in refused.found
    assert "64 edges" in refused.needed


def test_so_many_open_edges_that_no_rim_is_followed_are_refused() -> None:
    mesh = box(steps=100)
    refused = refusal(without(mesh, np.arange(0, len(mesh.triangles), 3)), r"\d{5,} open edges")
    assert len(refused.places) == 20


def square_tube() -> Mesh:
    """30 x 30 x 30 with a bore of 10 x 10 along z, of squares of 10 mm."""
    cube = trimesh.creation.box(extents=(30, 30, 30)).difference(
        trimesh.creation.box(extents=(10, 10, 40)), engine="manifold"
    )
    return Mesh(np.array(cube.vertices), np.array(cube.faces))


def test_a_missing_wall_of_a_bore_is_no_pair_of_tears() -> None:
    tube = square_tube()
    in_bore = (np.abs(tube.vertices[tube.triangles][..., :2]) == 5.0).all(axis=(1, 2))
    refused = refusal(without(tube, np.flatnonzero(in_bore)), "face away from each other")
    assert sorted(place[2] for place in refused.places) == [-15.0, 15.0]


def test_a_missing_end_of_a_tube_is_no_pair_of_tears() -> None:
    tube = square_tube()
    end = (tube.vertices[tube.triangles][..., 2] == 15.0).all(axis=1)
    refused = refusal(without(tube, np.flatnonzero(end)), "face away from each other")
    assert {place[2] for place in refused.places} == {15.0}


def test_a_missing_outside_of_a_long_tube_is_no_pair_of_tears() -> None:
    """Patches over its two ends would leave the bore alone: a solid rod, turned inside out."""
    made = plain_tube().mesh
    tube = Mesh(np.array(made.vertices), np.array(made.faces))
    corners = tube.vertices[tube.triangles]
    outside = (np.hypot(corners[..., 0], corners[..., 1]) > 12.0).all(axis=1)
    level = np.ptp(corners[..., 2], axis=1) == 0.0
    refused = refusal(without(tube, np.flatnonzero(outside & ~level)), "close by a fold")
    assert sorted(place[2] for place in refused.places) == pytest.approx([0.0, 300.0])


# Several bodies


def test_bodies_apart_come_back_one_by_one_the_largest_first() -> None:
    bodies = mend_bodies(joined(box(5.0, (30.0, 0.0, 0.0)), box(), turned(box(7.0, (0, 30.0, 0)))))
    assert [round(enclosed_volume(body.mesh)) for body in bodies] == [1000, 343, 125]
    for body in bodies:
        assert_sound(body)
    assert [bool(body.remarks) for body in bodies] == [False, True, False]


INNER = box(5.0, (2.0, 2.0, 2.0))


@pytest.mark.parametrize("mesh", [joined(turned(INNER), box()), joined(INNER, turned(box()))])
def test_a_shell_within_a_body_that_faces_the_other_way_is_its_sealed_cavity(mesh: Mesh) -> None:
    body = the_one(mesh)
    assert enclosed_volume(body.mesh) == pytest.approx(875.0, rel=1e-12)
    assert "1 sealed cavity of 125.0 mm3 kept, at (4.500, 4.500, 4.500)." in body.remarks


@pytest.mark.parametrize("mesh", [joined(INNER, box()), joined(turned(INNER), turned(box()))])
def test_a_solid_within_a_solid_is_refused_with_the_place(mesh: Mesh) -> None:
    refused = refusal(mesh, r"1 body of 125.0 mm3 in the solid of another")
    assert refused.places == ((4.5, 4.5, 4.5),)


def test_a_body_within_a_cavity_is_a_body() -> None:
    shells = box(20.0), turned(box(10.0, (5.0, 5.0, 5.0))), box(4.0, (8.0, 8.0, 8.0))
    bodies = mend_bodies(joined(*shells[::-1]))
    assert [round(enclosed_volume(body.mesh)) for body in bodies] == [7000, 64]


def test_a_body_in_the_bore_of_another_is_no_cavity() -> None:
    rod = box(8.0, (-4.0, -4.0, -4.0))
    bodies = mend_bodies(joined(square_tube(), rod))
    assert [round(enclosed_volume(body.mesh)) for body in bodies] == [24000, 512]


def test_bodies_that_pass_through_each_other_are_refused_with_the_place() -> None:
    """A rod from the middle of the bore into the wall, its box within that of the tube."""
    rod = box(8.0, (2.0, -4.0, -4.0))
    refused = refusal(joined(square_tube(), rod), "pass through each other")
    assert all(place[0] == pytest.approx(5.0) for place in refused.places)


@pytest.mark.parametrize("reach", [0.5, 5.0])
def test_bodies_that_stand_out_of_each_other_are_refused_where_they_cross(reach: float) -> None:
    """Two boxes of which neither lies in the other, the second `reach` deep in the first."""
    refused = refusal(joined(box(), box(at=(10.0 - reach, 3.0, 4.0))), "pass through each other")
    for x, y, z in refused.places:
        assert 10.0 - reach - 1e-9 <= x <= 10.0 + 1e-9
        assert 3.0 - 1e-9 <= y <= 10.0 + 1e-9
        assert 4.0 - 1e-9 <= z <= 10.0 + 1e-9


def test_specks_are_dropped_and_counted() -> None:
    specks = [box(0.9, (20.0, 3.0 * k, 0.0)) for k in range(3)]
    body = the_one(joined(*specks, box()))
    assert enclosed_volume(body.mesh) == pytest.approx(1000.0, rel=1e-12)
    assert body.remarks[0].startswith("3 specks were under 1 mm3 and dropped, the first at (20.4")


def test_a_body_of_more_than_a_speck_stays() -> None:
    assert len(mend_bodies(joined(box(), box(1.01, (20.0, 0.0, 0.0))))) == 2


# Touching in a point


def test_bodies_that_touch_in_a_point_are_parted_where_they_are() -> None:
    mesh = joined(box(), box(at=(10.0, 10.0, 10.0)))
    bodies = mend_bodies(mesh)
    assert [round(enclosed_volume(body.mesh), 9) for body in bodies] == [1000.0, 1000.0]
    assert bodies[0].remarks[1] == (
        "1 vertex where surfaces touched in a point was parted, at (10.000, 10.000, 10.000)."
    )
    assert not bodies[1].remarks


def test_a_body_that_touches_itself_in_a_point_is_drawn_apart_there() -> None:
    """Two boxes corner to corner, held together by a third that keeps clear of the point."""
    solids = [
        manifold3d.Manifold.cube((10, 10, 10)),
        manifold3d.Manifold.cube((10, 10, 10)).translate((10, 10, 10)),
        manifold3d.Manifold.cube((4, 19, 19)).translate((-2, 0, 0)),
        manifold3d.Manifold.cube((20, 4, 4)).translate((-2, 15, 15)),
    ]
    solid = manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)
    raw = solid.to_mesh64()
    body = the_one(Mesh(np.array(raw.vert_properties), np.array(raw.tri_verts, np.int64)))
    assert enclosed_volume(body.mesh) == pytest.approx(solid.volume(), abs=0.2)
    gaps = np.linalg.norm(body.mesh.vertices - 10.0, axis=1)
    assert np.count_nonzero(gaps < 0.1) == 2
    assert np.all(gaps[gaps < 0.1] == pytest.approx(0.002, rel=1e-6))
    assert any("touched in a point" in remark for remark in body.remarks)


# Refused


def flap() -> Mesh:
    mesh = box()
    a, b, _ = mesh.triangles[on_top(mesh, 2.0, 8.0)[0]].tolist()
    vertices = np.vstack((mesh.vertices, [5.0, 5.0, 14.0]))
    return Mesh(vertices, np.vstack((mesh.triangles, [[a, b, len(mesh.vertices)]])))


@pytest.mark.parametrize(
    ("mesh", "found"),
    [
        (flap, "1 edge shared by three or more triangles"),
        (lambda: joined(box(), box(at=(10.0, 10.0, 0.0))), "4 edges shared by three or more"),
        (lambda: box(0.5), "1 body of at most 0.125 mm3"),
        (lambda: Mesh(box().vertices * [1, 1, 1e-4], box().triangles), "1 body of at most 0.1 mm3"),
    ],
)  # fmt: skip
def test_what_no_mending_helps_is_refused_with_its_place(
    mesh: Callable[[], Mesh], found: str
) -> None:
    refused = refusal(mesh(), found)
    assert re.search(r"\(-?\d+\.\d+, -?\d+\.\d+, -?\d+\.\d+\)", refused.found)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_a_vertex_that_is_no_number_is_refused_with_its_neighbours(value: float) -> None:
    mesh = box()
    vertices = mesh.vertices.copy()
    vertices[7, 2] = value
    refused = refusal(Mesh(vertices, mesh.triangles), "1 vertex not of finite numbers")
    gaps = np.linalg.norm(np.array(refused.places) - mesh.vertices[7], axis=1)
    assert 0.0 < gaps.max() < 2.5 * np.sqrt(2.0) + 1e-9


def test_a_vertex_of_no_triangle_is_no_matter() -> None:
    mesh = box()
    body = the_one(Mesh(np.vstack((mesh.vertices, [np.nan] * 3)), mesh.triangles))
    assert np.array_equal(body.mesh.vertices, mesh.vertices)
    assert not body.remarks


@pytest.mark.parametrize("number", [-1, 98])
def test_triangles_that_name_no_vertex_are_refused(number: int) -> None:
    mesh = box()
    triangles = mesh.triangles.copy()
    triangles[5, 1] = number
    with pytest.raises(BadMesh, match="outside 0 to 97"):
        mend_bodies(Mesh(mesh.vertices, triangles))


# Order


def in_another_order(source: Source, rng: np.random.Generator) -> Mesh:
    """Vertices, triangles and the corners of triangles renumbered."""
    number = rng.permutation(len(source.vertices))
    vertices = np.empty_like(source.vertices)
    vertices[number] = source.vertices
    turns = (rng.integers(0, 3, len(source.triangles))[:, None] + np.arange(3)) % 3
    mixed = np.take_along_axis(number[source.triangles], turns, axis=1)
    return Mesh(vertices, mixed[rng.permutation(len(mixed))])


def outcome(mesh: Mesh) -> tuple[object, ...]:
    """Everything of the bodies that no order is in."""
    try:
        bodies = mend_bodies(mesh)
    except BadMesh as refused:
        return (refused.found,)
    return tuple(
        (body.remarks, body.tears, sorted(map(tuple, body.mesh.vertices.tolist())),
         sorted(sorted(map(tuple, corners)) for corners in
                body.mesh.vertices[body.mesh.triangles].tolist()))
        for body in bodies
    )  # fmt: skip


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda damage: damage.name)
def test_order_makes_no_difference(damage: Damage) -> None:
    part = tapered_pipe(length=60.0, holes=(Hole(30, 0, 7),), facets=24, hole_facets=12,
                        level_step=10.0)  # fmt: skip
    rng = np.random.default_rng(5)
    source = damage.step(source_of(part), rng)
    usual = outcome(Mesh(source.vertices, source.triangles))
    for _ in range(3):
        assert outcome(in_another_order(source, rng)) == usual


# Anything at all


def vandalised(mesh: Mesh, strokes: list[int], rng: np.random.Generator) -> Mesh:
    """A mesh after some blows of kinds that no exporter would deal."""
    vertices, triangles = mesh.vertices.copy(), mesh.triangles.copy()
    for stroke in strokes:
        some = rng.integers(0, len(triangles), rng.integers(1, 6))
        if stroke == 0:
            triangles = np.delete(triangles, some, axis=0)
        elif stroke == 1:
            triangles = np.vstack((triangles, triangles[some][:, rng.permutation(3)]))
        elif stroke == 2:
            triangles[some] = triangles[some, ::-1]
        elif stroke == 3:
            vertices[rng.integers(len(vertices))] = vertices[rng.integers(len(vertices))]
        elif stroke == 4:
            vertices[rng.integers(len(vertices))] += rng.normal(0.0, 0.001, 3)
        elif stroke == 5:
            triangles[some, rng.integers(3)] = rng.integers(len(vertices))
        else:
            triangles = np.vstack((triangles, rng.integers(0, len(vertices), (len(some), 3))))
    return Mesh(vertices, triangles)


@settings(max_examples=150, deadline=None)
@given(st.lists(st.integers(0, 6), min_size=1, max_size=5), SEEDS)
def test_whatever_is_done_to_a_mesh_ends_in_sound_bodies_or_a_refusal(
    strokes: list[int], seed: int
) -> None:
    mesh = joined(box(), box(6.0, (2.0, 12.0, 2.0), 2))
    try:
        bodies, places = mend_bodies(vandalised(mesh, strokes, np.random.default_rng(seed))), ()
    except BadMesh as refused:
        bodies, places = (), refused.places
    assert bodies or places
    for body in bodies:
        assert_sound(body)
