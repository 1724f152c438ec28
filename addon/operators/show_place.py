"""Show on the mesh where what is told as a problem lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy
import numpy as np
from numpy.typing import NDArray

from ..problem_places import problem_places
from ..sources import poll_mesh, shown_source
from ..told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

_MOST_PLACES = 1000


class BOREWRIGHT_OT_show_place(bpy.types.Operator):
    """Select the faces of the mesh that lie where the problem is, in Edit Mode, and frame them"""

    bl_idname = "borewright.show_place"
    bl_label = "Show Place"
    bl_options = {"REGISTER", "UNDO"}

    number: bpy.props.IntProperty(
        name="Place",
        description="Which of the problem's places is shown, from 1",
        default=1,
        min=1,
        max=_MOST_PLACES,
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part with a problem somewhere."""
        if not poll_mesh(cls, context, editing=True):
            return False
        source = shown_source(context)
        assert isinstance(source, bpy.types.Object)
        if not problem_places(source):
            cls.poll_message_set(told("No problem with a place is known of the active object"))
            return False
        if source.data is None or not (source.is_editable and source.data.is_editable):
            cls.poll_message_set(told("Make the linked mesh local first"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Select, then look."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        assert isinstance(source.data, bpy.types.Mesh)
        places = problem_places(source)
        if self.number > len(places):
            said = told("Place {number}; there are {count}", number=self.number, count=len(places))
            self.report({"ERROR"}, said)
            return {"CANCELLED"}
        if not len(source.data.polygons):
            self.report({"ERROR"}, told("The mesh has 0 faces without its modifiers"))
            return {"CANCELLED"}
        if source.mode == "EDIT":
            bpy.ops.object.mode_set(mode="OBJECT")
        _select_faces_at(source, source.data, places[self.number - 1])
        bpy.ops.object.mode_set(mode="EDIT")
        context.tool_settings.mesh_select_mode = (False, False, True)
        _frame_selected(context)
        self.report(
            {"INFO"}, told("Place {number} of {count}", number=self.number, count=len(places))
        )
        return {"FINISHED"}


def _select_faces_at(
    source: bpy.types.Object, data: bpy.types.Mesh, place: tuple[float, float, float]
) -> None:
    """Select the faces around the vertex that lies nearest to a place, and nothing else.

    place : in the world
    """
    positions = np.empty(3 * len(data.vertices), np.float32)
    data.vertices.foreach_get("co", positions)
    matrix = np.array(source.matrix_world)
    world = positions.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]
    corners = np.empty(len(data.loops), np.int32)
    data.loops.foreach_get("vertex_index", corners)
    used = np.unique(corners)
    nearest = used[np.argmin(((world[used] - place) ** 2).sum(axis=1))]
    starts = np.empty(len(data.polygons), np.int32)
    data.polygons.foreach_get("loop_start", starts)
    _select(data, np.logical_or.reduceat(corners == nearest, starts))


def _select(data: bpy.types.Mesh, faces: NDArray[np.bool_]) -> None:
    data.vertices.foreach_set("select", np.zeros(len(data.vertices), bool))
    data.edges.foreach_set("select", np.zeros(len(data.edges), bool))
    data.polygons.foreach_set("select", faces)


def _frame_selected(context: bpy.types.Context) -> None:
    """Look at what is selected, where there is a viewport to look in."""
    if context.window is None:
        return
    for area in context.window.screen.areas:
        if area.type == "VIEW_3D":
            region = next(one for one in area.regions if one.type == "WINDOW")
            with context.temp_override(area=area, region=region):
                bpy.ops.view3d.view_selected()
            return
