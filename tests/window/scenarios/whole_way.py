"""The whole way as a modeller goes it: from the imported part to the saved folder, and back.

By mouse and keys. Undo takes all of it back at the end, and Esc cancels a run.
"""

from __future__ import annotations

import json
import webbrowser
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import url2pathname

import bpy

from tests.window.buttons import (
    TAB,
    click_operator,
    click_property,
    enter_value,
    find_button,
    find_property,
    open_tab,
)
from tests.window.hands import Place, click, drag, let_go, move, press, type_text
from tests.window.plan_on_screen import handle_place, own, see_upright
from tests.window.session import Session
from tests.window.steps import Steps, pause, turns, until
from tests.window.themes import set_light_theme

ENVELOPE = ("210", "210", "200")
FIELD = 20
"""Pixels from one of its fields to the next."""


def steps(session: Session) -> Steps:
    name = session.import_part().name
    yield from open_tab(session, "Borewright")
    yield from session.picture("01-imported")
    yield from set_the_envelope(session)
    yield from survey_the_part(session, name)
    yield from look_at_the_cuts(session, name)
    yield from drag_a_cut(session, name)
    yield from look_at_the_section(session, name)
    yield from build_the_pieces(session, name)
    yield from move_them_apart(session, name)
    yield from open_their_sheet(session, "temporary")
    yield from save_them(session)
    yield from open_their_sheet(session, str(session.out / "pieces" / "sheet.html"))
    set_light_theme()
    yield from session.picture("11-light-saved")
    yield from go_back_to_the_part(session, name)
    yield from take_all_back(session, name)
    yield from cancel_a_run(session, name)


def part_of(name: str) -> bpy.types.Object:
    """The part, as undo left it."""
    return bpy.data.objects[name]


def cuts(name: str) -> list[tuple[float, bool]]:
    return [(round(cut.station, 3), cut.insisted) for cut in part_of(name).borewright.cuts]


def idle() -> bool:
    return own("work.modal_work").running_stage() is None


def set_the_envelope(session: Session) -> Steps:
    """Typed: Tab goes from one field to the next."""
    x, y = yield from find_property(session, "envelope")
    yield from move((x, y + FIELD))  # what is found is the middle of all three
    yield from turns(3)
    yield from press("RET")
    for number, length in enumerate(ENVELOPE):
        yield from press("A", ctrl=True)
        yield from type_text(length)
        yield from press("TAB" if number < len(ENVELOPE) - 1 else "RET")
    yield from turns(3)
    assert tuple(bpy.context.scene.borewright.envelope) == tuple(map(float, ENVELOPE))


def survey_the_part(session: Session, name: str) -> Steps:
    yield from click_operator(session, "borewright.survey")
    yield from until(lambda: len(cuts(name)) and idle(), "cuts")
    yield from move(session.middle())
    yield from session.picture("02-surveyed")


def look_at_the_cuts(session: Session, name: str) -> Steps:
    """Upright, from the front; the panel scrolled to its cuts."""
    yield from see_upright(session, part_of(name))
    assert len(cuts(name)) == 2
    yield from find_property(session, "station")
    yield from session.picture("03-cuts")


def drag_a_cut(session: Session, name: str) -> Steps:
    station, _ = cuts(name)[0]
    yield from drag(*two_places(session, name, station, station - 6.0), release=False)
    assert own("cuts.cut_drag").current_drag(part_of(name)) is not None, (
        "the handle was not taken hold of"
    )
    yield from session.picture("04-dragging")
    yield from let_go()
    yield from until(lambda: cuts(name)[0][1], "cut that is insisted on")
    session.note(f"dragged from {station} to {cuts(name)[0][0]}")
    yield from session.picture("05-dragged")
    second = lambda seen: seen.call == "bpy.ops.borewright.insist_cut(index=1)"  # noqa: E731
    yield from click((yield from find_button(session, second, "the second cut's place")))
    yield from until(lambda: cuts(name)[1][1], "second cut that is insisted on")


def look_at_the_section(session: Session, name: str) -> Steps:
    yield from click_property(session, "show_section")
    yield from until(lambda: bpy.context.scene.borewright.show_section, "section")
    yield from move(session.middle())
    yield from see_joint(session, name)
    yield from session.picture("06-section")
    bpy.context.scene.borewright.show_section = False
    yield from see_upright(session, part_of(name))


def build_the_pieces(session: Session, name: str) -> Steps:
    yield from click_operator(session, "borewright.build")
    yield from until(lambda: f"{name} Pieces" in bpy.data.collections and idle(), "pieces")
    yield from move(session.middle())
    yield from session.picture("07-built")


