"""The tab: what each panel shows, and that drawing changes nothing."""

from __future__ import annotations

import importlib
from pathlib import Path
from types import ModuleType, SimpleNamespace

import bpy
import numpy as np
import pytest
import trimesh

from tests.blender.conftest import EXTENSION, two_tubes
from tests.parts import plain_tube
from tests.recorded_layout import Drawn, RecordedLayout

NARROW, WIDE = 160, 900


def own(name: str) -> ModuleType:
    """A module of the installed extension."""
    return importlib.import_module(f"{EXTENSION}.addon.{name}")


@pytest.fixture(autouse=True)
def _no_printers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("BOREWRIGHT_PROFILES", str(tmp_path / "printers"))


@pytest.fixture
def tube(extension: ModuleType) -> bpy.types.Object:
    """A tube 300 long, bore 19, outside 26, along z."""
    assert extension.__name__ == EXTENSION
    return made("Pipe", plain_tube().mesh)


def made(name: str, part: trimesh.Trimesh) -> bpy.types.Object:
    """A mesh as the active object."""
    data = bpy.data.meshes.new(name)
    data.from_pydata(part.vertices.tolist(), [], part.faces.tolist())
    shown = bpy.data.objects.new(name, data)
    bpy.context.scene.collection.objects.link(shown)
    bpy.context.view_layer.objects.active = shown
    bpy.context.view_layer.update()
    return shown


def surveyed(source: bpy.types.Object) -> object:
    """What the extension finds and plans of an object, kept as its operators keep it."""
    found, convert = own("surveys.found"), own("meshes.convert")
    settings_for = own("properties.panel_settings").settings_for
    scene = bpy.context.scene
    part = convert.object_part(
        bpy.context, source, own("properties.panel_settings").job_properties(scene).unit
    )
    known = found.survey_source(part, source.name, settings_for(scene, source), lambda _: None)
    found.plan_found(known, lambda body: settings_for(scene, source, body))
    found.keep(source, known)
    own("surveys.cut_lists").show_cuts(source, known)
    return known


def drawn(*, width: int = 300, closed: bool = True) -> Drawn:
    """All panels of the tab, drawn one after the other.

    closed : also those that are closed until somebody opens them
    """
    layout = RecordedLayout()
    context = context_of(width)
    for panel in own("panels").CLASSES:
        if not issubclass(panel, bpy.types.Panel):
            continue
        if not closed and "DEFAULT_CLOSED" in getattr(panel, "bl_options", ()):
            continue
        if not hasattr(panel, "poll") or panel.poll(context):
            panel.draw(SimpleNamespace(layout=layout), context)
    return layout.drawn


def context_of(width: int) -> SimpleNamespace:
    """The context as it is, with a sidebar of a width."""
    view = SimpleNamespace(region_to_view=lambda x, y: (float(x), float(y)))
    return SimpleNamespace(
        scene=bpy.context.scene,
        active_object=bpy.context.active_object,
        preferences=bpy.context.preferences,
        region=SimpleNamespace(width=width, view2d=view),
    )


@pytest.mark.usefixtures("extension")
def test_all_panels_are_in_one_tab_in_the_order_of_the_job() -> None:
    panels = [panel for panel in own("panels").CLASSES if issubclass(panel, bpy.types.Panel)]
    assert {panel.bl_category for panel in panels} == {"Borewright"}
    tops = [panel.bl_label for panel in panels if not getattr(panel, "bl_parent_id", "")]
    assert tops == ["Part", "Printer", "Joint", "Seams", "Pieces"]
    below = [panel for panel in panels if getattr(panel, "bl_parent_id", "")]
    assert all("DEFAULT_CLOSED" in panel.bl_options for panel in below)
    for panel in panels:
        assert all(word[0].isupper() or word == "and" for word in panel.bl_label.split())
        assert panel.is_registered


@pytest.mark.usefixtures("extension")
def test_without_a_part_the_panels_say_that_one_is_needed() -> None:
    assert "Make a mesh object active" in drawn(width=WIDE).labels


