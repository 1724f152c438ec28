"""Show on the mesh where what is told as a problem lies."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bmesh
import bpy
import numpy as np

from ..surveys.problem_places import problem_places
from ..surveys.sources import poll_mesh, shown_source
from ..words.own_properties import IntProperty
from ..words.told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

_MOST_PLACES = 1000


class BOREWRIGHT_OT_show_place(bpy.types.Operator):
    """Select the faces of the mesh that lie where the problem is, in Edit Mode, and frame them"""

    bl_idname = "borewright.show_place"
    bl_label = "Show Place"
    bl_options = {"REGISTER", "UNDO"}

    number: IntProperty(
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
        if source.name not in context.view_layer.objects:
            self.report({"ERROR"}, told("{name} is not in this view layer", name=source.name))
            return {"CANCELLED"}
        _edit(context, source)
        nearest = _nearest_corner(source, source.data, places[self.number - 1])
        context.tool_settings.mesh_select_mode = (False, False, True)
        _select_faces_at(source.data, nearest)
        _frame_selected(context)
        self.report(
            {"INFO"}, told("Place {number} of {count}", number=self.number, count=len(places))
        )
        return {"FINISHED"}


def _edit(context: bpy.types.Context, source: bpy.types.Object) -> None:
    """Be in Edit Mode of an object; its mesh knows what is edited already."""
    if source.mode == "EDIT":
        source.update_from_editmode()
        return
    if context.mode != "OBJECT":  # a piece of it is edited
        bpy.ops.object.mode_set(mode="OBJECT")
    for selected in context.selected_objects:  # all that is selected would be edited with it
        selected.select_set(False)
    source.hide_set(False)
    source.select_set(True)
    context.view_layer.objects.active = source
    bpy.ops.object.mode_set(mode="EDIT")


def _nearest_corner(
    source: bpy.types.Object, data: bpy.types.Mesh, place: tuple[float, float, float]
) -> int:
    """The vertex of a face that lies nearest to a place.

    place : in the world
    """
    positions = np.empty(3 * len(data.vertices), np.float32)
    data.vertices.foreach_get("co", positions)
    matrix = np.array(source.matrix_world)
    world = positions.reshape(-1, 3) @ matrix[:3, :3].T + matrix[:3, 3]
    corners = np.empty(len(data.loops), np.int32)
    data.loops.foreach_get("vertex_index", corners)
    used = np.unique(corners)
    return int(used[np.argmin(((world[used] - place) ** 2).sum(axis=1))])


def _select_faces_at(data: bpy.types.Mesh, vertex: int) -> None:
    """Select the faces around a vertex and nothing else, in Edit Mode: undo knows of it there."""
    bpy.ops.mesh.select_all(action="DESELECT")
    edited = bmesh.from_edit_mesh(data)
    edited.verts.ensure_lookup_table()
    for face in edited.verts[vertex].link_faces:
        face.hide_set(False)
        face.select_set(True)
    bmesh.update_edit_mesh(data, loop_triangles=False, destructive=False)


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
