"""Cuts of the active object, changed by operators and by typing a station."""

from __future__ import annotations

import importlib
import sys
from types import ModuleType

import bpy
import numpy as np
import pytest

from tests.blender.conftest import EXTENSION, two_tubes
from tests.parts import Hole, plain_tube, tube

HOLES = tuple(Hole(station, 0.0, 7.0) for station in (100.0, 130.0, 160.0, 240.0))
HEIGHT = 250.0


def own(name: str) -> ModuleType:
    """A module of the installed extension."""
    return importlib.import_module(f"{EXTENSION}.addon.{name}")


def cuts_of(source: bpy.types.Object) -> list[tuple[float, bool]]:
    return [(cut.station, cut.insisted) for cut in source.borewright.cuts]


def planned(source: bpy.types.Object, body: int = 0) -> list[float]:
    part = own("surveys.found").found_of(source).parts[body]
    return [cut.station for cut in part.planned.plan.cuts]


def survey(source: bpy.types.Object, height: float = HEIGHT) -> None:
    """Survey and plan for an envelope so high."""
    bpy.context.scene.borewright.envelope = (180.0, 180.0, height)
    bpy.context.scene.borewright.unit = "MM"
    bpy.context.view_layer.objects.active = source
    assert bpy.ops.borewright.survey() == {"FINISHED"}


def as_object(mesh: object) -> bpy.types.Object:
    data = bpy.data.meshes.new("Pipe")
    data.from_pydata(mesh.vertices.tolist(), [], mesh.faces.tolist())
    pipe = bpy.data.objects.new("Pipe", data)
    bpy.context.scene.collection.objects.link(pipe)
    bpy.context.view_layer.objects.active = pipe
    bpy.context.view_layer.update()
    return pipe


@pytest.fixture
def pipe(extension: ModuleType) -> bpy.types.Object:
    """A tube 350 long with side holes, surveyed and planned: one cut."""
    assert extension.__name__ == EXTENSION
    made = as_object(tube(length=350.0, bore=16.0, outside=24.0, holes=HOLES).mesh)
    survey(made)
    return made


def test_the_plan_is_listed(pipe: bpy.types.Object) -> None:
    assert [station for station, _ in cuts_of(pipe)] == planned(pipe)
    assert [insisted for _, insisted in cuts_of(pipe)] == [False]


def test_a_cut_moves_to_the_nearest_station_clear_of_holes_and_stays(
    pipe: bpy.types.Object,
) -> None:
    # guard 2: no joint's zone reaches to 158.5 - 2 and up to 161.5 + 2 ...
    assert bpy.ops.borewright.move_cut(index=0, station=160.0) == {"FINISHED"}
    ((station, insisted),) = cuts_of(pipe)
    assert insisted
    assert planned(pipe) == [station]
    assert abs(station - 160.0) > 3.5 + 2.0 - 1e-3  # the hole's edge and the guard
    assert abs(station - 160.0) < 40.0
    assert bpy.ops.borewright.move_cut(index=0, station=200.0) == {"FINISHED"}
    assert cuts_of(pipe) == [(200.0, True)]
    bpy.context.scene.borewright.guard = 3.0
    survey(pipe)
    assert cuts_of(pipe) == [(200.0, True)]


def test_typing_a_station_does_what_moving_does(pipe: bpy.types.Object) -> None:
    bpy.ops.borewright.move_cut(index=0, station=160.0)
    moved = cuts_of(pipe)
    bpy.ops.borewright.move_cut(index=0, station=200.0)
    pipe.borewright.cuts[0].station = 160.0
    assert cuts_of(pipe) == moved
    assert planned(pipe) == [moved[0][0]]
    pipe.borewright.cuts[0].station = 1e4
    assert cuts_of(pipe)[0][0] < HEIGHT
    assert planned(pipe) == [cuts_of(pipe)[0][0]]


