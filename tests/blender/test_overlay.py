"""What is drawn of a surveyed object, as far as it can be seen without a window."""

from __future__ import annotations

import importlib
import math
from types import ModuleType
from typing import Any

import addon_utils
import bpy
import numpy as np
import pytest
from mathutils import Matrix

from tests.blender.conftest import EXTENSION
from tests.parts import plain_tube


def module(name: str) -> Any:
    return importlib.import_module(f"{EXTENSION}.addon.{name}")


@pytest.fixture
def part(extension: ModuleType) -> bpy.types.Object:  # noqa: ARG001 - it is to be enabled
    """A tube 300 long, outside 26, in millimetres in a scene of metres; turned and shifted."""
    mesh = bpy.data.meshes.new("pipe")
    tube = plain_tube().mesh
    mesh.from_pydata(tube.vertices.tolist(), [], tube.faces.tolist())
    source = bpy.data.objects.new("pipe", mesh)
    bpy.context.scene.collection.objects.link(source)
    source.matrix_world = (
        Matrix.Translation((0.1, 0.2, 0.3))
        @ Matrix.Rotation(math.radians(50.0), 4, (1.0, 2.0, 3.0))
        @ Matrix.Scale(0.001, 4)
    )
    bpy.context.view_layer.objects.active = source
    source.select_set(True)
    bpy.context.view_layer.update()
    return source


def survey(source: bpy.types.Object) -> Any:
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    return module("surveys.found").found_of(source)


def drawn(source: bpy.types.Object) -> Any:
    shown = module("overlay.shown_parts")
    (part,) = shown.shown_object(source).parts
    asked = shown.what_is_shown(bpy.context.scene)
    return part.at_scale(asked, 0.5, lambda lines, _scale: len(lines)).drawing


def test_seams_lie_on_the_object_where_it_stands_in_the_world(part: bpy.types.Object) -> None:
    found = survey(part)
    frame = found.parts[0].known.exact.frame
    to_world = module("overlay.view_scale").world_matrix(frame, found.source.scale_to_mm)
    to_object = np.array(part.matrix_world.inverted() @ to_world)
    rings = [line for line in drawn(part).lines if line.tone == "seam" and line.layer == "surface"]
    stations = [joint.station for joint in found.parts[0].planned.plan.joints]
    assert len(rings) == 2 * len(stations)
    assert stations
    for ring, station in zip(rings, stations, strict=False):
        local = ring.starts @ to_object[:3, :3].T + to_object[:3, 3]
        low = min(station, 300.0 - station)
        assert np.abs(np.minimum(local[:, 2], 300.0 - local[:, 2]) - low).max() < 1e-2
        assert np.abs(np.hypot(local[:, 0], local[:, 1]) - 13.0).max() < 0.1


def test_a_drawing_is_made_once_for_each_version(part: bpy.types.Object) -> None:
    found = survey(part)
    before = drawn(part)
    assert drawn(part) is before
    found.version += 1
    assert drawn(part) is not before


def test_what_is_drawn_goes_by_the_settings_of_the_plan(part: bpy.types.Object) -> None:
    """Not by what has been set since: the plan is drawn until there is another one."""
    survey(part)
    bpy.context.scene.borewright.envelope = (180.0, 180.0, 60.0)
    heights = [label for label in drawn(part).labels if label.template.startswith("{piece}")]
    assert [label.values["room"] for label in heights] == ["180", "180"]


def test_the_section_is_drawn_of_the_pieces_and_the_mesh_stays(part: bpy.types.Object) -> None:
    survey(part)
    before = len(part.data.vertices), len(bpy.data.meshes), len(bpy.data.objects)
    plain = len([line for line in drawn(part).lines if line.layer == "front"])
    bpy.context.scene.borewright.show_section = True
    cut = len([line for line in drawn(part).lines if line.layer == "front"])
    assert cut - plain == 2 * 2, "an outline and a hatching for each of two pieces"
    assert (len(part.data.vertices), len(bpy.data.meshes), len(bpy.data.objects)) == before


def test_nothing_is_drawn_of_what_was_not_surveyed(part: bpy.types.Object) -> None:
    assert module("overlay.shown_parts").shown_object(part) is None


def test_a_part_that_cannot_be_planned_still_shows_where_seams_may_lie(
    part: bpy.types.Object,
) -> None:
    bpy.context.scene.borewright.envelope = (180.0, 180.0, 10.0)
    found = survey(part)
    assert found.parts[0].problem is not None
    assert any(line.style == "dashed" and line.layer == "beside" for line in drawn(part).lines)


def test_words_are_translated_with_their_parts(
    part: bpy.types.Object, monkeypatch: pytest.MonkeyPatch
) -> None:
    survey(part)
    words = module("overlay.words")
    texts = [words.label_text(label) for label in drawn(part).labels]
    assert "no seam: no room" in texts
    asked: list[str] = []
    monkeypatch.setattr(words, "told", lambda word, **_values: asked.append(word) or word)
    for label in drawn(part).labels:
        words.label_text(label)
    assert {"no seam: {why}", "no room", "tenon"} <= set(asked)


@pytest.mark.parametrize("tone", ["plain", "seam", "alert", "faint"])
@pytest.mark.usefixtures("extension")
def test_tones_are_colours_of_the_theme(tone: str) -> None:
    colour = module("overlay.theme").tone_colour(tone)
    assert len(colour) == 4
    assert all(0.0 <= share <= 1.0 for share in colour)


def test_disabling_takes_back_what_draws(installed: str) -> None:
    addon_utils.enable(installed, default_set=True)
    hooks, properties = module("overlay.drawing_hooks"), module("properties.groups")
    assert hooks.redraw_viewports in properties.on_change
    assert hooks._handles == []  # noqa: SLF001 - Blender lists draw handlers nowhere
    addon_utils.disable(installed, default_set=True)
    assert hooks.redraw_viewports not in properties.on_change
