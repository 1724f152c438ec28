"""However a part stands in its scene, the sidebar finds and plans what the command does.

Blender's own STL export, scaled to mm, brings each object to the command: it applies
modifiers and transforms by code that is not ours.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import bpy
import pytest
from borewright.addon.command_line.command import main

from tests.blender.built_pieces import add_part, import_part, made_of, make_active, own
from tests.blender.conftest import ENVELOPE, EXTENSION
from tests.parts import plain_tube, ringed_pipe

MM = 2e-3
"""mm: float32 of 0.3 m is 3e-5 apart; a seam's station is a multiple of 1/1024."""

SHARE = 2e-5
"""Of greater numbers, areas and loads."""

CHORD = 0.02
"""mm: facets of the same circle may have their corners elsewhere."""

_WORDS_AND_NOISE = {"why", "rms", "slant_deg", "source", "name", "max_move", "triangles_before",
                    "greatest_chord", "triangles_after", "pieces"}  # fmt: skip
"""What tells how exact the numbers of a mesh are, or has them in words."""


@pytest.fixture(autouse=True)
def _enabled(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION


def of_command(source: bpy.types.Object, folder: Path, mm_per_unit: float) -> dict[str, Any]:
    """What the command finds in the object, as Blender exports it."""
    for other in bpy.context.selected_objects:
        other.select_set(other == source)
    path = folder / f"{source.name}.stl"
    bpy.ops.wm.stl_export(
        filepath=str(path),
        export_selected_objects=True,
        global_scale=mm_per_unit,
        use_scene_unit=False,
        apply_modifiers=True,
    )
    out = folder / f"{source.name} by command"
    arguments = [*ENVELOPE, "--units", "mm", "--out", str(out), "--quiet"]
    assert main(["split", str(path), *arguments]) == 0
    return entry(json.loads((out / "job.json").read_text()))


def of_sidebar(source: bpy.types.Object) -> dict[str, Any]:
    """What the sidebar keeps of the pieces that it built of the object."""
    return entry(json.loads(made_of(source).borewright_pieces.record))


def entry(document: dict[str, Any]) -> dict[str, Any]:
    (part,) = document["parts"]
    made: dict[str, Any] = part
    return made


def differing(first: Any, second: Any, at: str = "") -> list[str]:
    """Where two records have other numbers, or are of other forms."""
    if isinstance(first, dict) and isinstance(second, dict) and first.keys() == second.keys():
        return [
            said
            for key in first
            if key not in _WORDS_AND_NOISE
            for said in differing(first[key], second[key], f"{at}/{key}")
        ]
    if isinstance(first, list) and isinstance(second, list) and len(first) == len(second):
        return [
            said
            for k, pair in enumerate(zip(first, second, strict=True))
            for said in differing(*pair, f"{at}/{k}")
        ]
    if all(isinstance(one, (int, float)) for one in (first, second)):
        near = math.isclose(first, second, abs_tol=MM, rel_tol=SHARE)
        return [] if near else [f"{at}: {first} and {second}"]
    return [] if first == second else [f"{at}: {first} and {second}"]


# Objects, each with how many mm a unit of its scene is


def imported(folder: Path) -> tuple[bpy.types.Object, float]:
    ringed_pipe().save(folder / "part.stl")
    return import_part(folder / "part.stl", "Part"), 1.0


def in_metres(_folder: Path) -> tuple[bpy.types.Object, float]:
    mesh = ringed_pipe().mesh
    mesh.apply_scale(0.001)
    return add_part(mesh, "Part"), 1000.0


def in_a_scene_of_mm(_folder: Path) -> tuple[bpy.types.Object, float]:
    bpy.context.scene.unit_settings.scale_length = 0.001
    return add_part(ringed_pipe().mesh, "Part"), 1.0


def in_a_scene_of_cm(_folder: Path) -> tuple[bpy.types.Object, float]:
    bpy.context.scene.unit_settings.scale_length = 0.01
    bpy.context.scene.borewright.unit = "SCENE"
    mesh = ringed_pipe().mesh
    mesh.apply_scale(0.1)
    return add_part(mesh, "Part"), 10.0


def scaled_by_its_object(_folder: Path) -> tuple[bpy.types.Object, float]:
    part = add_part(ringed_pipe().mesh, "Part")
    part.scale = (0.001,) * 3
    return part, 1000.0


def moved_and_turned(_folder: Path) -> tuple[bpy.types.Object, float]:
    part = add_part(ringed_pipe().mesh, "Part")
    part.location, part.rotation_euler = (40.0, -30.0, 20.0), (0.3, 1.1, -0.7)
    return part, 1.0


def mirrored(_folder: Path) -> tuple[bpy.types.Object, float]:
    part = add_part(ringed_pipe().mesh, "Part")
    part.scale = (1.0, -1.0, 1.0)
    return part, 1.0


def stretched(_folder: Path) -> tuple[bpy.types.Object, float]:
    part = add_part(plain_tube().mesh, "Part")
    part.scale = (1.0, 1.0, 1.1)
    return part, 1.0


def of_a_parent(_folder: Path) -> tuple[bpy.types.Object, float]:
    parent = bpy.data.objects.new("Frame", None)
    bpy.context.scene.collection.objects.link(parent)
    parent.rotation_euler, parent.scale = (0.5, 0.0, 0.2), (0.5,) * 3
    part = add_part(ringed_pipe().mesh, "Part")
    part.parent, part.scale = parent, (2.0,) * 3
    return part, 1.0


def of_modifiers(_folder: Path) -> tuple[bpy.types.Object, float]:
    """A sheet rolled round, made a wall by one modifier and twice as long by another."""
    bpy.ops.mesh.primitive_cylinder_add(
        vertices=96, radius=13.0, depth=150.0, end_fill_type="NOTHING"
    )
    part = bpy.context.active_object
    part.name = "Part"
    for vertex in part.data.vertices:
        vertex.co.z += 75.0
    array = part.modifiers.new("Twice", "ARRAY")
    array.use_relative_offset, array.use_constant_offset = False, True
    array.constant_offset_displace = (0.0, 0.0, 150.0)
    array.use_merge_vertices, array.merge_threshold = True, 1e-3
    wall = part.modifiers.new("Wall", "SOLIDIFY")
    wall.thickness, wall.offset = 3.5, -1.0
    return part, 1.0


def local_with_a_linked_mesh(folder: Path) -> tuple[bpy.types.Object, float]:
    path = str(folder / "library.blend")
    add_part(ringed_pipe().mesh, "Part")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.meshes = ["Part"]
    part = bpy.data.objects.new("Part", bpy.data.meshes["Part"])
    bpy.context.scene.collection.objects.link(part)
    make_active(part)
    return part, 1.0


def linked_and_made_local(folder: Path) -> tuple[bpy.types.Object, float]:
    path = str(folder / "library.blend")
    add_part(ringed_pipe().mesh, "Part")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.objects = ["Part"]
    bpy.context.scene.collection.objects.link(bpy.data.objects["Part"])
    make_active(bpy.data.objects["Part"])
    bpy.ops.object.make_local(type="SELECT_OBJECT")
    return bpy.context.active_object, 1.0


SCENES: list[Callable[[Path], tuple[bpy.types.Object, float]]] = [
    imported, in_metres, in_a_scene_of_mm, in_a_scene_of_cm, scaled_by_its_object,
    moved_and_turned, mirrored, stretched, of_a_parent, of_modifiers, local_with_a_linked_mesh,
    linked_and_made_local,
]  # fmt: skip


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.__name__)
def test_the_sidebar_plans_what_the_command_plans(
    scene: Callable[[Path], tuple[bpy.types.Object, float]], tmp_path: Path
) -> None:
    part, mm_per_unit = scene(tmp_path)
    bpy.context.view_layer.update()
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    found = own("addon.surveys.found").found_of(part)
    assert found.source.scale_to_mm == pytest.approx(mm_per_unit)
    assert bpy.ops.borewright.build() == {"FINISHED"}
    part.hide_set(False)
    part.select_set(True)
    by_command = of_command(part, tmp_path, mm_per_unit)
    assert by_command["cuts"]
    assert differing(of_sidebar(part), by_command) == []
    listed = [cut.station for cut in part.borewright.cuts]
    assert listed == pytest.approx([cut["station"] for cut in by_command["cuts"]], abs=MM)


