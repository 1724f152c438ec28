"""Where a part's plan is seen: the view that stands it upright, the handles of its cuts."""

from __future__ import annotations

import importlib
import math
from types import ModuleType

import bpy
from bpy_extras.view3d_utils import location_3d_to_region_2d
from mathutils import Matrix, Quaternion, Vector

from tests.window.hands import Place
from tests.window.session import Session
from tests.window.steps import Steps, pause

ADDON = "bl_ext.user_default.borewright.addon"
FRONT = Quaternion((1.0, 0.0, 0.0), math.pi / 2.0)


def own(name: str) -> ModuleType:
    """A module of the installed extension."""
    return importlib.import_module(f"{ADDON}.{name}")


def see_upright(session: Session, part: bpy.types.Object) -> Steps:
    """The whole part, with its axis upright on the screen."""
    found = own("surveys.found").found_of(part)
    axes = Matrix(found.parts[0].known.exact.frame.rows.tolist()).transposed()
    session.viewport().spaces.active.region_3d.view_rotation = (
        axes.to_quaternion() @ FRONT
    ).normalized()
    with session.in_viewport():
        bpy.ops.view3d.view_selected()
    yield from pause(0.6)


def handle_place(session: Session, part: bpy.types.Object, station: float) -> Place:
    """Where the handle of a cut at a station is: on the line of stations."""
    found = own("surveys.found").found_of(part)
    known, scale = found.parts[0].known, found.source.scale_to_mm
    axis = own("cuts.axis_in_scene").axis_in_scene(known.exact.frame, scale)
    region, view = session.region(), session.viewport().spaces.active.region_3d
    handles = own("cuts.handles")
    ray = own("cuts.axis_in_scene").looking(region, view, axis.point(station))
    side = -axis.beside(ray) * (found.parts[0].view.radius / scale)
    edge = location_3d_to_region_2d(region, view, axis.point(station) + side)
    middle = location_3d_to_region_2d(region, view, axis.point(station))
    outward = (Vector(edge) - Vector(middle)).normalized()
    x, y = Vector(edge) + outward * handles.OFF_PART + Vector((0.0, 8.0))
    return region.x + round(x), region.y + round(y)
