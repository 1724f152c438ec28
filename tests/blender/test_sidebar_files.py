"""What a .blend keeps of the sidebar, and what becomes of a job when things change under it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import bpy
import pytest

from tests.blender.built_pieces import add_part, make_active, own
from tests.blender.conftest import EXTENSION, ROOT, blender_data
from tests.blender.scene_state import differences, scene_state
from tests.parts import plain_tube

OTHER_HOST = ROOT / ".venv-5.2" / "bin" / "python"
"""Where the newer of the two Blenders lies beside the checkout."""

READ = """
import json, sys
import bpy, addon_utils
extension, path, archive = sys.argv[1:4]
if archive:
    bpy.ops.extensions.package_install_files(
        filepath=archive, repo="user_default", enable_on_install=False)
assert addon_utils.enable(extension, default_set=True)
bpy.ops.wm.open_mainfile(filepath=path)
def plain(value):
    if hasattr(value, "bl_rna"):
        return group(value)
    return [plain(one) for one in value] if hasattr(value, "__iter__") and not isinstance(
        value, str) else value
def group(of):
    return {prop.identifier: plain(getattr(of, prop.identifier)) if not isinstance(
                getattr(of, prop.identifier), bpy.types.ID) else getattr(of, prop.identifier).name
            for prop in of.bl_rna.properties if prop.identifier not in ("rna_type", "name")}
kept = {
    "scene": group(bpy.context.scene.borewright),
    "objects": {one.name: [group(one.borewright), group(one.borewright_piece)]
                for one in bpy.data.objects},
    "collections": {one.name: group(one.borewright_pieces) for one in bpy.data.collections},
}
bpy.context.view_layer.objects.active = bpy.data.objects["Pipe-01"]
out = sys.argv[4]
if out:
    assert bpy.ops.borewright.save(directory=out) == {"FINISHED"}
    bpy.context.view_layer.objects.active = bpy.data.objects["Pipe"]
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    kept["cuts again"] = [[cut.station, cut.insisted]
                          for cut in bpy.data.objects["Pipe"].borewright.cuts]
