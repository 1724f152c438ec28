"""Pieces of the scene are saved as the command saves those of the same mesh, or refused."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import bpy
import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main

from tests.blender.built_pieces import (
    add_part,
    build,
    import_part,
    made_of,
    own,
    pieces_of,
    place,
    refused,
    save,
)
from tests.blender.conftest import ENVELOPE, EXTENSION, ROOT, tree, two_tubes
from tests.parts import plain_tube


@pytest.fixture
def pipe(extension: ModuleType, tube_stl: Path) -> bpy.types.Object:
    """The tube of the fixture `job`, its pieces built with the same settings."""
    assert extension.__name__ == EXTENSION
    part = import_part(tube_stl, "pipe")
    build()
    return part


def assert_same_job(saved: Path, commanded: Path, *, sheet: bool = True) -> None:
    """Every byte, but for what tells a file from an object, and for times.

    sheet : whether the plan sheet is among them
    """
    names = {path.name for path in commanded.iterdir()} - ({"sheet.html"} if not sheet else set())
    assert {path.name for path in saved.iterdir()} == names
    for name in names - {"job.json", "timings.json"}:
        assert (saved / name).read_bytes() == (commanded / name).read_bytes(), name
    texts = [(folder / "job.json").read_text() for folder in (saved, commanded)]
    documents = [json.loads(text) for text in texts]
    assert (documents[0]["sheet"] is not None) == sheet
    if not sheet:
        documents[1]["sheet"] = None
    for document in documents:
        for part in document["parts"]:
            del part["source"]["file"], part["source"]["sha256"]
    ours, theirs = (json.dumps(document, indent=1) for document in documents)
    assert ours == theirs
    times = [json.loads((folder / "timings.json").read_text()) for folder in (saved, commanded)]
    assert times[0].keys() == times[1].keys()
    assert all(value > 0.0 for value in times[0].values())


def test_saved_as_the_command_saves(pipe: bpy.types.Object, job: Path, tmp_path: Path) -> None:
    told = save(pipe, tmp_path / "out")
    assert (told.pieces, told.beds) == (2, 1)
    assert_same_job(tmp_path / "out", job)


def test_where_pieces_stand_and_what_they_are_called_changes_nothing(
    pipe: bpy.types.Object, job: Path, tmp_path: Path
) -> None:
    place(pipe, "BED")
    first, second = pieces_of(pipe)
    first.name, second.name, pipe.name = "Foot", "Head", "Whistle"
    first.location.x += 50.0
    second.rotation_euler.x += 1.0
    second.data.materials.clear()
    save(pipe, tmp_path / "out")
    assert_same_job(tmp_path / "out", job)


@pytest.mark.usefixtures("extension")
def test_several_bodies_in_a_scene_of_mm(tmp_path: Path) -> None:
    bpy.context.scene.unit_settings.scale_length = 0.001
    two_tubes().export(tmp_path / "pair.stl")
    pair = import_part(tmp_path / "pair.stl", "pair")
    build(unit="SCENE")
    save(pair, tmp_path / "out")
    command = ["split", str(tmp_path / "pair.stl"), *ENVELOPE, "--engagement", "11"]
    assert main([*command, "--out", str(tmp_path / "commanded"), "--quiet"]) == 0
    assert_same_job(tmp_path / "out", tmp_path / "commanded")


@pytest.mark.usefixtures("extension")
def test_a_wind_instrument_is_told_of_as_by_the_command(tube_stl: Path, tmp_path: Path) -> None:
    part = import_part(tube_stl, "pipe")
    build(wind=True)
    save(part, tmp_path / "out")
    command = ["split", str(tube_stl), *ENVELOPE, "--engagement", "11", "--wind"]
    assert main([*command, "--out", str(tmp_path / "commanded"), "--quiet"]) == 0
    assert_same_job(tmp_path / "out", tmp_path / "commanded")
    (told,) = json.loads((tmp_path / "out" / "job.json").read_text())["parts"]
    assert told["wind"]["columns"]
    assert "<h2>Tuning</h2>" in (tmp_path / "out" / "sheet.html").read_text()


IN_A_FRESH_PROCESS = """
import sys
import bpy, addon_utils
blend, extension, out = sys.argv[1:]
addon_utils.enable(extension, default_set=True)
bpy.ops.wm.open_mainfile(filepath=blend)
from pathlib import Path
from importlib import import_module
data = import_module(f"{extension}.addon.pieces.piece_data")
made = data.made_of(bpy.data.objects["pipe"])
assert bpy.data.objects["pipe"].hide_get()
saver = import_module(f"{extension}.addon.pieces.save_pieces")
saver.save(bpy.context, made, Path(out), overwrite=False)
bpy.data.objects["pipe"].borewright.place = "BED"
assert not made.children[0].hide_viewport
assert bpy.data.objects["pipe-02"].location.z == 0.0
addon_utils.disable(extension, default_set=True)
"""


def test_pieces_of_a_blend_file_are_saved_by_another_process(
    pipe: bpy.types.Object, job: Path, tmp_path: Path
) -> None:
    place(pipe, "ASSEMBLED", apart=20.0)
    bpy.ops.wm.save_as_mainfile(filepath=str(tmp_path / "pipe.blend"))
    script = tmp_path / "save.py"
    script.write_text(IN_A_FRESH_PROCESS)
    out = tmp_path / "out"
    done = subprocess.run(
        [sys.executable, str(script), str(tmp_path / "pipe.blend"), EXTENSION, str(out)],
        env={**os.environ, "PYTHONPATH": str(ROOT.parent)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert_same_job(out, job, sheet=False)


def test_a_folder_is_treated_as_the_command_treats_it(
    pipe: bpy.types.Object, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    save(pipe, out)
    (out / "note.txt").write_text("mine")
    before = tree(tmp_path)
    with refused(r"exists and holds 7 entries"):
        save(pipe, out)
    assert tree(tmp_path) == before
    save(pipe, out, overwrite=True)
    assert (out / "note.txt").read_text() == "mine"
    (out / "pipe-01.stl").write_bytes(b"changed")
    before = tree(tmp_path)
    with refused(r"1 file changed since it was saved: .*pipe-01\.stl"):
        save(pipe, out, overwrite=True)
    assert tree(tmp_path) == before


def move_a_vertex(shown: bpy.types.Object) -> None:
    shown.data.vertices[0].co.z += 0.001


def move_a_vertex_in_edit_mode(shown: bpy.types.Object) -> None:
    import bmesh

    bpy.ops.object.select_all(action="DESELECT")
    bpy.context.view_layer.objects.active = shown
    bpy.ops.object.mode_set(mode="EDIT")
    edited = bmesh.from_edit_mesh(shown.data)
    edited.verts.ensure_lookup_table()
    edited.verts[0].co.z += 0.5


def flip_a_face(shown: bpy.types.Object) -> None:
    shown.data.polygons[0].flip()
    shown.data.update()


def modify(shown: bpy.types.Object) -> None:
    shown.modifiers.new("Thin Out", "DECIMATE").ratio = 0.5


def empty(shown: bpy.types.Object) -> None:
    shown.data.clear_geometry()


@pytest.mark.parametrize(
    "change", [move_a_vertex, move_a_vertex_in_edit_mode, flip_a_face, modify, empty]
)
def test_an_edited_piece_is_refused_by_its_name_and_nothing_is_written(
    pipe: bpy.types.Object, tmp_path: Path, change: Callable[[bpy.types.Object], None]
) -> None:
    change(pieces_of(pipe)[1])
    with refused(r"found: pipe-02 with \d+ triangles.*try: build the pieces anew"):
        save(pipe, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_scaled_piece_is_refused(pipe: bpy.types.Object, tmp_path: Path) -> None:
    pieces_of(pipe)[0].scale.z = 1.01
    with refused(r"found: pipe-01 scaled to 1 x 1 x 1\.01 of its size"):
        save(pipe, tmp_path / "out")


def test_an_applied_transform_is_an_edit(pipe: bpy.types.Object, tmp_path: Path) -> None:
    place(pipe, "BED")
    bpy.ops.object.transform_apply()
    with refused(r"found: pipe-01 with"):
        save(pipe, tmp_path / "out")


def test_a_missing_piece_is_told(pipe: bpy.types.Object, tmp_path: Path) -> None:
    bpy.data.objects.remove(pieces_of(pipe)[0])
    with refused(r"found: 1 of 2 pieces in the collection pipe Pieces, which lacks pipe-01"):
        save(pipe, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_a_piece_of_an_earlier_job_does_not_stand_in(
    pipe: bpy.types.Object, tmp_path: Path
) -> None:
    """One that was kept elsewhere while the pieces were built anew, and put back."""
    earlier = pieces_of(pipe)[0]
    made_of(pipe).objects.unlink(earlier)
    bpy.context.scene.collection.objects.link(earlier)
    bpy.context.view_layer.objects.active = pipe
    build(envelope=(180.0, 180.0, 170.0))
    bpy.data.objects.remove(pieces_of(pipe)[0])
    made_of(pipe).objects.link(earlier)
    with refused(r"1 of 2 pieces .* lacks pipe-01"):
        save(pipe, tmp_path / "out")


def test_a_mirrored_source_gives_files_that_face_outward(
    extension: ModuleType, tmp_path: Path
) -> None:
    assert extension.__name__ == EXTENSION
    tube = add_part(plain_tube().mesh, "Pipe")
    tube.scale.x = -1.0
    build()
    save(tube, tmp_path / "out")
    for path in sorted((tmp_path / "out").glob("*.stl")):
        piece = trimesh.load_mesh(path)
        assert piece.is_watertight
        assert piece.volume > 0.0


def test_pieces_of_metres_are_saved_in_mm(extension: ModuleType, tmp_path: Path) -> None:
    assert extension.__name__ == EXTENSION
    part = plain_tube().mesh
    part.apply_scale(0.001)
    tube = add_part(part, "Pipe")
    build(unit="SCENE")
    save(tube, tmp_path / "out")
    first = trimesh.load_mesh(tmp_path / "out" / "Pipe-01.stl")
    assert first.extents[:2] == pytest.approx([26.0, 26.0], abs=0.02)
    document = json.loads((tmp_path / "out" / "job.json").read_text())
    source = document["parts"][0]["source"]
    assert (source["file"], source["unit"], source["scale_to_mm"]) == ("Pipe", "m", 1000.0)
    assert source["triangles"] == len(tube.data.polygons)


def test_files_larger_for_the_prints_shrink_are_saved_so(
    extension: ModuleType, tmp_path: Path
) -> None:
    """Shown in their own size, saved in that of their files, which is 1 / (1 - 0.005) as large."""
    assert extension.__name__ == EXTENSION
    store, profiles = own("addon.profiles.profile_store"), own("core.fitting.printer_profile")
    shrink = own("core.values").Compensation(shrink_percent=0.5)
    tube = add_part(plain_tube().mesh, "Pipe")
    path = store.save_profile(profiles.PrinterProfile("Bench", compensation=shrink))
    try:
        build(profile="Bench")
    finally:
        path.unlink()
    assert [shown.dimensions.x for shown in pieces_of(tube)] == pytest.approx([26.0] * 2, abs=0.02)
    save(tube, tmp_path / "out")
    for path in (tmp_path / "out").glob("*.stl"):
        assert trimesh.load_mesh(path).extents[0] == pytest.approx(26.0 / 0.995, abs=0.02)


@pytest.mark.parametrize(
    ("name", "file"),
    [("a/b", "a_b-01.stl"), (".hidden", "_hidden-01.stl"), ("Flöte 1.001", "Flöte 1.001-01.stl")],
)
def test_an_object_may_be_called_what_no_file_may(
    extension: ModuleType, tmp_path: Path, name: str, file: str
) -> None:
    assert extension.__name__ == EXTENSION
    tube = add_part(plain_tube().mesh, name)
    build()
    save(tube, tmp_path / "out")
    assert (tmp_path / "out" / file).is_file()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out"]


def test_a_name_too_long_for_a_file_keeps_its_end(extension: ModuleType) -> None:
    """File systems take 255 bytes of a name; an object's name may have as many, in Blender 5."""
    assert extension.__name__ == EXTENSION
    stem = own("addon.pieces.built_job").file_stem
    stems = [stem("ö" * 125 + end) for end in ("-a-01", "-b-01")]
    assert all(len(f"{one}.stl".encode()) <= 200 for one in stems)
    assert [one[-5:] for one in stems] == ["-a-01", "-b-01"]


