"""Pieces as objects: where they stand, what they are called, and what they replace."""

from __future__ import annotations

import itertools
import json
from types import ModuleType

import bpy
import numpy as np
import pytest

from tests.blender.built_pieces import (
    FloatArray,
    add_part,
    build,
    corners,
    in_scene,
    made_of,
    make_active,
    own,
    pieces_of,
    place,
)
from tests.blender.conftest import EXTENSION, two_tubes
from tests.parts import in_pose, plain_tube, turned_pose

POSE = turned_pose((1.0, 2.0, 2.0), 40.0, (12.0, -7.0, 3.0))
AXIS = POSE[:3, 2]

NEAR = 1e-4
"""mm: float32 of some 300, turned and moved once."""


@pytest.fixture
def pipe(extension: ModuleType) -> bpy.types.Object:
    """A tube of 300 in a pose of its own, in two pieces."""
    assert extension.__name__ == EXTENSION
    part = add_part(in_pose(plain_tube(), POSE).mesh, "Pipe")
    build()
    return part


def ends(shown: bpy.types.Object) -> FloatArray:
    """Where a piece begins and ends along the axis, mm."""
    along = in_scene(shown) @ AXIS
    return np.array([along.min(), along.max()])


def document(source: bpy.types.Object) -> dict[str, object]:
    record: dict[str, object] = json.loads(made_of(source).borewright_pieces.record)
    return record


def data_counts() -> dict[str, int]:
    kinds = ("objects", "meshes", "collections", "materials")
    return {kind: len(getattr(bpy.data, kind)) for kind in kinds}


def test_a_piece_is_the_mesh_of_its_file_moved_to_where_the_record_says(
    pipe: bpy.types.Object,
) -> None:
    (part,) = document(pipe)["parts"]  # type: ignore[misc]
    assert [entry["name"] for entry in part["pieces"]] == ["Pipe-01", "Pipe-02"]
    for shown, entry in zip(pieces_of(pipe), part["pieces"], strict=True):
        motion = np.array(entry["to_source"])
        own_mesh = corners(shown)
        assert own_mesh.min() == 0.0
        assert np.ptp(own_mesh, axis=0) == pytest.approx(entry["size"])
        moved = own_mesh @ motion[:3, :3].T + motion[:3, 3]
        assert np.abs(in_scene(shown) - moved).max() < NEAR


def test_apart_leaves_a_gap_between_neighbours_and_the_low_piece_in_place(
    pipe: bpy.types.Object,
) -> None:
    at_first = [ends(shown) for shown in pieces_of(pipe)]
    place(pipe, "ASSEMBLED", apart=40.0)
    gaps = [ends(shown) - before for shown, before in zip(pieces_of(pipe), at_first, strict=True)]
    assert np.abs(np.array(gaps) - [[0.0, 0.0], [40.0, 40.0]]).max() < NEAR
    place(pipe, "ASSEMBLED")
    again = [ends(shown) for shown in pieces_of(pipe)]
    assert np.abs(np.array(again) - at_first).max() < NEAR


def test_on_beds_each_piece_stands_on_the_floor_inside_of_its_beds_outline(
    pipe: bpy.types.Object,
) -> None:
    build_again(pipe, envelope=(40.0, 40.0, 180.0))  # a bed for each
    place(pipe, "BED", apart=40.0)  # which is for assembled ones
    beds = {
        shown.borewright_piece.bed: in_scene(shown)
        for shown in bpy.data.objects
        if shown.borewright_piece.role == "BED"
    }
    assert sorted(beds) == [1, 2]
    for outline in beds.values():
        assert np.ptp(outline, axis=0) == pytest.approx([40.0, 40.0, 0.0], abs=NEAR)
    assert beds[1][:, 0].max() < beds[2][:, 0].min()  # side by side
    for shown, bed in zip(pieces_of(pipe), (1, 2), strict=True):
        points, outline = in_scene(shown), beds[bed]
        assert shown.borewright_piece.bed == bed
        assert points[:, 2].min() == pytest.approx(0.0, abs=NEAR)
        assert (points[:, :2].min(axis=0) >= outline[:, :2].min(axis=0) - NEAR).all()
        assert (points[:, :2].max(axis=0) <= outline[:, :2].max(axis=0) + NEAR).all()