def test_typing_notes_the_wish_where_nothing_is_surveyed(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    pipe = as_object(plain_tube().mesh)
    made = pipe.borewright.cuts.add()
    made.station = 120.0
    assert cuts_of(pipe) == [(120.0, True)]
    survey(pipe)
    assert (120.0, True) in cuts_of(pipe)


def test_a_cut_is_added_beside_those_that_are_there_and_removed_again(
    pipe: bpy.types.Object,
) -> None:
    (before,) = planned(pipe)
    assert bpy.ops.borewright.add_cut() == {"FINISHED"}
    stations = [station for station, _ in cuts_of(pipe)]
    assert before in stations
    assert len(stations) == 2
    assert stations == sorted(stations) == planned(pipe)
    assert all(insisted for _, insisted in cuts_of(pipe))
    added = pipe.borewright.active_cut
    assert stations[added] != before
    assert bpy.ops.borewright.remove_cut(index=added) == {"FINISHED"}
    assert cuts_of(pipe) == [(before, True)]


def test_a_cut_is_added_at_the_station_asked_for(pipe: bpy.types.Object) -> None:
    bpy.ops.borewright.move_cut(index=0, station=200.0)
    assert bpy.ops.borewright.add_cut(station=60.0) == {"FINISHED"}
    assert cuts_of(pipe) == [(60.0, True), (200.0, True)]
    with pytest.raises(RuntimeError, match="index"):
        bpy.ops.borewright.remove_cut(index=2)


def test_the_fewest_cuts_are_not_removed(pipe: bpy.types.Object) -> None:
    before = cuts_of(pipe)
    with pytest.raises(RuntimeError, match="one of the fewest seams that the part needs"):
        bpy.ops.borewright.remove_cut(index=0)
    assert cuts_of(pipe) == before
    bpy.ops.borewright.insist_cut(index=0)
    assert bpy.ops.borewright.remove_cut(index=0) == {"FINISHED"}
    assert cuts_of(pipe) == before


def test_pieces_asked_for_go_with_the_cut_that_is_removed(pipe: bpy.types.Object) -> None:
    pipe.borewright.pieces = 3
    survey(pipe)
    assert len(cuts_of(pipe)) == 2
    assert bpy.ops.borewright.remove_cut(index=1) == {"FINISHED"}
    assert pipe.borewright.pieces == 2
    assert len(cuts_of(pipe)) == len(planned(pipe)) == 1


def test_insisting_is_switched_on_and_off(pipe: bpy.types.Object) -> None:
    (planned_first,) = planned(pipe)
    bpy.ops.borewright.move_cut(index=0, station=200.0)
    assert bpy.ops.borewright.insist_cut() == {"FINISHED"}
    assert cuts_of(pipe) == [(planned_first, False)]
    assert bpy.ops.borewright.insist_cut() == {"FINISHED"}
    assert cuts_of(pipe) == [(planned_first, True)]


def test_no_seam_lies_in_a_stretch_that_is_avoided(pipe: bpy.types.Object) -> None:
    (before,) = planned(pipe)
    assert bpy.ops.borewright.add_avoid(start=before - 5.0, stop=before + 5.0) == {"FINISHED"}
    (moved,) = planned(pipe)
    assert abs(moved - before) >= 5.0 - 1e-3
    assert bpy.ops.borewright.remove_avoid(index=0) == {"FINISHED"}
    assert planned(pipe) == [before]
    assert cuts_of(pipe) == [(before, False)]


def test_a_seam_goes_near_a_station_that_is_preferred(pipe: bpy.types.Object) -> None:
    (before,) = planned(pipe)
    wished = before + 20.0
    assert bpy.ops.borewright.add_prefer(station=wished) == {"FINISHED"}
    (moved,) = planned(pipe)
    assert abs(moved - wished) < 1.0
    assert cuts_of(pipe) == [(moved, False)]
    assert bpy.ops.borewright.remove_prefer(index=0) == {"FINISHED"}
    assert planned(pipe) == [before]


def test_a_station_preferred_is_that_of_the_active_seam_if_none_is_given(
    pipe: bpy.types.Object,
) -> None:
    (before,) = planned(pipe)
    assert bpy.ops.borewright.add_prefer() == {"FINISHED"}
    assert [one.station for one in pipe.borewright.prefer] == [pytest.approx(before, abs=1e-4)]
    survey(pipe, 400.0)
    assert bpy.ops.borewright.add_prefer() == {"FINISHED"}
    assert [one.station for one in pipe.borewright.prefer][1:] == [pytest.approx(175.0)]


def test_what_leaves_no_plan_is_refused_and_taken_back(pipe: bpy.types.Object) -> None:
    before = cuts_of(pipe)
    with pytest.raises(RuntimeError, match="Avoid"):
        bpy.ops.borewright.add_avoid(start=1.0, stop=349.0)
    with pytest.raises(RuntimeError, match="its end above its beginning"):
        bpy.ops.borewright.add_avoid(start=20.0, stop=10.0)
    assert len(pipe.borewright.avoid) == 0
    assert cuts_of(pipe) == before
    assert [station for station, _ in before] == planned(pipe)


def test_a_change_that_leaves_no_plan_is_undone_with_its_list(pipe: bpy.types.Object) -> None:
    lists, found = own("surveys.cut_lists"), own("surveys.found").found_of(pipe)
    before, first = cuts_of(pipe), planned(pipe)

    def meet(part: object) -> None:
        """Two cuts whose joints would meet."""
        for station in (200.0, 203.0):
            made = part.cuts.add()
            made.station, made.insisted = station, True
        part.pieces = 5

    on = lists.PartInScene(bpy.context.scene, pipe, found)
    with pytest.raises(Exception, match="203"):
        lists.change_cuts(on, 0, meet)
    assert cuts_of(pipe) == before
    assert planned(pipe) == first
    assert pipe.borewright.pieces == 1


def test_each_body_has_cuts_of_its_own(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    pair = as_object(two_tubes())
    survey(pair, 180.0)
    assert [cut.part for cut in pair.borewright.cuts] == [0, 1]
    assert bpy.ops.borewright.move_cut(index=1, station=110.0) == {"FINISHED"}
    assert planned(pair, 1) == [110.0]
    other = planned(pair, 0)
    assert bpy.ops.borewright.add_cut(body=1, station=40.0) == {"FINISHED"}
    assert planned(pair, 1) == [40.0, 110.0]
    assert planned(pair, 0) == other
    assert [cut.part for cut in pair.borewright.cuts] == [0, 1, 1]


@pytest.mark.parametrize(
    "name", ["add_cut", "remove_cut", "move_cut", "insist_cut", "add_avoid", "add_prefer"]
)
def test_greyed_buttons_say_why(extension: ModuleType, name: str) -> None:
    assert extension.__name__ == EXTENSION
    run = getattr(bpy.ops.borewright, name)
    with pytest.raises(RuntimeError, match="Make a mesh object active"):
        run()
    pipe = as_object(plain_tube().mesh)
    with pytest.raises(RuntimeError, match="Survey the part first"):
        run()
    survey(pipe)
    own("surveys.found").found_of(pipe).stale = True
    with pytest.raises(RuntimeError, match="Survey the part again"):
        run()
    survey(pipe, 400.0)
    if name not in {"add_cut", "add_avoid", "add_prefer"}:
        with pytest.raises(RuntimeError, match="There is no seam"):
            run()
    bpy.ops.object.mode_set(mode="EDIT")
    with pytest.raises(RuntimeError, match="Switch to Object Mode"):
        run()
    bpy.ops.object.mode_set(mode="OBJECT")


def test_a_survey_the_other_way_up_has_to_be_made_again(pipe: bpy.types.Object) -> None:
    before = cuts_of(pipe)
    pipe.borewright.flip = True
    with pytest.raises(RuntimeError, match="Survey Part again"):
        bpy.ops.borewright.move_cut(index=0, station=200.0)
    assert cuts_of(pipe) == before


def test_points_of_the_axis_are_where_the_part_is(extension: ModuleType) -> None:
    """A scene of metres whose units are mm, and the part off its origin, upside down."""
    assert extension.__name__ == EXTENSION
    pipe = as_object(plain_tube().mesh)
    pipe.location = (5.0, -3.0, 40.0)
    pipe.rotation_euler = (0.0, np.pi / 2.0, 0.0)
    bpy.context.view_layer.update()
    survey(pipe)
    found = own("surveys.found").found_of(pipe)
    axis = own("cuts.axis_in_scene").axis_in_scene(found.parts[0].known.exact.frame, 1.0)
    assert np.allclose(axis.point(0.0), (5.0, -3.0, 40.0), atol=1e-3)
    assert np.allclose(axis.point(300.0), (305.0, -3.0, 40.0), atol=1e-3)
    in_cm = own("cuts.axis_in_scene").axis_in_scene(found.parts[0].known.exact.frame, 10.0)
    assert np.allclose(in_cm.point(300.0), (30.5, -0.3, 4.0), atol=1e-3)


def test_nothing_of_it_is_left_once_disabled(pipe: bpy.types.Object) -> None:
    import addon_utils

    assert pipe is not None
    addon_utils.disable(EXTENSION, default_set=True)
    assert not [name for name in dir(bpy.types) if "cut" in name and "BOREWRIGHT" in name]
    assert "move_cut" not in dir(bpy.ops.borewright)
    addon_utils.enable(EXTENSION, default_set=True)
    assert EXTENSION in sys.modules