def test_with_a_piece_active_the_panels_and_cuts_are_its_parts(tube: bpy.types.Object) -> None:
    bpy.ops.borewright.survey()
    bpy.ops.borewright.build()
    assert bpy.context.active_object.name.startswith("Pipe-")
    assert "Pipe" in drawn(width=WIDE).labels
    assert "place" in drawn(width=WIDE).properties
    assert bpy.ops.borewright.add_cut() == {"FINISHED"}
    assert len(tube.borewright.cuts) == 2


def test_all_operators_of_the_job_have_a_button(tube: bpy.types.Object) -> None:
    surveyed(tube)
    for name in (
        "survey",
        "build",
        "save",
        "open_sheet",
        "trial",
        "add_cut",
        "remove_cut",
        "insist_cut",
    ):
        assert f"borewright.{name}" in drawn().operators


def test_seams_have_their_numbers_and_the_section_lies_open(tube: bpy.types.Object) -> None:
    surveyed(tube)
    assert "Seam 1" in drawn().labels
    assert "show_section" in drawn(closed=False).properties


def test_a_refused_part_says_why_in_the_panel(tube: bpy.types.Object) -> None:
    tube.scale = (0.03, 0.03, 0.03)  # 9 mm or 9 m long
    with pytest.raises(RuntimeError):
        bpy.ops.borewright.survey()
    shown = drawn(width=WIDE)
    for kind in ("Found: 0 likely readings", "Needed: 1 likely reading", "Try: Unit set to"):
        assert any(label.startswith(kind) for label in shown.labels), kind


@pytest.mark.usefixtures("extension")
def test_a_problem_with_places_has_a_button_that_shows_them() -> None:
    """Of a tube without the skin of half its outside."""
    whole = plain_tube().mesh
    reach = np.linalg.norm(whole.triangles[:, :, :2], axis=2).min(axis=1)
    whole.update_faces((reach < 12.5) | (whole.triangles_center[:, 0] < 0.0))
    made("Bad", whole)
    with pytest.raises(RuntimeError):
        bpy.ops.borewright.survey()
    assert "borewright.show_place" in drawn(width=WIDE).operators


def test_work_that_goes_on_is_shown_in_place_of_its_buttons(
    tube: bpy.types.Object, monkeypatch: pytest.MonkeyPatch
) -> None:
    surveyed(tube)
    monkeypatch.setattr(own("panels.layouts"), "running_stage", lambda: "true up Pipe-a")
    shown = drawn(width=WIDE)
    assert shown.bars == ["True up Pipe-a, Esc cancels"] * 2
    assert not {"borewright.survey", "borewright.build"} & set(shown.operators)


def test_a_part_that_was_not_surveyed_is_told_as_such(tube: bpy.types.Object) -> None:
    shown = drawn(width=WIDE)
    assert tube.name in shown.labels
    assert "Not surveyed yet" in shown.labels


def test_what_was_found_is_shown(tube: bpy.types.Object) -> None:
    """The tube's own sizes, by which it was made."""
    surveyed(tube)
    shown = drawn(width=WIDE).labels
    for fact in ("Along Z", "300.00 mm", "19.00 mm", "26.00 mm", "1 unit = 1 mm",
                 "3.50 mm at the least"):  # fmt: skip
        assert fact in shown, fact


def test_the_unit_that_was_taken_is_shown(tube: bpy.types.Object) -> None:
    tube.scale = (0.001, 0.001, 0.001)
    bpy.context.view_layer.update()
    surveyed(tube)
    shown = drawn(width=WIDE).labels
    assert "1 unit = 1000 mm" in shown
    assert "300.00 mm" in shown


