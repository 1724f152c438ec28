"""What the viewport shows of a plan: the whole part, a joint in section, in both themes."""

from __future__ import annotations

import importlib
import math
import time
import traceback
from collections.abc import Callable
from types import ModuleType
from typing import Any

import bpy
import numpy as np
from mathutils import Matrix, Quaternion, Vector

from tests.window.pictures import screen_pixels
from tests.window.session import Session
from tests.window.steps import Steps, pause
from tests.window.themes import set_light_theme

ADDON = "bl_ext.user_default.borewright.addon"
FAILURES = "failures.txt"
"""Blender goes on when a call to draw fails."""
FRONT = Quaternion((1.0, 0.0, 0.0), math.pi / 2.0)


def steps(session: Session) -> Steps:
    part = session.import_part()
    assert drawn_pixels(session) == 0, "something is drawn before the survey"
    session.viewport().spaces.active.show_region_ui = True
    found = survey(session, part)
    costs = measured_drawing(session)
    for name, turn in whole_views(found).items():
        yield from see_whole(session, turn)
        yield from session.picture(f"whole-{name}")
    assert drawn_pixels(session) > 100, "no seam is drawn"
    yield from what_is_off_is_not_drawn(session)
    yield from see_joint(session, found)
    yield from session.picture("section")
    set_light_theme()
    yield from session.picture("section-light")
    bpy.context.scene.borewright.show_section = False
    yield from see_whole(session, whole_views(found)["upright"])
    yield from session.picture("whole-light")
    session.note(told(costs))
    yield from a_moved_part_is_stale(session, part)
    assert not (session.out / FAILURES).exists(), "a call to draw has failed: see " + FAILURES


def addon_module(name: str) -> ModuleType:
    """A module of the installed extension."""
    return importlib.import_module(f"{ADDON}.{name}")


def survey(session: Session, part: bpy.types.Object) -> Any:
    """Survey and plan in one go, as scripts do."""
    with session.in_viewport():
        assert bpy.ops.borewright.survey() == {"FINISHED"}
    return addon_module("surveys.found").found_of(part)


def whole_views(found: Any) -> dict[str, Quaternion]:
    """From the front of the scene, and with the axis upright and level on the screen."""
    axes = Matrix(found.parts[0].known.exact.frame.rows.tolist()).transposed()
    return {
        "front": FRONT,
        "upright": (axes.to_quaternion() @ FRONT).normalized(),
        "level": (axes @ Matrix.Rotation(-math.pi / 2.0, 3, "X")
                  @ Matrix.Rotation(math.pi / 2.0, 3, "Z").inverted()).to_quaternion(),
    }  # fmt: skip


def see_whole(session: Session, turn: Quaternion) -> Steps:
    """The whole part, from there."""
    session.viewport().spaces.active.region_3d.view_rotation = turn
    with session.in_viewport():
        bpy.ops.view3d.view_selected()
    yield from pause(0.6)


def see_joint(session: Session, found: Any) -> Steps:
    """The first joint in section, square to the plane."""
    frame = found.parts[0].known.exact.frame
    joint = found.parts[0].planned.plan.joints[0]
    (place,) = frame.to_source(np.array([[0.0, 0.0, joint.station + 4.0]]))
    scale = found.source.scale_to_mm
    view = session.viewport().spaces.active.region_3d
    bpy.context.scene.borewright.show_section = True
    axes = Matrix(frame.rows.tolist()).transposed()
    view.view_rotation = (axes.to_quaternion() @ FRONT).normalized()
    view.view_perspective = "ORTHO"
    view.view_location = Vector(place) / scale
    view.view_distance = 70.0 / scale
    yield from pause(0.6)


def what_is_off_is_not_drawn(session: Session) -> Steps:
    """The panel's toggle, and the viewport's own for all overlays."""
    job, overlay = bpy.context.scene.borewright, session.viewport().spaces.active.overlay
    for owner, name in ((job, "show_overlay"), (overlay, "show_overlays")):
        setattr(owner, name, False)
        session.viewport().tag_redraw()
        yield from pause(0.6)
        assert drawn_pixels(session) == 0, f"drawn without {name}"
        setattr(owner, name, True)


def a_moved_part_is_stale(session: Session, part: bpy.types.Object) -> Steps:
    """What was found is no more where the part is."""
    part.location.x += 1.0
    yield from session.picture("stale")
    assert drawn_pixels(session) == 0, "a stale plan is drawn"


def drawn_pixels(session: Session) -> int:
    """How many pixels of the view have the colour of seams."""
    window, view = session.window, session.region()
    seam = bpy.context.preferences.themes[0].user_interface.gizmo_primary
    pixels = screen_pixels(window.width, window.height)
    seen = pixels[view.y : view.y + view.height, view.x : view.x + view.width].astype(int)
    colour = np.array([round(255 * part) for part in seam[:3]])
    return int((np.abs(seen - colour) <= 3).all(axis=2).sum())


def measured_drawing(session: Session) -> dict[str, list[float]]:
    """Have each of the extension's calls to draw keep how long it took, s, and how it failed."""
    hooks = addon_module("overlay.drawing_hooks")
    costs: dict[str, list[float]] = {}
    hooks.unregister()
    for name in ("_draw_lines", "_draw_words"):
        setattr(hooks, name, measured(session, getattr(hooks, name), costs.setdefault(name, [])))
    hooks.register()
    return costs


def measured(session: Session, draw: Callable[[], None], costs: list[float]) -> Callable[[], None]:
    def timed() -> None:
        began = time.thread_time()
        try:
            draw()
        except Exception:
            with (session.out / FAILURES).open("a", encoding="utf-8") as failures:
                traceback.print_exc(file=failures)
            raise
        costs.append(time.thread_time() - began)

    return timed


def told(costs: dict[str, list[float]]) -> str:
    """Median and greatest of each, ms of the main thread; the greatest makes the drawing."""
    return ", ".join(
        f"{name}: {1e3 * float(np.median(times)):.2f} ms, at most {1e3 * max(times):.1f}, "
        f"{len(times)} times"
        for name, times in costs.items()
    )
