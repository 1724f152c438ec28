"""Handles by which cuts are dragged along the axis, one at each seam, beside the part.

They lie to the left of who looks, all in one line. A handle with a bar stands for a cut
that is insisted on; one in the theme's alert colour for a cut that cannot go where the
mouse is.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import cast

import bpy
import gpu
from bpy_extras.view3d_utils import location_3d_to_region_2d
from gpu_extras.batch import batch_for_shader
from mathutils import Matrix, Vector

from ...core.showing.drawing import Tone
from ..overlay.strokes import SHADER
from ..overlay.theme import tone_colour
from ..overlay.words import draw_words, said_there, set_text_size
from ..properties.panel_settings import job_properties
from ..surveys.cut_lists import PartInScene
from ..words.told import told
from .axis_in_scene import AxisInScene, axis_in_scene, looking
from .cut_drag import BOREWRIGHT_OT_move_cut, Drag, current_drag, is_dragging
from .cut_operators import surveyed

OFF_PART, HALF_WIDTH, GAP, TIP = 16.0, 8.0, 4.0, 14.0
"""Pixels: from the part's greatest radius to the middle of a handle; sizes of its arrows."""
BAR = 1.5
TEXT_OVER, SEAM_WIDTH = 16.0, 3.0
END_ON = 0.97
"""Seen so much along the axis, handles would lie on each other and are not shown."""

_Triangles = tuple[tuple[float, float, float], ...]


def _both_ways(corners: list[tuple[float, float]]) -> _Triangles:
    """Flat triangles that are seen from either side; (x, z) pixels, three a triangle."""
    there = [(x, 0.0, z) for x, z in corners]
    return (*there, *there[::-1])


def _handle(*, barred: bool) -> _Triangles:
    """An arrow up and one down, and between them a bar or not."""
    left, middle, right = OFF_PART - HALF_WIDTH, OFF_PART, OFF_PART + HALF_WIDTH
    corners = [
        (x, sign * z) for sign in (1.0, -1.0) for x, z in ((left, GAP), (right, GAP), (middle, TIP))
    ]
    bar = [(left, -BAR), (right, -BAR), (right, BAR), (left, -BAR), (right, BAR), (left, BAR)]
    return _both_ways(corners + bar if barred else corners)


def _grip() -> _Triangles:
    """All of a handle's place, which the mouse may take hold of."""
    low, high = (OFF_PART - HALF_WIDTH, -TIP), (OFF_PART + HALF_WIDTH, TIP)
    corners = [low, (high[0], low[1]), high, low, high, (low[0], high[1])]
    return _both_ways(corners)


class BOREWRIGHT_GT_cut(bpy.types.Gizmo):
    """One handle."""

    bl_idname = "BOREWRIGHT_GT_cut"

    __slots__ = ("barred", "grip", "insisted", "plain")

    def setup(self) -> None:
        """Its two forms, and what the mouse may take hold of."""
        self.plain = self.new_custom_shape("TRIS", _handle(barred=False))
        self.barred = self.new_custom_shape("TRIS", _handle(barred=True))
        self.grip = self.new_custom_shape("TRIS", _grip())
        self.insisted = False

    def draw(self, _context: bpy.types.Context) -> None:
        """As it stands."""
        self.draw_custom_shape(self.barred if self.insisted else self.plain)

    def draw_select(  # type: ignore[override] # the stub has it by keyword, Blender by place
        self, _context: bpy.types.Context, select_id: int
    ) -> None:
        """For the mouse."""
        self.draw_custom_shape(self.grip, select_id=select_id)


@dataclass(frozen=True, slots=True, eq=False)
class _Handle:
    """Where a handle lies.

    index : line of the object's list
    seam : the point of the axis
    radius : units of the scene, from there to the part's side
    """

    index: int
    insisted: bool
    axis: AxisInScene
    seam: Vector
    radius: float


