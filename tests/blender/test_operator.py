"""The whole job on the active object."""

from __future__ import annotations

import sys
from types import ModuleType

import bpy
import numpy as np
import pytest

from tests.blender.conftest import EXTENSION, two_tubes
from tests.parts import in_pose, plain_tube, turned_pose

POSE = turned_pose((1.0, 2.0, 2.0), 40.0, (12.0, -7.0, 3.0))
ENVELOPE = (180.0, 180.0, 180.0)


@pytest.fixture
def tube_object(extension: ModuleType) -> bpy.types.Object:
    """A tube 300 long as people bring it in: 1 unit is 1 mm in a scene of metres."""
    assert extension.__name__ == EXTENSION
    part = in_pose(plain_tube(), POSE).mesh
    data = bpy.data.meshes.new("Pipe")
    data.from_pydata(part.vertices.tolist(), [], part.faces.tolist())
    tube = bpy.data.objects.new("Pipe", data)
    bpy.context.scene.collection.objects.link(tube)
    bpy.context.view_layer.objects.active = tube
    tube.select_set(True)
    return tube


def state(source: bpy.types.Object) -> dict[str, object]:
    """Everything of the scene that a refused job must leave as it was."""
    return {
        "data": {kind: sorted(data.name for data in getattr(bpy.data, kind))
                 for kind in ("objects", "meshes", "collections", "materials", "scenes")},
        "selected": [selected.name for selected in bpy.context.selected_objects],
        "active": bpy.context.view_layer.objects.active.name,
        "source": (*bits(source), source.hide_get()),
    }  # fmt: skip


def bits(source: bpy.types.Object) -> tuple[object, ...]:
    data = source.data
    corners = np.empty(3 * len(data.vertices), np.float32)
    data.vertices.foreach_get("co", corners)
    loops = np.empty(len(data.loops), np.int32)
    data.loops.foreach_get("vertex_index", loops)
    matrix = np.array(source.matrix_world)
    return corners.tobytes(), loops.tobytes(), matrix.tobytes(), source.hide_viewport


def world_triangles(shown: bpy.types.Object) -> tuple[np.ndarray, np.ndarray]:
    points = np.array([vertex.co for vertex in shown.data.vertices])
    matrix = np.array(shown.matrix_world)
    triangles = np.array([face.vertices for face in shown.data.polygons])
    return points @ matrix[:3, :3].T + matrix[:3, 3], triangles


def test_pieces_lie_assembled_where_the_source_is(tube_object: bpy.types.Object) -> None:
    before = bits(tube_object)
    assert bpy.ops.borewright.split(envelope=ENVELOPE) == {"FINISHED"}
    bpy.context.view_layer.update()
    assert bits(tube_object) == before
    assert tube_object.hide_get()
    pieces = list(bpy.data.collections["Pipe Pieces"].objects)
    assert [piece.name for piece in pieces] == ["Pipe-01", "Pipe-02"]
    assert set(bpy.context.selected_objects) == set(pieces)
    axis, origin = POSE[:3, 2], POSE[:3, 3]
    ends = np.array([[f(world_triangles(piece)[0] @ axis) for f in (np.min, np.max)]
                     for piece in pieces]) - origin @ axis  # fmt: skip
    # of a tube along z, posed: from end to end, and the tenon reaches into the socket
    assert np.allclose([ends.min(), ends.max()], [0.0, 300.0], atol=1e-3)
    lower, upper = sorted(ends.tolist())
    overlap = lower[1] - upper[0]
    assert 6.0 <= overlap <= 25.0


@pytest.mark.usefixtures("tube_object")
def test_piece_meshes_stand_as_they_print() -> None:
    bpy.ops.borewright.split(envelope=ENVELOPE)
    for piece in bpy.data.collections["Pipe Pieces"].objects:
        points = np.array([vertex.co for vertex in piece.data.vertices])
        assert points.min() >= 0.0
        assert points[:, 2].min() == 0.0
        assert (np.ptp(points, axis=0) <= ENVELOPE).all()
        assert not piece.data.validate()