def move_them_apart(session: Session, name: str) -> Steps:
    yield from enter_value(session, "explode", "40")
    assert part_of(name).borewright.explode == 40.0
    yield from session.picture("08-apart")
    _, y = yield from find_property(session, "place")
    sidebar = session.region("UI")
    yield from click((sidebar.x + sidebar.width - TAB - 30, y + 5))
    yield from until(lambda: part_of(name).borewright.place == "BED", "pieces on beds")
    yield from see_all(session)
    yield from session.picture("09-on-beds")


class NotedBrowser(webbrowser.BaseBrowser):
    """Stands in for the system's browser: notes what it is to open."""

    def __init__(self) -> None:
        super().__init__("noted")
        self.opened: list[str] = []

    def open(self, url: str, new: int = 0, autoraise: bool = True) -> bool:  # noqa: FBT001, FBT002
        del new, autoraise
        self.opened.append(url)
        return True


def open_their_sheet(session: Session, where: str) -> Steps:
    """By its button; the file is there and whole."""
    browser = NotedBrowser()
    webbrowser.register("noted", None, browser, preferred=True)
    yield from click_operator(session, "borewright.open_sheet")
    yield from until(lambda: browser.opened, "sheet that is opened")
    (url,) = browser.opened
    path = Path(url2pathname(urlsplit(url).path))
    assert path.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert str(path) == where or (where == "temporary" and path.is_relative_to(bpy.app.tempdir))
    session.note(f"sheet opened: {path.name}, {where}")
    yield from session.picture(f"sheet-{path.name}")


def save_them(session: Session) -> Steps:
    """Into the scene's folder: pieces, beds, sheet and record."""
    folder = session.out / "pieces"
    bpy.context.scene.borewright.folder = str(folder)
    yield from click_operator(session, "borewright.save")
    yield from until((folder / "job.json").exists, "saved job")
    yield from session.picture("10-saved")
    names = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
    session.note("saved: " + ", ".join(names))
    check_folder(folder, names)


def check_folder(folder: Path, names: list[str]) -> None:
    record = json.loads((folder / "job.json").read_text(encoding="utf-8"))
    assert sum(name.endswith(".stl") for name in names) == 3, names
    assert "sheet.html" in names, names
    assert any(name.endswith(".3mf") for name in names), names
    assert record, "an empty record"


def take_all_back(session: Session, name: str) -> Steps:
    """Undo, until the part stands there as it was imported."""
    yield from move(session.middle())
    count = 0
    while f"{name} Pieces" in bpy.data.collections or len(part_of(name).borewright.cuts):
        assert count < 40, "undo does not come to an end"
        count += 1
        yield from press("Z", ctrl=True)
        yield from turns(5)
    session.note(f"undone {count} times")
    assert not part_of(name).hide_get()
    assert not len(part_of(name).borewright.cuts)
    yield from session.picture("13-undone")


def go_back_to_the_part(session: Session, name: str) -> Steps:
    yield from click_operator(session, "borewright.show_part")
    yield from until(lambda: not part_of(name).hide_get(), "the part itself")
    assert all(piece.hide_get() for piece in bpy.data.collections[f"{name} Pieces"].objects)
    yield from see_upright(session, part_of(name))
    yield from session.picture("12-light-part")


def cancel_a_run(session: Session, name: str) -> Steps:
    yield from click_operator(session, "borewright.survey")
    yield from press("ESC")
    yield from until(idle, "end of the run")
    assert own("surveys.found").found_of(part_of(name)) is None, "a cancelled survey was kept"
    yield from session.picture("14-cancelled")


def see_joint(session: Session, name: str) -> Steps:
    """The first joint, square to the plane of the section."""
    found = own("surveys.found").found_of(part_of(name))
    scale = found.source.scale_to_mm
    axis = own("cuts.axis_in_scene").axis_in_scene(found.parts[0].known.exact.frame, scale)
    view = session.viewport().spaces.active.region_3d
    view.view_location = axis.point(found.parts[0].planned.plan.joints[0].station + 4.0)
    view.view_distance = 70.0 / scale
    yield from pause(0.6)


def see_all(session: Session) -> Steps:
    with session.in_viewport():
        bpy.ops.view3d.view_all()
    yield from turns(10)


def two_places(session: Session, name: str, *stations: float) -> tuple[Place, ...]:
    return tuple(handle_place(session, part_of(name), station) for station in stations)