def test_the_plan_and_its_heights_are_shown(tube: bpy.types.Object) -> None:
    known = surveyed(tube)
    shown = drawn(width=WIDE)
    (cut,) = known.parts[0].planned.plan.cuts
    (joint,) = known.parts[0].planned.plan.joints
    assert f"Tenon, {joint.engagement:.1f} mm long" in shown.labels
    assert f"{cut.window[0]:.1f} to {cut.window[1]:.1f} mm" in shown.labels
    assert cut.why in shown.text
    assert "2 pieces" in shown.labels
    assert {"station", "pieces"} <= set(shown.properties)
    assert {"borewright.insist_cut", "borewright.add_cut", "borewright.remove_cut"} <= set(
        shown.operators
    )
    assert f"{joint.highest:.1f} of 180 mm" in shown.labels
    assert f"{300.0 - cut.station:.1f} of 180 mm" in shown.labels


def test_heights_shown_before_are_those_of_the_pieces_built(tube: bpy.types.Object) -> None:
    """Collars too, and files that are larger for the print's shrink."""
    job = own("properties.panel_settings").job_properties(bpy.context.scene)
    job.joint, job.shrink = "collar", 1.0
    known = surveyed(tube)
    (part,) = known.parts
    told = own("panels.piece_heights").planned_heights(part.planned, known.asked)
    stages = importlib.import_module(f"{EXTENSION}.core.stages")
    built = stages.build_known(part.known, part.planned, known.asked, lambda _: None)
    assert len(told) == 3
    for (name, height), piece in zip(told, built.pieces, strict=True):
        assert name == piece.name
        assert height == pytest.approx(piece.mesh.vertices[:, 2].max(), abs=1e-3)


def test_a_plan_that_cannot_be_says_found_needed_and_try(tube: bpy.types.Object) -> None:
    own("properties.panel_settings").job_properties(bpy.context.scene).joint = "oring"
    own("properties.panel_settings").job_properties(bpy.context.scene).fit = "glue"
    part = surveyed_with_problem(tube)
    shown = drawn(width=WIDE)
    assert part.problem is not None
    for kind in ("Found: Fit Glue", "Needed: Fit Take Apart", "Try: "):
        assert any(label.startswith(kind) for label in shown.labels), kind
    assert "--" not in shown.text


def test_layers_that_the_nozzle_cannot_lay_are_refused_as_by_the_command(
    tube: bpy.types.Object,
) -> None:
    known = surveyed(tube)
    job = own("properties.panel_settings").job_properties(bpy.context.scene)
    job.nozzle, job.layer = 0.4, 0.5
    settings_for = own("properties.panel_settings").settings_for
    own("surveys.found").plan_found(known, lambda body: settings_for(bpy.context.scene, tube, body))
    shown = drawn(width=WIDE).text
    assert "layers of 0.5 mm from a nozzle of 0.4 mm" in shown
    assert "--" not in shown


def surveyed_with_problem(source: bpy.types.Object) -> object:
    """As surveyed with usual settings and planned with those that the scene has."""
    job = own("properties.panel_settings").job_properties(bpy.context.scene)
    asked = job.joint, job.fit
    job.joint, job.fit = "AUTO", "AUTO"
    known = surveyed(source)
    job.joint, job.fit = asked
    settings_for = own("properties.panel_settings").settings_for
    own("surveys.found").plan_found(
        known, lambda body: settings_for(bpy.context.scene, source, body)
    )
    return known.parts[0]