class BOREWRIGHT_GGT_cuts(bpy.types.GizmoGroup):
    """The handles of the active object's seams."""

    bl_idname = "BOREWRIGHT_GGT_cuts"
    bl_label = "Seams"
    bl_space_type = "VIEW_3D"
    bl_region_type = "WINDOW"
    bl_options = {"3D", "PERSISTENT", "SHOW_MODAL_ALL"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part that was surveyed, where the plan is shown."""
        space, scene = context.space_data, context.scene
        if not isinstance(space, bpy.types.SpaceView3D) or scene is None:
            return False
        shown = space.overlay.show_overlays and job_properties(scene).show_overlay
        on = surveyed(context) if shown else None
        return isinstance(on, PartInScene) and on.source.visible_get()

    def setup(self, _context: bpy.types.Context) -> None:
        """None yet: as many as there are cuts come when they are drawn."""

    def draw_prepare(self, context: bpy.types.Context) -> None:
        """Bring each handle to its seam, on the side that the view has on the left."""
        on = surveyed(context)
        region, view = context.region, context.region_data
        if isinstance(on, str) or region is None or view is None:
            return
        drag = current_drag(on.source)
        handles = list(_handles(on, drag))
        while len(self.gizmos) < len(handles):
            self._add(len(self.gizmos))
        for gizmo in self.gizmos:
            gizmo.hide = True
        for handle in handles:
            _place(cast("BOREWRIGHT_GT_cut", self.gizmos[handle.index]), handle, region, view, drag)

    def _add(self, index: int) -> None:
        gizmo = self.gizmos.new(BOREWRIGHT_GT_cut.bl_idname)
        gizmo.use_draw_modal = True
        called = gizmo.target_set_operator(BOREWRIGHT_OT_move_cut.bl_idname)
        called.index = index


def _handles(on: PartInScene, drag: Drag | None) -> Iterator[_Handle]:
    found = on.found
    scale = found.source.scale_to_mm
    for index, cut in enumerate(on.part.cuts):
        view = found.parts[cut.part].view if cut.part < len(found.parts) else None
        if view is not None:
            axis = axis_in_scene(view.known.exact.frame, scale)
            dragged = drag is not None and drag.index == index
            station = drag.station if drag is not None and dragged else cut.station
            seam, radius = axis.point(station), view.radius / scale
            yield _Handle(index, cut.insisted or dragged, axis, seam, radius)


def _place(
    gizmo: BOREWRIGHT_GT_cut,
    handle: _Handle,
    region: bpy.types.Region,
    view: bpy.types.RegionView3D,
    drag: Drag | None,
) -> None:
    ray = looking(region, view, handle.seam)
    gizmo.hide = abs(ray.dot(handle.axis.direction)) > END_ON
    outward = -handle.axis.beside(ray)
    along = handle.axis.direction
    matrix = Matrix.Identity(4)
    for column, vector in enumerate((outward, along.cross(outward), along)):
        matrix.col[column].xyz = vector
    matrix.col[3].xyz = handle.seam + outward * handle.radius
    gizmo.matrix_basis = matrix
    gizmo.insisted = handle.insisted
    gizmo.scale_basis = 1.0 / bpy.context.preferences.view.gizmo_size
    hindered = drag is not None and drag.index == handle.index and drag.reason is not None
    _colour(gizmo, hindered=hindered)


def _colour(gizmo: bpy.types.Gizmo, *, hindered: bool) -> None:
    usual = tone_colour("alert" if hindered else "seam")
    strong = usual if hindered else tone_colour("plain")
    gizmo.color, gizmo.color_highlight = usual[:3], strong[:3]
    gizmo.alpha, gizmo.alpha_highlight = 0.9, 1.0


_drawn: list[object] = []
"""The draw handler, needed to take it back."""


def _draw_station() -> None:
    """Over the part, where the seam of the cut that is dragged would be now."""
    context = bpy.context
    region, view = context.region, context.region_data
    dragged = _dragged(context)
    if dragged is None or region is None or view is None:
        return
    drag, handle = dragged
    side = handle.axis.beside(looking(region, view, handle.seam)) * handle.radius
    ends = [location_3d_to_region_2d(region, view, handle.seam + off) for off in (-side, side)]
    if None in ends:
        return  # behind who looks
    size = (region.width, region.height)
    _draw_line(ends, "alert" if drag.reason else "seam", size)
    set_text_size()
    over = (ends[0] + ends[1]) / 2.0 + Vector((0.0, TEXT_OVER))
    words = told("{station:.2f} mm", station=drag.station)
    draw_words([said_there(words, "alert" if drag.reason else "plain", (over.x, over.y))], size)


def _dragged(context: bpy.types.Context) -> tuple[Drag, _Handle] | None:
    """The drag of a cut of the active object, and its handle."""
    on = surveyed(context) if is_dragging() else ""
    drag = None if isinstance(on, str) else current_drag(on.source)
    if isinstance(on, str) or drag is None:
        return None
    return next(((drag, one) for one in _handles(on, drag) if one.index == drag.index), None)


def _draw_line(ends: list[Vector], tone: Tone, size: tuple[int, int]) -> None:
    shader = gpu.shader.from_builtin(SHADER)
    shader.bind()
    shader.uniform_float("viewportSize", size)
    shader.uniform_float("lineWidth", SEAM_WIDTH)
    shader.uniform_float("color", tone_colour(tone))
    batch_for_shader(shader, "LINES", {"pos": [(end.x, end.y, 0.0) for end in ends]}).draw(shader)


CLASSES = (BOREWRIGHT_GT_cut, BOREWRIGHT_GGT_cuts)


def register() -> None:
    """Have stations drawn beside the handles; without windows there is nothing to draw."""
    if not bpy.app.background:
        add = bpy.types.SpaceView3D.draw_handler_add
        _drawn.append(add(_draw_station, (), "WINDOW", "POST_PIXEL"))


def unregister() -> None:
    """Take that back."""
    for handler in _drawn:
        bpy.types.SpaceView3D.draw_handler_remove(handler, "WINDOW")
    _drawn.clear()