def test_pieces_of_every_body_come_in_one_collection(tube_object: bpy.types.Object) -> None:
    pair = two_tubes()
    tube_object.data.clear_geometry()
    tube_object.data.from_pydata(pair.vertices.tolist(), [], pair.faces.tolist())
    assert bpy.ops.borewright.split(envelope=ENVELOPE) == {"FINISHED"}
    bpy.context.view_layer.update()
    pieces = list(bpy.data.collections["Pipe Pieces"].objects)
    assert [piece.name for piece in pieces] == [
        f"Pipe-{part}-0{k}" for part in "ab" for k in (1, 2)
    ]
    middles = [world_triangles(piece)[0][:, :2].mean(axis=0) for piece in pieces]
    assert np.allclose(np.array(middles)[:, 0], [0.0, 0.0, 60.0, 60.0], atol=1.0)


def test_a_bore_is_set_only_when_asked(tube_object: bpy.types.Object) -> None:
    assert bpy.ops.borewright.split(envelope=ENVELOPE, bore=19.1) == {"FINISHED"}
    assert np.isclose(bore_radius("Pipe-01"), 9.5, atol=0.002)
    bpy.context.view_layer.objects.active = tube_object
    bpy.ops.borewright.split(envelope=ENVELOPE, choose_bore=True, bore=19.1)
    assert np.isclose(bore_radius("Pipe-01"), 9.55, atol=0.002)  # in place of the earlier one


def bore_radius(name: str) -> float:
    """Of most vertices in the bore, about the axis of the tube in its pose."""
    bpy.context.view_layer.update()
    points = world_triangles(bpy.data.objects[name])[0]
    upright = (points - POSE[:3, 3]) @ POSE[:3, :3]
    radii = np.linalg.norm(upright[:, :2], axis=1)
    return float(np.median(radii[radii < 10.0]))


def scaled(source: bpy.types.Object, scale: float) -> None:
    source.matrix_world = np.diag([scale, scale, scale, 1.0]).tolist()
    bpy.context.view_layer.update()


def test_auto_reads_a_part_modelled_in_scene_units(tube_object: bpy.types.Object) -> None:
    scaled(tube_object, 0.001)  # 0.3 units of 1 m long
    assert bpy.ops.borewright.split(envelope=ENVELOPE) == {"FINISHED"}
    bpy.context.view_layer.update()
    pieces = bpy.data.collections["Pipe Pieces"].objects
    points = np.concatenate([world_triangles(piece)[0] for piece in pieces])
    assert np.isclose(np.ptp(points @ POSE[:3, 2]), 0.3, atol=1e-6)


def test_scene_units_read_as_metres_make_a_tube_of_300_m_and_are_refused(
    tube_object: bpy.types.Object,
) -> None:
    before = state(tube_object)
    with pytest.raises(RuntimeError, match=r"found: .*\d"):
        bpy.ops.borewright.split(envelope=ENVELOPE, unit="SCENE")
    assert state(tube_object) == before


def test_a_size_that_fits_neither_unit_is_refused_with_both_readings(
    tube_object: bpy.types.Object,
) -> None:
    scaled(tube_object, 0.03)  # 9 mm or 9 m long
    before = state(tube_object)
    with pytest.raises(RuntimeError, match=r"0 likely readings.* 9 long.* 9000 long"):
        bpy.ops.borewright.split(envelope=ENVELOPE)
    assert state(tube_object) == before