def test_on_one_bed_pieces_keep_the_spacing(pipe: bpy.types.Object) -> None:
    place(pipe, "BED")
    first, second = (in_scene(shown)[:, :2] for shown in pieces_of(pipe))
    middles = [(points.min(axis=0) + points.max(axis=0)) / 2.0 for points in (first, second)]
    # two tubes of 26 outside, 5 apart
    assert np.linalg.norm(middles[0] - middles[1]) >= 26.0 + 5.0 - 1e-3


def test_outlines_show_on_beds_only_and_cannot_be_selected_or_rendered(
    pipe: bpy.types.Object,
) -> None:
    (beds,) = made_of(pipe).children
    assert beds.hide_viewport
    place(pipe, "BED")
    assert not beds.hide_viewport
    assert all(outline.hide_select and outline.hide_render for outline in beds.objects)
    assert all(not outline.data.polygons for outline in beds.objects)


def build_again(source: bpy.types.Object, **asked: object) -> None:
    make_active(source)
    build(**asked)


def test_building_again_replaces_the_pieces_of_that_part_and_nothing_else(
    pipe: bpy.types.Object,
) -> None:
    other = add_part(plain_tube(pose=POSE).mesh, "Other")
    build()
    mine = bpy.data.objects.new("Mine", bpy.data.meshes.new("Mine"))
    made_of(pipe).objects.link(mine)
    made_of(pipe).name = "Called Otherwise"
    kept = [shown.name for shown in pieces_of(other)]
    before = data_counts()
    build_again(pipe)
    assert data_counts() == before
    assert [shown.name for shown in pieces_of(pipe)] == ["Pipe-01", "Pipe-02"]
    assert [shown.name for shown in pieces_of(other)] == kept
    assert made_of(pipe).name == "Called Otherwise"
    assert "Mine" in made_of(pipe).objects


def test_a_copy_of_the_part_has_pieces_of_its_own(pipe: bpy.types.Object) -> None:
    copy = pipe.copy()
    bpy.context.scene.collection.objects.link(copy)
    assert own("addon.pieces.piece_data").made_of(copy) is None
    still = [ends(shown) for shown in pieces_of(pipe)]
    place(copy, "ASSEMBLED", apart=50.0)
    assert np.array_equal([ends(shown) for shown in pieces_of(pipe)], still)


def test_pieces_and_source_find_their_collection(pipe: bpy.types.Object) -> None:
    made_with = own("addon.pieces.piece_data").made_with
    assert {made_with(shown) for shown in (pipe, *pieces_of(pipe))} == {made_of(pipe)}
    assert made_with(add_part(plain_tube().mesh, "Other")) is None


def test_undo_takes_build_and_place_back_a_step_each(pipe: bpy.types.Object) -> None:
    bpy.ops.ed.undo_push(message="Built")
    build_again(pipe, envelope=(180.0, 180.0, 120.0))
    assert len(pieces_of(bpy.data.objects["Pipe"])) == 3
    place(bpy.data.objects["Pipe"], "BED")
    bpy.ops.ed.undo_push(message="Placed")
    bpy.ops.ed.undo()
    assert made_of(bpy.data.objects["Pipe"]).children[0].hide_viewport
    assert len(pieces_of(bpy.data.objects["Pipe"])) == 3
    bpy.ops.ed.undo()
    assert len(pieces_of(bpy.data.objects["Pipe"])) == 2
    bpy.ops.ed.redo()
    bpy.ops.ed.redo()
    assert len(pieces_of(bpy.data.objects["Pipe"])) == 3
    assert not made_of(bpy.data.objects["Pipe"]).children[0].hide_viewport


def test_neighbours_differ_in_lightness_by_a_quarter_of_its_scale() -> None:
    """CIE 15:2018, section 8.2.1: L* = 116 Y^(1/3) - 16; the scale goes to 100."""
    greys = own("addon.pieces.piece_objects").GREYS
    lightness = sorted(116.0 * grey ** (1.0 / 3.0) - 16.0 for grey in greys.values())
    assert all(high - low >= 25.0 for low, high in itertools.pairwise(lightness))


