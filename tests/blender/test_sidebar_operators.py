"""Every operator as a script has it: when it is greyed and why, what it changes, undo and redo.

`OPERATORS` has an entry for each; what was registered without one fails the first test.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import bpy
import pytest
import trimesh

from tests.blender.built_pieces import add_part, make_active, own
from tests.blender.conftest import EXTENSION
from tests.blender.scene_state import differences, scene_state
from tests.parts import plain_tube

NO_MESH = "Make a mesh object active"
OBJECT_MODE = "Switch to Object Mode"
EITHER_MODE = "Switch to Object Mode or Edit Mode"
NOT_SURVEYED = "Survey the part first"
STALE = "Survey the part again: its mesh or place has changed since"
BUSY = "Wait for the work that goes on, or cancel it with Esc"
LINKED = "The object is linked from another file: make it local"
NO_PROBLEM = "No problem with a place is known of the active object"
NOT_BUILT = "Build pieces first, then make one of them or the part active"
NO_PIECES = "Build pieces first"
GONE = "The part that this piece was made of is gone: make another part active"
NO_CUT = "There is no seam"
NEEDED = "It is one of the fewest seams that the part needs: move it, or add one elsewhere first"
NO_STRETCH = "No stretch is avoided"
NO_STATION = "No station is preferred"
NO_PRINTER = "Choose a kept printer"

Arguments = dict[str, Any]
Ready = Callable[[Path], Arguments]


def part(length: float = 300.0) -> bpy.types.Object:
    made = add_part(plain_tube(length=length).mesh, "Pipe")
    made["note"] = bpy.context.scene["note"] = "somebody's own"
    return made


def surveyed(length: float = 300.0) -> bpy.types.Object:
    source = part(length)
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    return source


def built() -> bpy.types.Object:
    source = surveyed()
    assert bpy.ops.borewright.build() == {"FINISHED"}
    return source


def asked() -> Any:
    return bpy.context.scene.borewright


# What stands before each operator that it can do, and arguments for it


def for_survey(_folder: Path) -> Arguments:
    part()
    return {}


def for_plan(_folder: Path) -> Arguments:
    surveyed()
    asked().envelope = (180.0, 180.0, 120.0)
    return {}


def for_build(_folder: Path) -> Arguments:
    surveyed()
    return {}


def for_save(folder: Path) -> Arguments:
    built()
    return {"directory": str(folder / "out")}


def for_open_sheet(_folder: Path) -> Arguments:
    built()
    return {}


def for_show_place(_folder: Path) -> Arguments:
    add_part(skinned(), "Skinned")
    with pytest.raises(RuntimeError, match="found: "):
        bpy.ops.borewright.survey()
    return {}


def for_show_part(_folder: Path) -> Arguments:
    built()
    return {"pieces": False}


def for_split(_folder: Path) -> Arguments:
    part()
    return {"unit": "MM"}


def for_remove_cut(_folder: Path) -> Arguments:
    surveyed()
    assert bpy.ops.borewright.add_cut() == {"FINISHED"}
    return {"index": 0}


def for_move_cut(_folder: Path) -> Arguments:
    surveyed()
    return {"index": 0, "station": 140.0}


def for_add_avoid(_folder: Path) -> Arguments:
    source = surveyed()
    station = source.borewright.cuts[0].station
    return {"start": station - 5.0, "stop": station + 5.0}


def for_remove_avoid(folder: Path) -> Arguments:
    assert bpy.ops.borewright.add_avoid(**for_add_avoid(folder)) == {"FINISHED"}
    return {"index": 0}


def for_add_prefer(_folder: Path) -> Arguments:
    source = surveyed()
    return {"station": source.borewright.cuts[0].station + 20.0}


def for_remove_prefer(folder: Path) -> Arguments:
    assert bpy.ops.borewright.add_prefer(**for_add_prefer(folder)) == {"FINISHED"}
    return {"index": 0}


def for_choose_printer(_folder: Path) -> Arguments:
    asked().nozzle = 0.6
    assert bpy.ops.borewright.save_printer(name="mini") == {"FINISHED"}
    asked().nozzle = 0.4
    asked().profile = ""
    return {"name": "mini"}


def for_save_printer(_folder: Path) -> Arguments:
    return {"name": "mini"}


def for_remove_printer(folder: Path) -> Arguments:
    assert bpy.ops.borewright.choose_printer(**for_choose_printer(folder)) == {"FINISHED"}
    return {"name": "mini"}


# What it refuses


def an_empty_mesh(_folder: Path) -> Arguments:
    surveyed().data.clear_geometry()
    return {}


def a_printer_that_is_gone(_folder: Path) -> Arguments:
    surveyed()
    asked().profile = "nobody"
    return {}


def too_small_an_envelope(_folder: Path) -> Arguments:
    surveyed().borewright.pieces = 2
    asked().envelope = (10.0, 10.0, 180.0)
    return {}


def more_pieces_and_too_small_an_envelope(folder: Path) -> Arguments:
    too_small_an_envelope(folder)
    return {}


def no_folder(_folder: Path) -> Arguments:
    built()
    return {}


def a_folder_of_somebody(folder: Path) -> Arguments:
    built()
    (folder / "job.json").write_text("mine")
    return {"directory": str(folder)}


def the_ninth_joint(_folder: Path) -> Arguments:
    surveyed()
    return {"joint_number": 9}


def the_ninth_place(folder: Path) -> Arguments:
    return {**for_show_place(folder), "number": 9}


def a_narrow_envelope(folder: Path) -> Arguments:
    return {**for_split(folder), "envelope": (10.0, 10.0, 180.0)}


def the_ninth_body(_folder: Path) -> Arguments:
    surveyed()
    return {"body": 8}


def no_room_for_a_cut(_folder: Path) -> Arguments:
    surveyed().borewright.pieces = 2
    for _ in range(30):
        try:
            bpy.ops.borewright.add_cut()
        except RuntimeError:
            break
    return {}


def a_cut_that_is_needed(_folder: Path) -> Arguments:
    surveyed()
    return {"index": 0}


def one_that_is_needed_of_two(_folder: Path) -> Arguments:
    source = surveyed(450.0)
    source.borewright.cuts[0].insisted = True
    assert bpy.ops.borewright.plan() == {"FINISHED"}
    return {"index": 1}


def the_ninth_of_two(folder: Path) -> Arguments:
    for_remove_cut(folder)
    return {"index": 8}


def the_ninth_cut(_folder: Path) -> Arguments:
    surveyed()
    return {"index": 8}


def a_stretch_upside_down(_folder: Path) -> Arguments:
    surveyed()
    return {"start": 150.0, "stop": 140.0}


def all_of_the_part(_folder: Path) -> Arguments:
    surveyed()
    return {"start": 0.0, "stop": 300.0}


def the_ninth_stretch(folder: Path) -> Arguments:
    for_remove_avoid(folder)
    return {"index": 8}


def the_ninth_station(folder: Path) -> Arguments:
    for_remove_prefer(folder)
    return {"index": 8}


def seams_at_no_station(folder: Path) -> Arguments:
    return {**for_split(folder), "seams": "150, here"}


def a_seam_beyond_the_part(folder: Path) -> Arguments:
    return {**for_split(folder), "seams": "400"}


def stretches_upside_down(folder: Path) -> Arguments:
    return {**for_split(folder), "avoid": "20-10"}


def nobody(_folder: Path) -> Arguments:
    return {"name": "nobody"}


def nobody_where_one_is_chosen(folder: Path) -> Arguments:
    for_remove_printer(folder)
    return {"name": "nobody"}


def no_file_name(_folder: Path) -> Arguments:
    return {"name": "a/b"}


@dataclass(frozen=True)
class Operator:
    """What is promised of one.

    ready : brings the scene to where it can do
    refused : what it refuses, each with a pattern of what it says
    greyed : in which state, and why; in all other states it is not
    changes : whether it changes what is open, which undo takes back
    """

    ready: Ready
    refused: tuple[tuple[Ready, str], ...]
    greyed: dict[str, str]
    changes: bool = True


_ON_MESH = {"orphaned": GONE, "empty": NO_MESH, "camera": NO_MESH, "busy": BUSY, "linked": LINKED}
_IN_MODES = {**_ON_MESH, "sculpted": EITHER_MODE}
_IN_OBJECT_MODE = {**_ON_MESH, "sculpted": OBJECT_MODE, "edited": OBJECT_MODE}
_SURVEYED = {"bare": NOT_SURVEYED, "linked mesh": NOT_SURVEYED}
_CUTS = {**_IN_OBJECT_MODE, **_SURVEYED, "stale": STALE}

OPERATORS = {
    "survey": Operator(for_survey, ((an_empty_mesh, "0 triangles"),), _IN_MODES),
    "plan": Operator(for_plan, ((a_printer_that_is_gone, "nobody"),), {**_IN_MODES, **_SURVEYED}),
    "build": Operator(
        for_build,
        ((too_small_an_envelope, "found: .*needed: .*try: "), (a_printer_that_is_gone, "nobody")),
        {**_IN_OBJECT_MODE, **_SURVEYED},
    ),
    "save": Operator(
        for_save,
        ((no_folder, "No folder is given"), (a_folder_of_somebody, "found: .*needed: .*try: ")),
        {
            **dict.fromkeys(("empty", "camera", "bare", "surveyed", "uncut", "edited", "sculpted",
                             "stale", "busy", "linked", "linked mesh"), NOT_BUILT),
        },
        changes=False,
    ),
    "open_sheet": Operator(
        for_open_sheet,
        (),
        {
            **dict.fromkeys(("empty", "camera", "bare", "surveyed", "uncut", "edited", "sculpted",
                             "stale", "busy", "linked", "linked mesh"), NOT_BUILT),
        },
        changes=False,
    ),
    "trial": Operator(
        for_build,
        ((the_ninth_joint, "joints"), (too_small_an_envelope, "found: .*needed: .*try: ")),
        {**_IN_OBJECT_MODE, **_SURVEYED},
    ),
    "show_place": Operator(
        for_show_place,
        ((the_ninth_place, "there are 1"),),
        {
            **dict.fromkeys(("bare", "surveyed", "uncut", "edited", "stale", "linked mesh", "built",
                             "written"), NO_PROBLEM),
            **_IN_MODES,
        },
    ),
    "show_part": Operator(
        for_show_part,
        (),
        {
            **dict.fromkeys(("bare", "surveyed", "uncut", "stale", "linked mesh"), NO_PIECES),
            **_IN_OBJECT_MODE,
        },
    ),
    "split": Operator(
        for_split,
        (
            (a_narrow_envelope, "found: .*needed: "),
            (seams_at_no_station, "found: 'here' under Seams At; needed: stations in mm .*try: "),
            (a_seam_beyond_the_part, "found: a seam at 400; needed: "),
            (stretches_upside_down, "found: '20-10' under Avoid; needed: .*the lower first.*try: "),
        ),
        _IN_OBJECT_MODE,
    ),
    "add_cut": Operator(
        for_build, ((the_ninth_body, "line 8"), (no_room_for_a_cut, "found: .*needed: ")), _CUTS
    ),
    "remove_cut": Operator(
        for_remove_cut,
        (
            (a_cut_that_is_needed, "one of the fewest"),
            (one_that_is_needed_of_two, "one of the fewest"),
            (the_ninth_of_two, "line 8"),
        ),
        {**_CUTS, "uncut": NO_CUT, "surveyed": NEEDED, "built": NEEDED},
    ),
    "insist_cut": Operator(
        for_build, ((the_ninth_cut, "line 8"),), {**_CUTS, "uncut": NO_CUT}
    ),
    "move_cut": Operator(
        for_move_cut, ((the_ninth_cut, "line 8"),), {**_CUTS, "uncut": NO_CUT}
    ),
    "add_avoid": Operator(
        for_add_avoid,
        ((a_stretch_upside_down, "150.00 to 140.00"), (all_of_the_part, "found: .*needed: ")),
        _CUTS,
    ),
    "remove_avoid": Operator(
        for_remove_avoid,
        ((the_ninth_stretch, "line 8"),),
        {**dict.fromkeys(("surveyed", "uncut", "built"), NO_STRETCH), **_CUTS},
    ),
    "add_prefer": Operator(for_add_prefer, (), _CUTS),
    "remove_prefer": Operator(
        for_remove_prefer,
        ((the_ninth_station, "line 8"),),
        {**dict.fromkeys(("surveyed", "uncut", "built"), NO_STATION), **_CUTS},
    ),
    "choose_printer": Operator(for_choose_printer, ((nobody, "nobody"),), {}),
    "save_printer": Operator(for_save_printer, ((no_file_name, "a/b"),), {}),
    "remove_printer": Operator(
        for_remove_printer,
        ((nobody_where_one_is_chosen, "nobody"),),
        dict.fromkeys(("empty", "camera", "bare", "surveyed", "uncut", "edited", "sculpted",
                       "stale", "busy", "linked", "linked mesh", "built", "orphaned"), NO_PRINTER),
    ),
}  # fmt: skip
"""By name."""


# States that the scene can be in


def camera() -> None:
    data = bpy.data.cameras.new("Camera")
    made = bpy.data.objects.new("Camera", data)
    bpy.context.scene.collection.objects.link(made)
    make_active(made)


def in_mode(mode: str) -> None:
    surveyed()
    bpy.ops.object.mode_set(mode=mode)


def stale() -> None:
    source = surveyed()
    source.location.x = 5.0
    bpy.context.view_layer.update()
    found = own("addon.surveys.found")
    found.look_again(bpy.context, source, found.found_of(source))


@contextlib.contextmanager
def busy() -> Iterator[None]:
    """As while a job goes on in its thread."""
    surveyed()
    running = own("addon.work.modal_work")._running  # noqa: SLF001 - no job goes on without a window
    work = own("addon.work.worker").Work(lambda _progress: None)
    running.append(SimpleNamespace(work=work))
    try:
        yield
    finally:
        running.clear()


def library(folder: Path) -> str:
    path = str(folder / "library.blend")
    part()
    bpy.ops.wm.save_as_mainfile(filepath=path)
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    return path


def linked(folder: Path) -> None:
    path = library(folder)
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.objects = ["Pipe"]
    bpy.context.scene.collection.objects.link(bpy.data.objects["Pipe"])
    make_active(bpy.data.objects["Pipe"])


def linked_mesh(folder: Path) -> None:
    path = library(folder)
    with bpy.data.libraries.load(path, link=True) as (_, wanted):
        wanted.meshes = ["Pipe"]
    local = bpy.data.objects.new("Local", bpy.data.meshes["Pipe"])
    bpy.context.scene.collection.objects.link(local)
    make_active(local)


def printer_kept() -> None:
    bpy.ops.borewright.save_printer(name="mini")
    built()


STATES: dict[str, Callable[[Path], object]] = {
    "empty": lambda _: None,
    "camera": lambda _: camera(),
    "bare": lambda _: part(),
    "surveyed": lambda _: surveyed(),
    "uncut": lambda _: surveyed(150.0),
    "edited": lambda _: in_mode("EDIT"),
    "sculpted": lambda _: in_mode("SCULPT"),
    "stale": lambda _: stale(),
    "busy": lambda _: busy(),
    "linked": linked,
    "linked mesh": linked_mesh,
    "built": lambda _: built(),
    "orphaned": lambda _: bpy.data.objects.remove(built()),
}


@pytest.fixture(autouse=True)
def _printers(extension: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert extension.__name__ == EXTENSION
    monkeypatch.setenv("BOREWRIGHT_PROFILES", str(tmp_path / "printers"))


def skinned() -> trimesh.Trimesh:
    """A tube without the skin of half its outside."""
    whole = plain_tube().mesh
    reach = (whole.triangles[:, :, :2] ** 2).sum(axis=2).min(axis=1)
    whole.update_faces((reach < 12.5**2) | (whole.triangles_center[:, 0] < 0.0))
    return whole


def operator(name: str) -> Callable[..., set[str]]:
    made: Callable[..., set[str]] = getattr(bpy.ops.borewright, name)
    return made


def test_every_operator_has_its_promises_here() -> None:
    assert set(dir(bpy.ops.borewright)) == set(OPERATORS)


@pytest.mark.parametrize("state", STATES)
def test_what_is_greyed_says_why(state: str, tmp_path: Path) -> None:
    said: dict[str, str | None] = {}
    entered = STATES[state](tmp_path)
    with entered if isinstance(entered, contextlib.AbstractContextManager) else open_state():
        for name in OPERATORS:
            said[name] = None if operator(name).poll() else why_greyed(name)
    assert said == {name: promise.greyed.get(state) for name, promise in OPERATORS.items()}


@contextlib.contextmanager
def open_state() -> Iterator[None]:
    yield


def why_greyed(name: str) -> str:
    """What its greyed button says, by the call that it refuses."""
    with pytest.raises(RuntimeError) as told:
        operator(name)()
    call, _, message = str(told.value).strip().partition(".poll() ")
    assert call == f"Operator bpy.ops.borewright.{name}"
    return message


def test_a_problem_of_a_linked_mesh_is_not_shown_by_selecting_in_it(tmp_path: Path) -> None:
    linked_mesh(tmp_path)
    bpy.context.active_object.scale = (1.0, 1.0, 9.0)
    bpy.context.view_layer.update()
    problems = own("addon.surveys.found")
    refusal = problems.Refused(own("core.errors").BadMesh("1", "0", "mend it"), 1.0)
    refusal.problem.places = ((0.0, 0.0, 0.0),)
    problems.keep_refusal(bpy.context.active_object, refusal)
    assert why_greyed("show_place") == "Make the linked mesh local first"


def test_a_problem_is_shown_on_the_part_while_one_of_its_pieces_is_edited() -> None:
    source = built()
    problem = own("core.errors").BadMesh("1", "0", "mend it")
    problem.places = ((0.0, 13.0, 300.0),)
    own("addon.surveys.found").keep_refusal(
        source, own("addon.surveys.found").Refused(problem, 1.0)
    )
    piece = bpy.context.active_object
    bpy.ops.object.mode_set(mode="EDIT")
    assert bpy.ops.borewright.show_place() == {"FINISHED"}
    assert (source.mode, piece.mode, bpy.context.active_object) == ("EDIT", "OBJECT", source)
    source.update_from_editmode()
    chosen = [face for face in source.data.polygons if face.select]
    assert chosen
    assert all(face.center.z > 0.0 for face in chosen)
    ends = [source.data.vertices[one].co.z for face in chosen for one in face.vertices]
    assert max(ends) == pytest.approx(300.0)


@pytest.mark.parametrize("name", ["add_avoid", "add_cut", "add_prefer", "move_cut"])
def test_cuts_of_a_part_that_has_changed_are_refused_before_anybody_has_looked(name: str) -> None:
    source = surveyed()
    source.data.vertices[0].co.z -= 50.0
    source.data.update()
    before = scene_state()
    with pytest.raises(RuntimeError, match="Survey Part again"):
        operator(name)("EXEC_DEFAULT")
    assert not differences(before, scene_state())


CHANGING = [name for name, promise in OPERATORS.items() if promise.changes]


@pytest.mark.parametrize("name", OPERATORS)
def test_a_script_can_call_it(name: str, tmp_path: Path) -> None:
    arguments = OPERATORS[name].ready(tmp_path)
    before = scene_state()
    assert operator(name)("EXEC_DEFAULT", **arguments) == {"FINISHED"}
    assert bool(differences(before, scene_state())) == OPERATORS[name].changes


@pytest.mark.parametrize("name", CHANGING)
def test_one_undo_takes_it_back_and_redo_brings_it_again(name: str, tmp_path: Path) -> None:
    arguments = OPERATORS[name].ready(tmp_path)
    bpy.ops.ed.undo_push(message="Ready")
    before = scene_state()
    assert operator(name)("EXEC_DEFAULT", True, **arguments) == {"FINISHED"}
    after = scene_state()
    bpy.ops.ed.undo()
    assert not differences(before, scene_state())
    bpy.ops.ed.redo()
    assert not differences(after, scene_state())


REFUSED = [
    pytest.param(name, ready, pattern, id=f"{name}-{ready.__name__}")
    for name, promise in OPERATORS.items()
    for ready, pattern in promise.refused
]


@pytest.mark.parametrize(("name", "ready", "pattern"), REFUSED)
def test_what_it_refuses_leaves_all_as_it_was(
    name: str, ready: Ready, pattern: str, tmp_path: Path
) -> None:
    arguments = ready(tmp_path)
    before = scene_state()
    with pytest.raises(RuntimeError, match=pattern):
        operator(name)("EXEC_DEFAULT", **arguments)
    assert not differences(before, scene_state())


def test_of_the_lists_lines_only_that_of_a_cut_that_is_needed_greys_the_button() -> None:
    source = part(450.0)
    bpy.ops.borewright.survey()
    source.borewright.cuts[0].insisted = True
    bpy.ops.borewright.plan()
    insisted, needed = source.borewright.cuts
    assert (insisted.insisted, needed.insisted) == (True, False)
    with (
        bpy.context.temp_override(borewright_cut=needed),
        pytest.raises(RuntimeError, match=NEEDED),
    ):
        bpy.ops.borewright.remove_cut()
    with bpy.context.temp_override(borewright_cut=insisted):
        assert bpy.ops.borewright.remove_cut.poll()


@pytest.mark.parametrize("kind", ["FONT", "CURVE", "SURFACE", "META"])
def test_what_can_be_made_a_mesh_is_told_to_be(kind: str) -> None:
    made = {
        "FONT": bpy.ops.object.text_add,
        "CURVE": bpy.ops.curve.primitive_bezier_circle_add,
        "SURFACE": bpy.ops.surface.primitive_nurbs_surface_torus_add,
        "META": bpy.ops.object.metaball_add,
    }[kind]
    made()
    assert bpy.context.object.type == kind
    hint = f"{bpy.context.object.name} is no mesh: convert it by Object > Convert > Mesh"
    for name in ("survey", "add_cut", "show_part"):
        with pytest.raises(RuntimeError, match=hint):
            operator(name)()