def test_a_mirrored_object_gives_pieces_that_face_outward(
    tube_object: bpy.types.Object, capfd: pytest.CaptureFixture[str]
) -> None:
    tube_object.matrix_world = np.diag([-1.0, 1.0, 1.0, 1.0]).tolist()
    bpy.context.view_layer.update()
    assert bpy.ops.borewright.split(envelope=ENVELOPE) == {"FINISHED"}
    assert "inward" not in capfd.readouterr().out  # the source itself is not inside out
    bpy.context.view_layer.update()
    for piece in bpy.data.collections["Pipe Pieces"].objects:
        points, triangles = world_triangles(piece)
        a, b, c = (points[triangles[:, k]] for k in range(3))
        assert np.einsum("ij,ij->", a, np.cross(b, c)) > 0.0


def test_modifiers_count(tube_object: bpy.types.Object) -> None:
    """A decimated, torn result is what is read: the job refuses it."""
    tube_object.modifiers.new("Thin Out", "DECIMATE").ratio = 0.1
    bpy.context.view_layer.update()
    with pytest.raises(RuntimeError, match=r"found: .*\d"):
        bpy.ops.borewright.split(envelope=ENVELOPE)


def test_a_refused_job_leaves_the_scene_as_it_was(tube_object: bpy.types.Object) -> None:
    before = state(tube_object)
    with pytest.raises(RuntimeError, match=r"found: .*needed: .*try: "):
        bpy.ops.borewright.split(envelope=(10.0, 10.0, 180.0))
    assert state(tube_object) == before


def test_undo_takes_the_pieces_away_and_keeps_the_source(tube_object: bpy.types.Object) -> None:
    before = bits(tube_object)
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.borewright.split("EXEC_DEFAULT", True, envelope=ENVELOPE)
    assert "Pipe-01" in bpy.data.objects
    bpy.ops.ed.undo()
    assert sorted(bpy.data.objects.keys()) == ["Pipe"]
    assert bits(bpy.data.objects["Pipe"]) == before


@pytest.mark.usefixtures("extension")
def test_poll_tells_that_a_mesh_is_needed() -> None:
    with pytest.raises(RuntimeError, match="Make a mesh object active"):
        bpy.ops.borewright.split()


@pytest.mark.usefixtures("tube_object")
def test_poll_tells_that_object_mode_is_needed() -> None:
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(RuntimeError, match="Switch to Object Mode"):
        bpy.ops.borewright.split()


def test_an_object_without_faces_is_refused(tube_object: bpy.types.Object) -> None:
    tube_object.data.clear_geometry()
    with pytest.raises(RuntimeError, match="0 triangles"):
        bpy.ops.borewright.split(envelope=ENVELOPE)


@pytest.mark.usefixtures("extension")
def test_labels_are_in_title_case_and_tooltips_have_no_full_stop() -> None:
    shown = bpy.ops.borewright.split.get_rna_type()
    own = [prop for prop in shown.properties if prop.identifier != "rna_type"]
    assert len(own) == 36
    for prop in [shown, *own]:
        words = [word for word in prop.name.split() if word != "mm"]
        assert all(word[0].isupper() or word[0].isdigit() for word in words), prop.name
        assert prop.description
        assert not prop.description.endswith("."), prop.description


@pytest.fixture
def thin_object(extension: ModuleType) -> bpy.types.Object:
    """A tube 300 long with a wall of 1.2."""
    assert extension.__name__ == EXTENSION
    part = plain_tube(outside=30.0, bore=27.6).mesh
    data = bpy.data.meshes.new("Hood")
    data.from_pydata(part.vertices.tolist(), [], part.faces.tolist())
    tube = bpy.data.objects.new("Hood", data)
    bpy.context.scene.collection.objects.link(tube)
    bpy.context.view_layer.objects.active = tube
    return tube


def test_a_thin_wall_gets_a_collar_as_an_object_of_its_own(thin_object: bpy.types.Object) -> None:
    assert bpy.ops.borewright.split(envelope=ENVELOPE, unit="MM") == {"FINISHED"}
    made = {shown.name for shown in bpy.data.collections["Hood Pieces"].objects}
    assert made == {"Hood-01", "Hood-02 Collar", "Hood-03"}
    _, points = thin_object, world_triangles(bpy.data.objects["Hood-02 Collar"])[0]
    seam = bpy.data.objects["Hood-01"].dimensions.z
    assert (points[:, 2].min() + points[:, 2].max()) / 2.0 == pytest.approx(seam, abs=1e-3)


