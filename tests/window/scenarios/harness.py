"""The harness itself, on panels of its own: what it says it did must have happened."""

from __future__ import annotations

import time

import bpy

from tests.window.buttons import (
    click_operator,
    click_property,
    enter_value,
    find_operator,
    open_panel,
    open_tab,
)
from tests.window.gaps import measured_gaps
from tests.window.hands import drag, press
from tests.window.session import Session
from tests.window.steps import Steps, pause, until
from tests.window.themes import set_light_theme


class WINDOW_PT_near(bpy.types.Panel):
    bl_idname = "WINDOW_PT_near"
    bl_label = "Near"
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Harness"

    def draw(self, context: bpy.types.Context) -> None:
        layout = self.layout
        row = layout.row()
        row.operator("mesh.primitive_cube_add")
        row.operator("mesh.primitive_cone_add")
        layout.use_property_split = True
        layout.prop(context.scene.render, "use_border")
        layout.prop(context.scene.render, "resolution_x")
        layout.operator("mesh.subdivide")


class WINDOW_PT_far(bpy.types.Panel):
    bl_idname = "WINDOW_PT_far"
    bl_label = "Far"
    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Harness"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, _context: bpy.types.Context) -> None:
        for _ in range(26):
            self.layout.operator("object.delete")
        self.layout.operator("mesh.primitive_torus_add")


def steps(session: Session) -> Steps:
    for panel in (WINDOW_PT_near, WINDOW_PT_far):
        bpy.utils.register_class(panel)
    yield from open_tab(session, "Harness")
    yield from session.picture("tab")
    for promise in (
        buttons_do_what_they_say,
        a_closed_panel_opens_and_scrolls,
        a_drag_can_be_kept_or_not,
        gaps_are_seen,
    ):
        began = time.perf_counter()
        yield from promise(session)
        session.note(f"{promise.__name__}: {time.perf_counter() - began:.1f} s")
    set_light_theme()
    yield from session.picture("light")
    for panel in (WINDOW_PT_near, WINDOW_PT_far):
        bpy.utils.unregister_class(panel)


def names() -> set[str]:
    return set(bpy.data.objects.keys())


def buttons_do_what_they_say(session: Session) -> Steps:
    yield from click_operator(session, "mesh.primitive_cone_add")
    yield from until(lambda: "Cone" in names(), "cone")
    assert "Cube.001" not in names()
    yield from click_operator(session, "mesh.subdivide")  # greyed in Object Mode
    yield from click_property(session, "use_border")
    assert bpy.context.scene.render.use_border
    yield from enter_value(session, "resolution_x", "1234")
    assert bpy.context.scene.render.resolution_x == 1234
    yield from session.picture("pressed")


def a_closed_panel_opens_and_scrolls(session: Session) -> Steps:
    try:
        yield from find_operator(session, "mesh.primitive_torus_add")
    except LookupError:
        yield from open_panel(session, WINDOW_PT_far)
    else:
        raise AssertionError("found a button in a closed panel")
    yield from session.picture("opened")
    yield from click_operator(session, "mesh.primitive_torus_add")
    yield from until(lambda: "Torus" in names(), "torus")
    yield from session.picture("scrolled")


def a_drag_can_be_kept_or_not(session: Session) -> Steps:
    """The move tool's handle along x, dragged."""
    with session.in_viewport():
        bpy.ops.wm.tool_set_by_id(name="builtin.move")
    torus = bpy.data.objects["Torus"]
    yield from pause(0.5)
    handle = session.place_of((1.0, 0.0, 0.0))
    yield from session.picture("handle")
    yield from drag(handle, (handle[0] + 60, handle[1] - 60), release=False)
    assert torus.location.x > 0.1, "the drag moved nothing"
    yield from press("ESC")
    assert torus.location.x == 0.0, "Esc kept the drag"
    yield from drag(handle, (handle[0] + 60, handle[1] - 60))
    assert torus.location.x > 0.1
    assert torus.location.y == torus.location.z == 0.0
    yield from session.picture("dragged")


def gaps_are_seen(session: Session) -> Steps:
    with measured_gaps() as gaps:
        yield from pause(1.0)
        time.sleep(0.4)
        yield from pause(0.5)
    session.note(gaps.told())
    assert 0.4 <= gaps.longest().wall < 1.5
    assert len(gaps.all) > 5