def test_bodies_are_told_apart_by_their_names(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    surveyed(made("Pair", two_tubes()))
    shown = drawn(width=WIDE).labels
    assert {"Pair-a", "Pair-b"} <= set(shown)
    assert {"300.00 mm", "240.00 mm"} <= set(shown)


def test_cuts_are_numbered_within_their_body(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION
    surveyed(made("Pair", two_tubes()))
    shown = drawn(width=WIDE).labels
    assert {"Pair-a seam 1", "Pair-b seam 1", "Pair-a: 2 pieces", "Pair-b: 2 pieces"} <= set(shown)


def test_stretches_to_avoid_have_a_line_each(tube: bpy.types.Object) -> None:
    surveyed(tube)
    tube.borewright.avoid.add()
    shown = drawn()
    assert {"start", "stop"} <= set(shown.properties)
    assert {"borewright.add_avoid", "borewright.remove_avoid"} <= set(shown.operators)


def test_a_stretch_with_its_end_first_is_said_to_avoid_nothing(tube: bpy.types.Object) -> None:
    surveyed(tube)
    kept = tube.borewright.avoid.add()
    kept.start, kept.stop = 10.0, 50.0
    assert "Avoids nothing" not in drawn().text
    kept.start = 50.0
    assert "Avoids nothing: its end is not above its start" in drawn(width=WIDE).labels


def test_a_seam_insisted_on_lies_where_it_is_as_that_is_asked(tube: bpy.types.Object) -> None:
    surveyed(tube)
    station = tube.borewright.cuts[0].station
    assert "as insisted" not in drawn().text
    tube.borewright.cuts[0].insisted = True
    surveyed(tube)
    assert f"At {station:.1f} mm, as insisted" in drawn(width=WIDE).labels


def test_preferred_stations_have_a_line_each(tube: bpy.types.Object) -> None:
    surveyed(tube)
    before = drawn().properties.count("station")
    tube.borewright.prefer.add()
    shown = drawn()
    assert shown.properties.count("station") == before + 1
    assert {"borewright.add_prefer", "borewright.remove_prefer"} <= set(shown.operators)


def test_a_change_since_the_survey_is_told(tube: bpy.types.Object) -> None:
    surveyed(tube)
    tube.location = (1.0, 0.0, 0.0)
    bpy.context.view_layer.update()
    found = own("surveys.found")
    found.look_again(bpy.context, tube, found.found_of(tube))  # a timer, in a window
    assert any("has changed since" in label for label in drawn(width=WIDE).labels)


def test_drawing_changes_nothing(tube: bpy.types.Object) -> None:
    surveyed(tube)
    before = all_values(bpy.context.scene.borewright), all_values(tube.borewright)
    drawn()
    assert (all_values(bpy.context.scene.borewright), all_values(tube.borewright)) == before


def all_values(group: bpy.types.PropertyGroup) -> dict[str, object]:
    names = [prop.identifier for prop in group.bl_rna.properties if prop.identifier != "rna_type"]
    return {name: (str(getattr(group, name)), group.is_property_set(name)) for name in names}


@pytest.mark.parametrize("width", [NARROW, WIDE])
def test_no_line_of_text_is_wider_than_the_panel(tube: bpy.types.Object, width: int) -> None:
    import blf

    surveyed(tube)
    blf.size(0, 11.0)
    assert max(blf.dimensions(0, label)[0] for label in drawn(width=width).labels) < width


def test_the_clearance_that_holds_is_shown_though_none_is_set(tube: bpy.types.Object) -> None:
    """0.15 a side for glue, 0.20 to take apart: the rule in `core/fitting/fit_rules.py`."""
    assert tube.name == "Pipe"
    job = own("properties.panel_settings").job_properties(bpy.context.scene)
    assert "0.15 mm, By the Fit" in drawn(width=WIDE).labels
    job.joint = "oring"
    assert "0.20 mm, By the Fit" in drawn(width=WIDE).labels
    assert "0.20 mm" in drawn(width=NARROW).labels
    job.choose_clearance = True
    assert "clearance" in drawn().properties


def test_stations_of_hundreds_of_mm_are_shown_to_a_hundredth(tube: bpy.types.Object) -> None:
    """Blender counts the digits before the point too: of 149.5 at a precision of 2 it shows 149."""
    groups = [bpy.context.scene.borewright, tube.borewright, tube.borewright.cuts.add(),
              tube.borewright.avoid.add()]  # fmt: skip
    lengths = [prop for group in groups for prop in group.bl_rna.properties
               if getattr(prop, "unit", "NONE") == "CAMERA"]  # fmt: skip
    assert len(lengths) > 15
    assert {prop.precision for prop in lengths} == {5}


def test_a_long_word_is_broken_and_no_letter_lost() -> None:
    from borewright.addon.panels.wrapped_text import broken_lines

    path = "in /a/long/path/that/no/sidebar/holds.json"
    lines = broken_lines(path, 60, 11.0)
    assert len(lines) > 3
    assert "".join(lines) == path.replace(" ", "")