def test_what_is_edited_is_planned_as_it_will_be_when_it_is_left(tmp_path: Path) -> None:
    part = add_part(ringed_pipe().mesh, "Part")
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.transform.resize(value=(0.95, 0.95, 0.95))
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    bpy.ops.object.mode_set(mode="OBJECT")
    found = own("addon.surveys.found").found_of(part)
    assert bpy.ops.borewright.build() == {"FINISHED"}
    assert own("addon.surveys.found").found_of(part) is found
    part.hide_set(False)
    part.select_set(True)
    assert differing(of_sidebar(part), of_command(part, tmp_path, 1.0)) == []


def test_of_several_selected_parts_each_is_planned_as_alone(tmp_path: Path) -> None:
    parts = [
        add_part(ringed_pipe().mesh, "Ringed"),
        add_part(plain_tube().mesh, "Plain"),
        add_part(plain_tube(length=400.0).mesh, "Long"),
    ]
    for part in parts:
        part.select_set(True)
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    for part in parts:
        part.select_set(True)
    assert bpy.ops.borewright.build() == {"FINISHED"}
    for part in parts:
        part.hide_set(False)
        part.select_set(True)
        assert differing(of_sidebar(part), of_command(part, tmp_path, 1.0)) == [], part.name


@pytest.mark.parametrize("scale", [1.0, 0.001])
def test_pieces_lie_where_the_part_is_in_units_of_its_scene(scale: float) -> None:
    mesh = plain_tube().mesh
    mesh.apply_scale(scale)
    part = add_part(mesh, "Part")
    part.location = (0.1, 0.2, 0.3)
    bpy.context.view_layer.update()
    bpy.ops.borewright.survey()
    bpy.ops.borewright.build()
    bpy.context.view_layer.update()
    low, high = (corner_range(part)[k] for k in (0, 1))
    pieces = [one for one in bpy.data.objects if one.borewright_piece.number]
    ranges = [corner_range(piece) for piece in pieces]
    for end, outermost in ((0, min), (1, max)):
        for axis, slack in enumerate((CHORD, CHORD, MM)):
            reached = outermost(one[end][axis] for one in ranges)
            assert reached == pytest.approx((low, high)[end][axis], abs=slack * scale)


def corner_range(shown: bpy.types.Object) -> tuple[list[float], list[float]]:
    """Least and greatest coordinates of an object in the scene."""
    corners = [shown.matrix_world @ vertex.co for vertex in shown.data.vertices]
    return (
        [min(corner[k] for corner in corners) for k in range(3)],
        [max(corner[k] for corner in corners) for k in range(3)],
    )


def test_a_difference_would_be_seen(tmp_path: Path) -> None:
    part, mm_per_unit = imported(tmp_path)
    bpy.ops.borewright.survey()
    bpy.ops.borewright.build()
    part.hide_set(False)
    part.select_set(True)
    by_command = of_command(part, tmp_path, mm_per_unit * 1.0001)
    said = differing(of_sidebar(part), by_command)
    assert any(one.startswith("/survey/length") for one in said)
    assert any(one.startswith("/survey/side_holes") for one in said)
