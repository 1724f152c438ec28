"""The operators of the job, one after the other, as a script has them."""

from __future__ import annotations

import sys
from pathlib import Path
from types import ModuleType

import bpy
import numpy as np
import pytest

from tests.blender.conftest import EXTENSION, two_tubes
from tests.parts import plain_tube


def module(name: str) -> ModuleType:
    return sys.modules[f"{EXTENSION}.addon.{name}"]


def mesh_object(name: str, mesh: object) -> bpy.types.Object:
    data = bpy.data.meshes.new(name)
    data.from_pydata(mesh.vertices.tolist(), [], mesh.faces.tolist())
    made = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(made)
    activate(made)
    return made


def activate(*chosen: bpy.types.Object) -> None:
    for one in bpy.context.selected_objects:
        one.select_set(False)
    for one in chosen:
        one.hide_set(False)
        one.select_set(True)
    bpy.context.view_layer.objects.active = chosen[0]


@pytest.fixture
def tube(extension: ModuleType) -> bpy.types.Object:
    """A tube 300 long, 1 unit = 1 mm, in a scene of metres."""
    assert extension.__name__ == EXTENSION
    return mesh_object("Pipe", plain_tube().mesh)


@pytest.fixture
def surveyed(tube: bpy.types.Object) -> bpy.types.Object:
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    return tube


def found_of(source: bpy.types.Object) -> object:
    return module("surveys.found").found_of(source)


def stations(source: bpy.types.Object) -> list[float]:
    return [cut.station for cut in source.borewright.cuts]


def test_a_survey_finds_the_tube_and_lists_its_cuts(surveyed: bpy.types.Object) -> None:
    (part,) = found_of(surveyed).parts
    assert part.known.survey.length == pytest.approx(300.0, abs=1e-3)
    assert 2.0 * part.known.survey.bores[0].radius_at_zero == pytest.approx(19.0, abs=1e-3)
    assert stations(surveyed) == pytest.approx([cut.station for cut in part.planned.plan.cuts])
    assert len(stations(surveyed)) == 1
    assert not surveyed.borewright.cuts[0].insisted


def test_a_survey_of_what_is_edited_sees_the_edit(surveyed: bpy.types.Object) -> None:
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.transform.resize(value=(1.0, 1.0, 0.5))
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    assert found_of(surveyed).parts[0].known.survey.length == pytest.approx(150.0, abs=1e-3)
    assert stations(surveyed) == []


def test_a_mirrored_object_is_surveyed_as_it_stands(tube: bpy.types.Object) -> None:
    tube.scale = (1.0, 1.0, -1.0)
    bpy.context.view_layer.update()
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    assert found_of(tube).parts[0].known.survey.length == pytest.approx(300.0, abs=1e-3)
    assert not any("inward" in said for said in found_of(tube).remarks)


def test_modifiers_count_though_the_part_is_hidden_and_not_where_it_is_disabled(
    surveyed: bpy.types.Object,
) -> None:
    surveyed.hide_set(True)
    top = surveyed.vertex_groups.new(name="Top")
    top.add([one.index for one in surveyed.data.vertices if one.co.z > 299.0], 1.0, "REPLACE")
    longer = surveyed.modifiers.new("Longer", "DISPLACE")
    longer.direction, longer.strength, longer.mid_level = "Z", 30.0, 0.0
    longer.vertex_group = top.name
    bpy.context.view_layer.update()
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    length = found_of(surveyed).parts[0].known.survey.length
    assert length == pytest.approx(330.0, abs=1e-2)
    surveyed.hide_viewport = True
    with pytest.raises(RuntimeError, match=r"disabled in viewports|Make a mesh object active"):
        bpy.ops.borewright.survey()


def test_all_selected_parts_are_surveyed_and_one_that_is_refused_keeps_none_back(
    tube: bpy.types.Object,
) -> None:
    other = mesh_object("Post", plain_tube(length=240.0).mesh)
    torn = mesh_object("Torn", plain_tube().mesh)
    torn.data.clear_geometry()
    activate(torn, tube, other)
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    assert len(stations(tube)) == len(stations(other)) == 1
    assert found_of(torn) is None
    assert "0 triangles" in str(module("surveys.found").refusal_of(torn).problem)


def test_a_survey_that_is_refused_changes_nothing(surveyed: bpy.types.Object) -> None:
    listed = stations(surveyed)
    surveyed.data.clear_geometry()
    with pytest.raises(RuntimeError, match=r"found: 0 triangles"):
        bpy.ops.borewright.survey()
    assert found_of(surveyed) is None
    assert stations(surveyed) == listed


