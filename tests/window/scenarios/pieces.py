"""Finished pieces: assembled, moved apart by the slider, on their beds, and taken back by a key."""

from __future__ import annotations

import bpy

from tests.window.buttons import TAB, enter_value, find_property, open_tab
from tests.window.hands import click, press
from tests.window.session import Session
from tests.window.steps import Steps, turns, until


def steps(session: Session) -> Steps:
    name = session.import_part().name
    with session.in_viewport():
        bpy.ops.borewright.split(envelope=(60.0, 60.0, 150.0), unit="MM")
    bpy.ops.ed.undo_push(message="Split")
    yield from until(lambda: f"{name} Pieces" in bpy.data.collections, "pieces")
    yield from turns(5)
    assert bpy.data.objects[name].hide_get()
    yield from see_all(session)
    yield from session.picture("assembled")
    yield from open_tab(session, "Borewright")
    yield from enter_value(session, "explode", "40")
    assert bpy.data.objects[name].borewright.explode == 40.0
    last = max(shown.name for shown in bpy.data.objects)
    high = bpy.data.objects[last].matrix_world.translation.z
    yield from see_all(session)
    yield from session.picture("apart")
    yield from press("Z", ctrl=True)
    yield from until(lambda: bpy.data.objects[name].borewright.explode == 0.0, "undo")
    assert bpy.data.objects[last].matrix_world.translation.z != high
    yield from click_on_bed(session)
    yield from until(lambda: bpy.data.objects[name].borewright.place == "BED", "on beds")
    yield from see_all(session)
    yield from session.picture("on-beds")


def click_on_bed(session: Session) -> Steps:
    """The last of the buttons of where pieces stand, in the upper half of what may be half seen."""
    _, y = yield from find_property(session, "place")
    sidebar = session.region("UI")
    yield from click((sidebar.x + sidebar.width - TAB - 30, y + 5))


def see_all(session: Session) -> Steps:
    with session.in_viewport():
        bpy.ops.view3d.view_all()
    yield from turns(10)
