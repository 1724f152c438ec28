"""Stretches to avoid and stations to prefer, in the sidebar; what is wrong is told."""

from __future__ import annotations

import bpy

from tests.window.buttons import click_operator, enter_value, open_tab
from tests.window.plan_on_screen import own
from tests.window.session import Session
from tests.window.steps import Steps, until


def steps(session: Session) -> Steps:
    name = session.import_part().name
    bpy.context.scene.borewright.envelope = (210.0, 210.0, 200.0)
    with_open_panels()
    yield from open_tab(session, "Borewright")
    yield from click_operator(session, "borewright.survey")
    yield from until(lambda: len(asked(name).cuts) == 2, "plan")
    before = asked(name).cuts[0].station
    yield from click_operator(session, "borewright.add_prefer")
    yield from until(lambda: len(asked(name).prefer) == 1, "preferred station")
    asked(name).prefer[0].station = before - 60.0
    yield from until(lambda: asked(name).cuts[0].station != before, "seam near it")
    moved = asked(name).cuts[0].station
    assert abs(moved - (before - 60.0)) < 30.0, (before, moved)
    yield from session.picture("preferred")
    yield from click_operator(session, "borewright.remove_prefer")
    yield from until(lambda: asked(name).cuts[0].station == before, "plan as before")
    yield from click_operator(session, "borewright.add_avoid")
    yield from until(lambda: len(asked(name).avoid) == 1, "stretch")
    yield from enter_value(session, "start", "50")
    yield from until(lambda: asked(name).avoid[0].start == 50.0, "its beginning")
    yield from session.picture("end-first")
    yield from enter_value(session, "stop", "400")
    yield from until(lambda: asked(name).avoid[0].stop == 400.0, "its end")
    yield from until(lambda: len(asked(name).cuts) == 0, "no plan")
    yield from session.picture("no-plan")
    yield from enter_value(session, "stop", "60")
    yield from until(lambda: len(asked(name).cuts) == 2, "plan again")
    bpy.context.scene.borewright.joint = "oring"
    bpy.context.scene.borewright.fit = "glue"
    yield from until(lambda: len(asked(name).cuts) == 0, "contradiction")
    yield from session.picture("contradiction")


def with_open_panels() -> None:
    """Have both panels open from the start; clicks at headers are tried in other scenarios."""
    panels = own("panels.cuts_panel")
    for panel in (panels.BOREWRIGHT_PT_avoid, panels.BOREWRIGHT_PT_prefer):
        bpy.utils.unregister_class(panel)
        panel.bl_options = set()
        bpy.utils.register_class(panel)


def asked(name: str) -> bpy.types.PropertyGroup:
    """What is asked for the part."""
    return bpy.data.objects[name].borewright