def test_a_part_is_a_wind_instrument_only_where_that_is_said(surveyed: bpy.types.Object) -> None:
    settings_for, scene = module("properties.panel_settings").settings_for, bpy.context.scene
    assert not settings_for(scene, surveyed).wind
    scene.borewright.wind = True
    assert settings_for(scene, surveyed).wind


def test_a_plan_follows_the_settings_without_a_new_survey(surveyed: bpy.types.Object) -> None:
    before = found_of(surveyed)
    bpy.context.scene.borewright.envelope = (180.0, 180.0, 120.0)
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    assert found_of(surveyed) is before
    assert len(stations(surveyed)) == 2


def test_plans_made_beside_blender_count_when_they_are_taken_over(
    surveyed: bpy.types.Object,
) -> None:
    found, known = module("surveys.found"), found_of(surveyed)
    scene, version = bpy.context.scene, known.version
    scene.borewright.envelope = (180.0, 180.0, 120.0)
    settings_of = module("properties.panel_settings").settings_of_bodies(scene, surveyed)
    plans = found.plans_of(known, settings_of)
    beside = found.with_plans(known, plans)
    assert (len(known.parts[0].planned.plan.cuts), known.version) == (1, version)
    assert len(beside.parts[0].planned.plan.cuts) == len(beside.parts[0].view.joints) == 2
    found.take_plans(known, plans)
    assert len(known.parts[0].planned.plan.cuts) == 2
    assert known.version != version
    assert found.plans_of(known, settings_of) == plans, "planned already"


def test_a_cut_that_is_insisted_on_stays(surveyed: bpy.types.Object) -> None:
    surveyed.borewright.cuts[0].station = 140.0
    bpy.context.scene.borewright.envelope = (180.0, 180.0, 120.0)
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    kept = [cut.station for cut in surveyed.borewright.cuts if cut.insisted]
    assert kept == [140.0]
    assert len(stations(surveyed)) > 1


def test_properties_of_its_own_do_not_make_a_survey_stale(surveyed: bpy.types.Object) -> None:
    """Blender tells of each change of an object's property as of its mesh and place."""
    before = found_of(surveyed)
    surveyed.borewright.pieces = 3
    bpy.context.view_layer.update()
    bpy.ops.borewright.plan()
    assert found_of(surveyed) is before
    assert len(stations(surveyed)) == 2


@pytest.mark.parametrize("what", ["mesh", "place", "flip", "scale", "unit"])
def test_a_plan_of_a_part_that_is_another_by_now_surveys_it_again(
    surveyed: bpy.types.Object, what: str
) -> None:
    before = found_of(surveyed)
    if what == "mesh":
        for vertex in surveyed.data.vertices:
            vertex.co.z *= 1.1
        surveyed.data.update()
    elif what == "place":
        surveyed.location.x = 5.0
    elif what == "flip":
        surveyed.borewright.flip = True
    elif what == "scale":
        bpy.context.scene.unit_settings.scale_length = 0.001
    else:
        bpy.context.scene.borewright.unit = "MM"
    bpy.context.view_layer.update()
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    assert found_of(surveyed) is not before
    length = found_of(surveyed).parts[0].known.survey.length
    assert length == pytest.approx(330.0 if what == "mesh" else 300.0, abs=1e-3)


def test_pieces_are_built_proven_and_told(
    surveyed: bpy.types.Object, capfd: pytest.CaptureFixture[str]
) -> None:
    before = set(bpy.data.objects)
    assert bpy.ops.borewright.build() == {"FINISHED"}
    told = capfd.readouterr().out
    assert "Pieces: 2" in told
    assert "Snapshot 0." in told
    made = bpy.data.collections["Pipe Pieces"].objects
    assert [one.name for one in made] == ["Pipe-01", "Pipe-02"]
    assert set(bpy.data.objects) > before
    assert surveyed.hide_get()
    assert all(check.ok for one in found_of(surveyed).built for check in one.checks)


def test_pieces_can_be_built_again_while_one_of_them_is_active(surveyed: bpy.types.Object) -> None:
    bpy.ops.borewright.build()
    bpy.context.scene.borewright.envelope = (180.0, 180.0, 120.0)
    assert bpy.context.active_object != surveyed
    assert bpy.ops.borewright.build() == {"FINISHED"}
    assert len(bpy.data.collections["Pipe Pieces"].objects) == 3