def test_neighbours_have_different_materials_and_rings_one_of_their_own(
    extension: ModuleType,
) -> None:
    assert extension.__name__ == EXTENSION
    hood = add_part(plain_tube(outside=30.0, bore=27.6, length=500.0).mesh, "Hood")
    build(choose_engagement=False)
    shown = pieces_of(hood)
    roles = [one.borewright_piece.role for one in shown]
    assert roles == ["PIECE", "COLLAR", "PIECE", "COLLAR", "PIECE"]
    materials = [one.data.materials[0].name for one in shown]
    assert materials[0] == materials[4]
    assert len(set(materials)) == 3
    assert materials[1] == materials[3]
    assert shown[1].name == "Hood-02 Collar"
    assert shown[1].borewright_piece.name == "Hood-02"


def test_each_body_comes_apart_along_its_own_axis(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    pair = add_part(two_tubes(), "Pair")
    build()
    before = [in_scene(shown) for shown in pieces_of(pair)]
    place(pair, "ASSEMBLED", apart=30.0)
    moves = [
        (in_scene(shown) - was).mean(axis=0)
        for shown, was in zip(pieces_of(pair), before, strict=True)
    ]
    expected = [[0.0, 0.0, 0.0], [0.0, 0.0, 30.0]] * 2
    assert np.abs(np.array(moves) - expected).max() < NEAR


@pytest.mark.parametrize(
    ("scale_length", "unit", "size"),
    [(1.0, "SCENE", 0.001), (0.001, "SCENE", 1.0), (1.0, "MM", 1.0), (0.01, "SCENE", 0.1)],
)
def test_pieces_are_as_large_as_their_source_in_units_of_the_scene(
    extension: ModuleType, scale_length: float, unit: str, size: float
) -> None:
    """A tube of 300 mm: 0.3 units where one is a metre."""
    assert extension.__name__ == EXTENSION
    bpy.context.scene.unit_settings.scale_length = scale_length
    part = plain_tube().mesh
    part.apply_scale(size)
    tube = add_part(part, "Pipe")
    build(unit=unit)
    points = np.vstack([in_scene(shown) for shown in pieces_of(tube)])
    # truing puts corners of the source's facets up to 0.01 mm farther out
    expected = np.ptp(in_scene(tube), axis=0)
    assert np.abs(np.ptp(points, axis=0) - expected).max() < 0.02 * size
    assert np.ptp(corners(pieces_of(tube)[0]), axis=0)[:2] == pytest.approx([26.0] * 2, abs=0.01)
    place(tube, "BED")
    points = np.vstack([in_scene(shown) for shown in pieces_of(tube)])
    assert points[:, 2].min() == pytest.approx(0.0, abs=1e-6 * size)
    assert points[:, 2].max() < 180.0 * size


def test_a_hidden_source_is_read_with_its_modifiers(pipe: bpy.types.Object) -> None:
    """The build hides the source; it may be built again as it is by then."""
    assert pipe.hide_get()
    array = pipe.modifiers.new("Twice", "ARRAY")
    array.use_relative_offset = False
    array.use_constant_offset = True
    array.constant_offset_displace = (60.0, 0.0, 0.0)
    seen = own("addon.meshes.convert").object_part(bpy.context, pipe, "MM")
    assert len(seen.mesh.triangles) == 2 * len(pipe.data.polygons)
    pipe.location.x += 100.0
    moved = own("addon.meshes.convert").object_part(bpy.context, pipe, "MM")
    assert moved.mesh.vertices[:, 0].min() == pytest.approx(
        seen.mesh.vertices[:, 0].min() + 100.0, abs=1e-3
    )


def test_the_part_is_shown_in_place_of_its_pieces_and_the_pieces_again(
    pipe: bpy.types.Object,
) -> None:
    pieces = pieces_of(pipe)
    assert bpy.ops.borewright.show_part("EXEC_DEFAULT", True) == {"FINISHED"}
    assert not pipe.hide_get()
    assert all(piece.hide_get() for piece in pieces)
    assert bpy.context.active_object == pipe
    assert bpy.context.selected_objects == [pipe]
    assert not any(piece.select_get() for piece in pieces)
    assert bpy.ops.borewright.show_part("EXEC_DEFAULT", True, pieces=True) == {"FINISHED"}
    assert pipe.hide_get()
    assert not any(piece.hide_get() for piece in pieces)
    assert set(bpy.context.selected_objects) == set(pieces)


def test_without_pieces_there_is_nothing_to_go_back_from(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    add_part(plain_tube().mesh, "Pipe")
    with pytest.raises(RuntimeError, match="Build pieces first"):
        bpy.ops.borewright.show_part()
