"""A cut moved along the axis: by the mouse from its handle, or in one step by a script.

While it is dragged nothing of the object changes, for each change of it makes Blender look at
its mesh again; letting go insists on the new station and plans again, in one undo step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, cast

import bpy

from ...core.errors import CoreError
from ...core.stages import KnownPart
from ..surveys.cut_lists import PartInScene, places_in
from ..surveys.cut_places import CutPlaces, Reason
from ..words.panel_words import panel_words
from ..words.told import told
from ..work.redrawing import redraw_viewports
from .axis_in_scene import AxisInScene, axis_in_scene, station_at
from .cut_operators import (
    CutOperator,
    check_survey,
    index_property,
    move_cut,
    station_property,
    surveyed,
)

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


@dataclass(slots=True)
class Drag:
    """A cut that is being dragged.

    source : `session_uid` of the object
    index : line of its list
    number : which cut of its body it is, from 1
    station, start : mm, where the cut is now, and where it was
    grip : mm along the axis, from the cut to where the mouse took hold
    reason : why it cannot be where the mouse is; None: it is there
    """

    source: int
    index: int
    number: int
    places: CutPlaces
    axis: AxisInScene
    station: float
    start: float
    grip: float = 0.0
    reason: Reason | None = None

    def follow(self, mouse: float | None) -> None:
        """Bring the cut to the mouse, or as near as its stretch of free stations allows.

        mouse : its station; None: the axis is looked at end on
        """
        if mouse is None:
            self.reason = Reason("Seen from its end: turn the view to move the seam", {})
            return
        wished = mouse - self.grip
        self.reason = self.places.reason(wished)
        self.station = self.places.follow(self.station, wished)

    def words(self) -> str:
        """Where it is and, if so, why it is not where the mouse is."""
        place = told("Seam {number}: {station:.2f} mm", number=self.number, station=self.station)
        if self.reason is None:
            return place
        why = told(self.reason.template, **self.reason.values)
        return told("{place}    {why}", place=place, why=why)


_going_on: list[Drag] = []
"""The drag that goes on, if any."""


def is_dragging() -> bool:
    """Whether any cut is being dragged."""
    return bool(_going_on)


def current_drag(source: bpy.types.Object) -> Drag | None:
    """The drag of a cut of an object; None: there is none."""
    return next((drag for drag in _going_on if drag.source == source.session_uid), None)


class BOREWRIGHT_OT_move_cut(CutOperator, bpy.types.Operator):
    """Move a seam along the axis to the nearest station that it may have, and insist on it there"""

    bl_idname = "borewright.move_cut"
    bl_label = "Move Seam"
    bl_options = {"REGISTER", "UNDO"}

    index: index_property()
    station: station_property("Station", "Where the seam is wished, from the part's low end")

    def carry_out(self, on: PartInScene) -> str:
        """In one step."""
        index = self.chosen(on.part)
        given = self.properties.is_property_set("station")
        wished = self.station if given else on.part.cuts[index].station
        self.station = move_cut(on, index, wished)
        return told("Seam moved to {station:.2f} mm", station=self.station)

    def invoke(
        self, context: bpy.types.Context, event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Take hold of the cut; the mouse moves it from now on."""
        view = _view_of(context)
        if view is None:
            return self.execute(context)
        on = surveyed(context)
        assert not isinstance(on, str)  # poll has seen it
        try:
            check_survey(context, on)
            drag = _begun(on, self.chosen(on.part))
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        self._view = view
        held = self._station(drag, event)
        drag.grip = 0.0 if held is None else held - drag.start
        _going_on[:] = [drag]
        context.window_manager.modal_handler_add(self)
        show_where(context, drag)
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Follow the mouse until it lets go or gives up."""
        drag = _going_on[0]
        if event.type in {"ESC", "RIGHTMOUSE"} and event.value == "PRESS":
            self.cancel(context)
            return {"CANCELLED"}
        if event.type in {"LEFTMOUSE", "RET", "NUMPAD_ENTER"}:
            return self._let_go(context)
        if event.type == "MOUSEMOVE":
            drag.follow(self._station(drag, event))
            show_where(context, drag)
        return {"RUNNING_MODAL"}

    def cancel(self, context: bpy.types.Context) -> None:
        """The person gave up, or Blender ends the operator: nothing has been changed yet."""
        _going_on.clear()
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        redraw_viewports()

    def _station(self, drag: Drag, event: bpy.types.Event) -> float | None:
        """Where on the axis the mouse is."""
        region, view = self._view
        mouse = (event.mouse_x - region.x, event.mouse_y - region.y)
        return station_at(region, view, mouse, drag.axis)

    def _let_go(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Insist on where the cut is now; where it was, nothing has happened."""
        drag = _going_on[0]
        station = drag.station
        self.cancel(context)
        if station == drag.start:
            return {"CANCELLED"}
        self.index, self.station = drag.index, station
        return self.execute(context)


_View = tuple[bpy.types.Region, bpy.types.RegionView3D]


def _view_of(context: bpy.types.Context) -> _View | None:
    """The 3D view that the mouse is over, or whose sidebar it is over; None: neither."""
    area = context.area
    if bpy.app.background or area is None or area.type != "VIEW_3D":
        return None
    region = next(region for region in area.regions if region.type == "WINDOW")
    view = context.region_data
    if not isinstance(view, bpy.types.RegionView3D):
        view = cast("bpy.types.SpaceView3D", area.spaces.active).region_3d
    return None if view is None else (region, view)


def _begun(on: PartInScene, index: int) -> Drag:
    cut = on.part.cuts[index]
    body = on.found.parts[cut.part]
    assert isinstance(body.known, KnownPart)  # only such have cuts
    places = places_in(on, index)
    places.know_reasons()
    return Drag(
        source=on.source.session_uid,
        index=index,
        number=1 + sum(other.part == cut.part for other in on.part.cuts[:index]),
        places=places,
        axis=axis_in_scene(body.known.exact.frame, on.found.source.scale_to_mm),
        station=cut.station,
        start=cut.station,
    )


def show_where(context: bpy.types.Context, drag: Drag) -> None:
    """Tell in the status bar where the cut is; viewports are drawn anew."""
    context.workspace.status_text_set(told("{where}    [Esc] Cancel", where=drag.words()))
    redraw_viewports()


def let_go() -> None:
    """Forget the cut that is dragged: the extension is being disabled."""
    _going_on.clear()


CLASSES = (BOREWRIGHT_OT_move_cut,)