def test_the_kind_of_joint_can_be_asked_for_and_refused(tube_object: bpy.types.Object) -> None:
    before = state(tube_object)
    with pytest.raises(RuntimeError, match=r"found: .*Joint Pins|needed: .*section"):
        bpy.ops.borewright.split(envelope=ENVELOPE, joint="pins")
    assert state(tube_object) == before


def test_a_profile_gives_envelope_and_compensation(tube_object: bpy.types.Object) -> None:
    store = sys.modules[f"{EXTENSION}.addon.profiles.profile_store"]
    values = sys.modules[f"{EXTENSION}.core.values"]
    kept = sys.modules[f"{EXTENSION}.core.fitting.printer_profile"].PrinterProfile(
        "Bench",
        envelope=(200.0, 200.0, 120.0),
        compensation=values.Compensation(shrink_percent=0.5),
    )
    path = store.save_profile(kept)
    try:
        assert bpy.ops.borewright.split(profile="Bench", engagement=11.0) == {"FINISHED"}
    finally:
        path.unlink()
    pieces = bpy.data.collections["Pipe Pieces"].objects
    assert len(pieces) == 3  # of 300 in 120
    # shown in their own size: the seams meet, and the whole is as long as the part
    ends = np.vstack([world_triangles(piece)[0] for piece in pieces])
    source = world_triangles(tube_object)[0]
    assert np.ptp(ends, axis=0) == pytest.approx(np.ptp(source, axis=0), abs=0.02)


@pytest.mark.usefixtures("extension")
def test_a_profile_chosen_in_the_dialog_shows_its_envelope() -> None:
    store = sys.modules[f"{EXTENSION}.addon.profiles.profile_store"]
    profile = sys.modules[f"{EXTENSION}.core.fitting.printer_profile"].PrinterProfile
    path = store.save_profile(profile("Shelf", envelope=(90.0, 100.0, 110.0)))
    shown = bpy.context.window_manager.operator_properties_last("borewright.split")
    try:
        shown.profile = "Shelf"
        assert list(shown.envelope) == [90.0, 100.0, 110.0]
        shown.profile = "nowhere"  # told when the job runs
        assert list(shown.envelope) == [90.0, 100.0, 110.0]
    finally:
        path.unlink()
        for name in ("profile", "envelope"):
            shown.property_unset(name)


def test_a_profile_that_is_not_kept_is_told(tube_object: bpy.types.Object) -> None:
    before = state(tube_object)
    with pytest.raises(RuntimeError, match=r"found: .*needed: .*try: "):
        bpy.ops.borewright.split(profile="Nowhere")
    assert state(tube_object) == before


@pytest.mark.usefixtures("tube_object")
def test_a_joint_with_a_groove_is_glued_only_where_that_is_asked_for_and_refused() -> None:
    with pytest.raises(RuntimeError, match=r"Fit Glue, .*with Joint O-Ring"):
        bpy.ops.borewright.split(envelope=ENVELOPE, joint="oring", fit="glue")
    with pytest.raises(RuntimeError, match=r"of wall for a groove.*0\.20 mm of clearance"):
        bpy.ops.borewright.split(envelope=ENVELOPE, joint="lapped")  # as it is to be taken apart


@pytest.mark.usefixtures("tube_object")
def test_a_least_wall_counts_where_it_is_set() -> None:
    asked = {"envelope": ENVELOPE, "joint": "tenon", "least_wall": 3.0}
    with pytest.raises(RuntimeError, match=r"a tenon and a socket of 3\.00 mm"):
        bpy.ops.borewright.split(**asked, choose_least_wall=True)
    assert bpy.ops.borewright.split(**asked) == {"FINISHED"}