def renamed(record: str) -> str:
    return record.replace('"file": "pipe-01.stl"', '"file": "../pipe-01.stl"')


def cut_short(record: str) -> str:
    return record[: len(record) // 2]


def emptied(_record: str) -> str:
    return ""


def without_places(record: str) -> str:
    return record.replace('"places"', '"plaices"')


@pytest.mark.parametrize("damage", [renamed, cut_short, emptied, without_places])
def test_a_damaged_record_is_refused(
    pipe: bpy.types.Object, tmp_path: Path, damage: Callable[[str], str]
) -> None:
    """A file of Blender's may come from anybody."""
    data = made_of(pipe).borewright_pieces
    damaged = damage(data.record)
    assert damaged != data.record
    data.record = damaged
    with refused(r"in the record that the pieces' collection keeps.*try: build the pieces anew"):
        save(pipe, tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_damaged_numbers_of_places_are_refused(pipe: bpy.types.Object, tmp_path: Path) -> None:
    data = made_of(pipe).borewright_pieces
    document = json.loads(data.record)
    for stood in document["beds"][0]["places"]:
        stood["to_bed"] = np.eye(3).tolist()
    data.record = json.dumps(document)
    with refused(r"in the record that the pieces' collection keeps"):
        save(pipe, tmp_path / "out")