def test_pieces_of_all_selected_parts_or_of_none(surveyed: bpy.types.Object) -> None:
    other = mesh_object("Post", plain_tube(length=240.0).mesh)
    bpy.ops.borewright.survey()
    activate(surveyed, other)
    other.borewright.choose_bore, other.borewright.bore = True, 25.0
    objects = set(bpy.data.objects)
    with pytest.raises(RuntimeError, match=r"found: .*needed: .*try: "):
        bpy.ops.borewright.build()
    assert set(bpy.data.objects) == objects
    assert not surveyed.hide_get()
    other.borewright.choose_bore = False
    assert bpy.ops.borewright.build() == {"FINISHED"}
    assert {"Pipe-02", "Post-02"} <= set(bpy.data.objects.keys())


def test_a_plan_that_is_refused_builds_nothing_and_says_so(surveyed: bpy.types.Object) -> None:
    bpy.context.scene.borewright.envelope = (10.0, 10.0, 180.0)
    objects = set(bpy.data.objects)
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    assert found_of(surveyed).parts[0].problem is not None
    with pytest.raises(RuntimeError, match=r"found: .*needed: .*try: "):
        bpy.ops.borewright.build()
    assert set(bpy.data.objects) == objects


def test_every_body_of_an_object_is_planned_and_built(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    pair = mesh_object("Pair", two_tubes())
    bpy.ops.borewright.survey()
    assert [cut.part for cut in pair.borewright.cuts] == [0, 1]
    assert bpy.ops.borewright.build() == {"FINISHED"}
    names = [f"Pair-{body}-0{k}" for body in "ab" for k in (1, 2)]
    assert [one.name for one in bpy.data.collections["Pair Pieces"].objects] == names


def test_a_block_that_fits_goes_along_until_the_envelope_is_too_small(
    extension: ModuleType,
) -> None:
    import trimesh

    assert extension.__name__ == EXTENSION
    block = mesh_object("Block", trimesh.creation.box((80.0, 50.0, 60.0)))
    bpy.context.scene.borewright.unit = "MM"
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    assert found_of(block).parts[0].problem is None
    bpy.context.scene.borewright.envelope = (70.0, 70.0, 70.0)
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    assert "80.00" in str(found_of(block).parts[0].problem)
    bpy.context.scene.borewright.envelope = (180.0, 180.0, 180.0)
    assert bpy.ops.borewright.build() == {"FINISHED"}
    assert bpy.data.objects["Block-01"].borewright_piece.proven


def test_undo_takes_a_survey_back_and_redo_brings_it_again(tube: bpy.types.Object) -> None:
    name = tube.name
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.borewright.survey("EXEC_DEFAULT", True)
    first = found_of(tube)
    assert first is not None
    bpy.ops.ed.undo()
    assert found_of(bpy.data.objects[name]) is None
    assert stations(bpy.data.objects[name]) == []
    bpy.ops.ed.redo()
    assert found_of(bpy.data.objects[name]) is first
    assert len(stations(bpy.data.objects[name])) == 1
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    assert found_of(bpy.data.objects[name]) is first  # what undo restored is what was surveyed


def test_undo_takes_pieces_away_in_one_step(surveyed: bpy.types.Object) -> None:
    name = surveyed.name
    bpy.ops.ed.undo_push(message="Surveyed")
    bpy.ops.borewright.build("EXEC_DEFAULT", True)
    bpy.ops.ed.undo()
    assert list(bpy.data.objects.keys()) == [name]
    assert not bpy.data.objects[name].hide_get()
    assert found_of(bpy.data.objects[name]) is not None


def test_a_file_that_is_loaded_has_nothing_found(
    surveyed: bpy.types.Object, tmp_path: Path
) -> None:
    name, listed = surveyed.name, stations(surveyed)
    path = str(tmp_path / "pipe.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.open_mainfile(filepath=path)
    loaded = bpy.data.objects[name]
    assert stations(loaded) == listed
    assert found_of(loaded) is None
    with pytest.raises(RuntimeError, match="Survey the part first"):
        bpy.ops.borewright.plan()


def test_a_copy_of_a_part_is_not_surveyed(surveyed: bpy.types.Object) -> None:
    activate(surveyed)
    bpy.ops.object.duplicate()
    assert found_of(bpy.context.active_object) is None
    assert found_of(surveyed) is not None


def test_a_fit_trial_is_rings_in_a_collection(surveyed: bpy.types.Object) -> None:
    assert bpy.ops.borewright.trial(joint_number=1) == {"FINISHED"}
    rings = bpy.data.collections[f"{surveyed.name} Fit Trial"].objects
    assert len(rings) == 6
    points = np.array([vertex.co for ring in rings for vertex in ring.data.vertices])
    assert points[:, 2].min() == 0.0
    activate(surveyed)
    with pytest.raises(RuntimeError, match=r"where the plan has 1 joints"):
        bpy.ops.borewright.trial(joint_number=2)


@pytest.fixture
def skinned(extension: ModuleType) -> bpy.types.Object:
    """A tube without the skin of half its outside."""
    assert extension.__name__ == EXTENSION
    whole = plain_tube().mesh
    reach = np.linalg.norm(whole.triangles[:, :, :2], axis=2).min(axis=1)
    whole.update_faces((reach < 12.5) | (whole.triangles_center[:, 0] < 0.0))
    return mesh_object("Bad", whole)


def test_the_place_of_a_problem_is_shown_on_the_mesh(skinned: bpy.types.Object) -> None:
    with pytest.raises(RuntimeError, match=r"found: \d+ "):
        bpy.ops.borewright.survey()
    (place,) = module("surveys.problem_places").problem_places(skinned)
    assert bpy.ops.borewright.show_place() == {"FINISHED"}
    assert skinned.mode == "EDIT"
    bpy.ops.object.mode_set(mode="OBJECT")
    corners = {number for face in skinned.data.polygons if face.select for number in face.vertices}
    away = [np.linalg.norm(np.array(one.co) - place) for one in skinned.data.vertices]
    assert int(np.argmin(away)) in corners
    assert len(corners) < 12
    with pytest.raises(RuntimeError, match="there are 1"):
        bpy.ops.borewright.show_place(number=2)


@pytest.mark.usefixtures("surveyed")
def test_there_is_no_place_to_show_without_a_problem() -> None:
    with pytest.raises(RuntimeError, match="No problem with a place"):
        bpy.ops.borewright.show_place()


@pytest.mark.parametrize("operator", ["plan", "build", "trial"])
def test_what_needs_a_survey_says_so(tube: bpy.types.Object, operator: str) -> None:
    assert tube.name
    with pytest.raises(RuntimeError, match="Survey the part first"):
        getattr(bpy.ops.borewright, operator)()


@pytest.mark.usefixtures("extension")
@pytest.mark.parametrize("operator", ["survey", "plan", "build", "trial", "show_place"])
def test_what_needs_a_mesh_says_so(operator: str) -> None:
    with pytest.raises(RuntimeError, match="Make a mesh object active"):
        getattr(bpy.ops.borewright, operator)()


@pytest.mark.usefixtures("surveyed")
def test_pieces_are_built_in_object_mode_only() -> None:
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(RuntimeError, match="Switch to Object Mode"):
        bpy.ops.borewright.build()


def test_pieces_are_saved_to_the_folder_that_is_given(
    surveyed: bpy.types.Object, tmp_path: Path
) -> None:
    with pytest.raises(RuntimeError, match="Build pieces"):
        bpy.ops.borewright.save()
    bpy.ops.borewright.build()
    with pytest.raises(RuntimeError, match="No folder is given"):
        bpy.ops.borewright.save("EXEC_DEFAULT")
    out = tmp_path / "out"
    assert bpy.ops.borewright.save(directory=str(out)) == {"FINISHED"}
    files = {path.name for path in out.iterdir()}
    assert {"Pipe-01.stl", "Pipe-02.stl", "bed-01.3mf", "job.json"} <= files
    with pytest.raises(RuntimeError, match=r"found: .*needed: "):
        bpy.ops.borewright.save(directory=str(out))
    activate(surveyed)
    assert bpy.ops.borewright.save(directory=str(out), overwrite=True) == {"FINISHED"}


def test_a_linked_part_is_surveyed_or_says_why_not(tube: bpy.types.Object, tmp_path: Path) -> None:
    name, path = tube.name, str(tmp_path / "library.blend")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.objects = [name]
    linked = bpy.data.objects[name]
    bpy.context.scene.collection.objects.link(linked)
    bpy.context.view_layer.objects.active = linked
    with pytest.raises(RuntimeError, match="make it local"):
        bpy.ops.borewright.survey()