print("KEPT" + json.dumps(kept))
"""


@pytest.fixture(autouse=True)
def _enabled(extension: ModuleType) -> None:
    assert extension.__name__ == EXTENSION


def surveyed(length: float = 300.0) -> bpy.types.Object:
    part = add_part(plain_tube(length=length).mesh, "Pipe")
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    return part


def another_value(group: Any, prop: Any) -> Any:
    """A value that the property has not and may have."""
    now = getattr(group, prop.identifier)
    if prop.type == "BOOLEAN":
        return not now
    if prop.type == "ENUM":
        return next(item.identifier for item in prop.enum_items if item.identifier != now)
    if prop.type == "STRING":
        return "somebody's own"
    if prop.type == "INT":
        return now + 1
    if getattr(prop, "is_array", False):
        return [one * 0.875 for one in now]
    low, high = max(prop.soft_min, prop.hard_min), min(prop.soft_max, prop.hard_max)
    return low + (min(high, low + 1.0) - low) * 0.4375


def set_all(group: Any, *, but: tuple[str, ...] = ()) -> dict[str, Any]:
    """Give each setting another value than its own; what they are then."""
    for prop in group.bl_rna.properties:
        if prop.identifier in {"rna_type", "name", *but} or prop.type in {"COLLECTION", "POINTER"}:
            continue
        before = _plain(getattr(group, prop.identifier))
        setattr(group, prop.identifier, another_value(group, prop))
        assert _plain(getattr(group, prop.identifier)) != before, prop.identifier
    return settings(group)


def settings(group: Any) -> dict[str, Any]:
    """All of a group."""
    return {
        prop.identifier: _plain(getattr(group, prop.identifier))
        for prop in group.bl_rna.properties
        if prop.identifier not in {"rna_type", "name"}
    }


def _plain(value: Any) -> Any:
    if isinstance(value, bpy.types.ID):
        return value.name
    if hasattr(value, "bl_rna") and hasattr(value, "keys") and not hasattr(value, "add"):
        return settings(value)
    if hasattr(value, "__iter__") and not isinstance(value, str):
        return [_plain(one) for one in value]
    return value


def all_kept() -> dict[str, Any]:
    return {
        "scene": settings(bpy.context.scene.borewright),
        "objects": {
            one.name: [settings(one.borewright), settings(one.borewright_piece)]
            for one in bpy.data.objects
        },
        "collections": {one.name: settings(one.borewright_pieces) for one in bpy.data.collections},
    }


def a_job_in_a_file(path: Path) -> dict[str, Any]:
    """Pieces, a seam insisted on, a stretch avoided, a station preferred, all else set."""
    part = surveyed()
    assert bpy.ops.borewright.move_cut(index=0, station=140.0) == {"FINISHED"}
    assert bpy.ops.borewright.add_avoid(start=60.0, stop=70.5) == {"FINISHED"}
    assert bpy.ops.borewright.add_prefer(station=143.0) == {"FINISHED"}
    assert bpy.ops.borewright.build() == {"FINISHED"}
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    other = add_part(plain_tube(length=240.0).mesh, "Post")
    set_all(other.borewright, but=("surveyed",))
    assert len(part.borewright.cuts) == 1
    bpy.ops.wm.save_as_mainfile(filepath=str(path))
    return all_kept()


def read_by(python: Path | str, path: Path, *, archive: str = "", out: str = "") -> Any:
    """What another process finds in a file."""
    environment = dict(os.environ)
    if archive:
        folder = path.parent / "another machine"
        folder.mkdir(exist_ok=True)
        environment["BLENDER_USER_RESOURCES"] = str(folder)
    done = subprocess.run(
        [str(python), "-c", READ, EXTENSION, str(path), archive, out],
        capture_output=True,
        timeout=120,
        check=False,
        env=environment,
    )
    said = done.stdout.decode()
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    return json.loads(said.partition("KEPT")[2].splitlines()[0])


def test_a_file_keeps_all_of_a_job_for_another_process(tmp_path: Path) -> None:
    path, out = tmp_path / "job.blend", tmp_path / "out"
    written = a_job_in_a_file(path)
    read = read_by(sys.executable, path, out=str(out))
    assert read.pop("cuts again") == [[140.0, True]]
    assert read == json.loads(json.dumps(written))
    assert {"Pipe-01.stl", "Pipe-02.stl", "job.json"} <= {one.name for one in out.iterdir()}


def test_the_newer_host_reads_what_the_older_one_saved(tmp_path: Path, archive: Path) -> None:
    if bpy.app.version >= (5, 0) or not OTHER_HOST.exists():
        pytest.skip("this is the newer Blender, or there is none beside the checkout")
    path, out = tmp_path / "job.blend", tmp_path / "out"
    written = a_job_in_a_file(path)
    read = read_by(OTHER_HOST, path, archive=str(archive), out=str(out))
    assert read.pop("cuts again") == [[140.0, True]]
    assert read == json.loads(json.dumps(written))
    assert {"Pipe-01.stl", "Pipe-02.stl", "job.json"} <= {one.name for one in out.iterdir()}


def test_every_setting_of_the_scene_is_kept_by_a_file(tmp_path: Path) -> None:
    path = str(tmp_path / "settings.blend")
    written = set_all(bpy.context.scene.borewright)
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert settings(bpy.context.scene.borewright) != written
    bpy.ops.wm.open_mainfile(filepath=path)
    assert settings(bpy.context.scene.borewright) == written


def test_settings_survive_the_extensions_being_disabled_meanwhile(
    tmp_path: Path, installed: str
) -> None:
    import addon_utils

    path = str(tmp_path / "job.blend")
    written = a_job_in_a_file(Path(path))
    addon_utils.disable(installed, default_set=True)
    bpy.ops.wm.open_mainfile(filepath=path)
    bpy.ops.wm.save_as_mainfile(filepath=path)
    addon_utils.enable(installed, default_set=True)
    bpy.ops.wm.open_mainfile(filepath=path)
    assert all_kept() == written


# The hand-over of a job, as `modal` makes it, after things have changed under it


class Reports:
    """What an operator would have reported."""

    def __init__(self) -> None:
        self.said: list[tuple[str, str]] = []

    def report(self, level: set[str], message: str) -> None:
        self.said.append((next(iter(level)), message))


def job(name: str) -> Any:
    """An operator's methods without Blender's own part, which only a window calls between."""
    kind = getattr(own(f"addon.operators.{name}"), f"BOREWRIGHT_OT_{name}")
    methods = {
        key: value
        for one in reversed(kind.__mro__)
        if one.__module__.startswith(EXTENSION)
        for key, value in vars(one).items()
        if callable(value) and not key.startswith("__")
    }
    return type("Job", (Reports,), {"joint_number": 1, **methods})()


def begun(name: str) -> tuple[Any, Any, Any]:
    """A job whose computation has just ended."""
    at_work = job(name)
    snapshot = at_work._timed_snapshot(bpy.context)  # noqa: SLF001 - what invoke calls
    return at_work, snapshot, at_work.compute(snapshot, lambda _stage: None)


def handed_over(at_work: Any, snapshot: Any, result: Any) -> set[str]:
    over: set[str] = at_work._timed_take_over(bpy.context, snapshot, result)  # noqa: SLF001
    return over


def ready_for(name: str) -> None:
    if name == "survey":
        add_part(plain_tube().mesh, "Pipe")
    else:
        surveyed()


@pytest.mark.parametrize("name", ["survey", "build"])
def test_a_part_that_was_deleted_meanwhile_is_told(name: str) -> None:
    ready_for(name)
    at_work, *of_it = begun(name)
    bpy.data.objects.remove(bpy.data.objects["Pipe"])
    before = scene_state()
    assert handed_over(at_work, *of_it) == {"CANCELLED"}
    ((level, said),) = at_work.said
    assert (level, "Pipe was deleted meanwhile" in said) == ("WARNING", True)
    assert not differences(before, scene_state())


@pytest.mark.parametrize("name", ["survey", "build", "trial"])
def test_another_file_that_was_loaded_meanwhile_gets_nothing_of_the_old_one(
    name: str, tmp_path: Path
) -> None:
    path = str(tmp_path / "other.blend")
    add_part(plain_tube(length=240.0).mesh, "Pipe")
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    ready_for(name)
    at_work, *of_it = begun(name)
    bpy.ops.wm.open_mainfile(filepath=path)
    other = bpy.data.objects["Pipe"]
    assert own("addon.surveys.found").found_of(other) is None
    if name != "trial":  # rings are of sizes, whatever became of the part
        before = scene_state()
        assert handed_over(at_work, *of_it) == {"CANCELLED"}
        assert not differences(before, scene_state())
    assert own("addon.surveys.found").found_of(other) is None


def test_a_mesh_that_changed_while_it_was_surveyed_is_told_and_stale() -> None:
    part = add_part(plain_tube().mesh, "Pipe")
    at_work, *of_it = begun("survey")
    change(part)
    assert handed_over(at_work, *of_it) == {"FINISHED"}
    ((level, said),) = at_work.said
    assert (level, "changed meanwhile; survey it again" in said) == ("WARNING", True)
    assert own("addon.surveys.found").found_of(part).stale


def test_a_mesh_that_changed_while_its_pieces_were_built_gets_none() -> None:
    part = surveyed()
    at_work, *of_it = begun("build")
    change(part)
    before = scene_state()
    assert handed_over(at_work, *of_it) == {"CANCELLED"}
    ((level, said),) = at_work.said
    assert (level, "changed meanwhile; build its pieces again" in said) == ("WARNING", True)
    assert not differences(before, scene_state())


def change(part: bpy.types.Object) -> None:
    for vertex in part.data.vertices:
        vertex.co.z *= 1.1
    part.data.update()
    bpy.context.view_layer.update()


@pytest.mark.parametrize("name", ["build", "trial", "plan"])
def test_a_mesh_that_changed_since_its_survey_is_surveyed_again(name: str) -> None:
    part = surveyed()
    change(part)
    assert getattr(bpy.ops.borewright, name)() == {"FINISHED"}
    found = own("addon.surveys.found").found_of(part)
    assert found.parts[0].known.survey.length == pytest.approx(330.0, abs=1e-3)
    if name == "build":
        heights = [one.dimensions.z for one in bpy.data.objects if one.borewright_piece.number]
        (joint,) = found.parts[0].planned.plan.joints
        tops = sum(heights) - 330.0
        assert tops == pytest.approx(joint.tenons[0].engagement, abs=1e-3)


@pytest.mark.parametrize("name", ["build", "trial", "plan"])
def test_a_mesh_that_is_empty_by_now_is_refused(name: str) -> None:
    surveyed().data.clear_geometry()
    before = scene_state()
    with pytest.raises(RuntimeError, match="0 triangles"):
        getattr(bpy.ops.borewright, name)()
    assert not differences(before, scene_state())


def test_pieces_of_a_part_that_was_deleted_can_still_be_saved(tmp_path: Path) -> None:
    part = surveyed()
    bpy.ops.borewright.build()
    bpy.data.objects.remove(part)
    make_active(bpy.data.objects["Pipe-02"])
    assert bpy.ops.borewright.save(directory=str(tmp_path / "out")) == {"FINISHED"}
    with pytest.raises(RuntimeError, match=r"piece was made of is gone: make another part active"):
        bpy.ops.borewright.survey()


def test_a_piece_that_is_being_edited_is_not_saved_as_proven(tmp_path: Path) -> None:
    surveyed()
    bpy.ops.borewright.build()
    bpy.ops.object.mode_set(mode="EDIT")
    bpy.ops.mesh.select_all(action="SELECT")
    bpy.ops.transform.resize(value=(1.0, 1.0, 0.5))
    with pytest.raises(RuntimeError, match="not those that were proven"):
        bpy.ops.borewright.save(directory=str(tmp_path / "out"))
    assert not (tmp_path / "out").exists()


def test_a_file_that_is_loaded_holds_nothing_of_an_earlier_scene(tmp_path: Path) -> None:
    surveyed()
    bpy.ops.borewright.build()
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert not any(blender_data()[kind] for kind in ("objects", "meshes", "materials"))
    assert not own("addon.surveys.found").kept_objects()
    with pytest.raises(RuntimeError, match="Build pieces first"):
        bpy.ops.borewright.save(directory=str(tmp_path / "out"))
