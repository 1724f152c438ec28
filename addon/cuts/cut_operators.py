"""Operators on the cuts of the active object: add, remove, insist; what they share with others."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

from ...core.errors import BadSetting, CoreError
from ...core.stages import KnownPart
from ..properties import groups
from ..properties.groups import (
    DIGITS,
    IN_MM,
    BOREWRIGHT_PG_cut,
    BOREWRIGHT_PG_part,
    untold_changes,
)
from ..properties.panel_settings import part_properties
from ..settings import options
from ..surveys.cut_lists import (
    PartInScene,
    activate,
    change_cuts,
    edited_line,
    places_beside,
    places_in,
    plan_of,
    planned_number,
)
from ..surveys.found import Found, found_of
from ..surveys.replanning import is_current
from ..surveys.sources import no_part_words, shown_source
from ..words.own_properties import FloatProperty, IntProperty
from ..words.panel_words import panel_words
from ..words.told import told
from ..work.modal_work import running_stage
from ..work.redrawing import redraw_viewports

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


def surveyed(context: bpy.types.Context) -> PartInScene | str:
    """The part that the active object is, or is a piece of; else why its cuts stay as they are."""
    source, scene = shown_source(context), context.scene
    if source is None or scene is None:
        return no_part_words(context)
    found = found_of(source)
    hindrance = _hindrance(context, source, found)
    if hindrance is not None:
        return hindrance
    assert found is not None
    return PartInScene(scene, source, found)


def _hindrance(
    context: bpy.types.Context, source: bpy.types.Object, found: Found | None
) -> str | None:
    if not source.is_editable:
        return told("The object is linked from another file: make it local")
    if context.mode != "OBJECT":
        return told("Switch to Object Mode")
    if running_stage() is not None:
        return told("Wait for the work that goes on, or cancel it with Esc")
    if found is None:
        return told("Survey the part first")
    if found.stale:
        return told("Survey the part again: its mesh or place has changed since")
    return None


def move_cut(on: PartInScene, index: int, station: float) -> float:
    """Bring a cut to the station nearest to one wished that it may have; insist on it there.

    Raises
    ------
    CoreError : there is none; nothing was changed
    """
    places = places_in(on, index)
    free = places.snap(station)
    if free is None:
        raise places.refusal(station)

    def move(part: BOREWRIGHT_PG_part) -> None:
        part.cuts[index].station, part.cuts[index].insisted = free, True

    body = on.part.cuts[index].part
    change_cuts(on, body, move)
    activate(on.part, body, free)
    return free


class CutOperator:
    """What the operators on cuts share."""

    index: int

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where the active object was surveyed, and has what the operator needs."""
        who = surveyed(context)
        missing = who if isinstance(who, str) else cls.missing(who.part)
        if missing:
            cls.poll_message_set(missing)  # type: ignore[attr-defined]
        return not missing

    @classmethod
    def missing(cls, part: BOREWRIGHT_PG_part) -> str:
        """What the operator needs and the part has not; empty: nothing."""
        return "" if len(part.cuts) else told("There is no seam")

    def carry_out(self, on: PartInScene) -> str:
        """Do it; what was done, in words.

        Raises
        ------
        CoreError : it cannot be done
        """
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Change what is asked, plan again, tell."""
        who = surveyed(context)
        if isinstance(who, str):  # it was not when the operator began
            self.report({"ERROR"}, who)  # type: ignore[attr-defined]
            return {"CANCELLED"}
        try:
            check_survey(context, who)
            done = self.carry_out(who)
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))  # type: ignore[attr-defined]
            return {"CANCELLED"}
        self.report({"INFO"}, done)  # type: ignore[attr-defined]
        redraw_viewports()
        return {"FINISHED"}

    def chosen(self, part: BOREWRIGHT_PG_part) -> int:
        """The line of the list that is meant: the active one where none is given.

        Raises
        ------
        BadSetting : there is no such line
        """
        given = self.properties.is_property_set("index")  # type: ignore[attr-defined]
        return checked_line(len(part.cuts), self.index if given else part.active_cut)


def checked_line(count: int, index: int) -> int:
    """The line of a list that is meant.

    Raises
    ------
    BadSetting : there is no such line
    """
    if not 0 <= index < count:
        raise BadSetting(f"line {index} of a list of {count}", f"0 to {count - 1}", "another index")
    return index


def check_survey(context: bpy.types.Context, on: PartInScene) -> None:
    """What was found must be what the object is now, and what the settings ask for.

    Raises
    ------
    CoreError : it is not, or the settings are at fault
    """
    if not is_current(context, on.source, on.found):
        raise BadSetting(
            "a survey of another mesh or place, or with other settings of truing or unit",
            "one of what is there now",
            "Survey Part again",
        )


def index_property() -> object:
    """A line of the list."""
    return IntProperty(
        name="Index",
        description="Which line of the list, from 0; the active one if it is not given",
        min=0,
        options={"SKIP_SAVE"},
    )


def station_property(name: str, tooltip: str) -> object:
    """A station, mm."""
    return FloatProperty(
        name=name,
        description=tooltip,
        min=0.0,
        max=options.CUT.high,
        unit=IN_MM,
        precision=DIGITS,
        options={"SKIP_SAVE"},
    )


class BOREWRIGHT_OT_add_cut(CutOperator, bpy.types.Operator):
    """Add a seam where the part has most room for it; the other seams stay where they are"""

    bl_idname = "borewright.add_cut"
    bl_label = "Add Seam"
    bl_options = {"REGISTER", "UNDO"}

    station: station_property(
        "Station", "Where the seam is wished; it goes to the nearest station that it may have"
    )
    body: IntProperty(
        name="Body",
        description="Which of the object's bodies it is in, from 0; the active seam's if none",
        min=0,
        options={"SKIP_SAVE"},
    )

    @classmethod
    def missing(cls, _part: BOREWRIGHT_PG_part) -> str:
        """Nothing more is needed."""
        return ""

    def carry_out(self, on: PartInScene) -> str:
        """Add it, and insist on it and on all others of its body."""
        part = on.part
        body = self._chosen_body(on)
        places = places_beside(on, body)
        wished = self.properties.is_property_set("station")
        free = places.snap(self.station) if wished else places.widest_middle()
        if free is None:
            raise places.refusal(self.station if wished else places.length / 2.0)

        def add(part: BOREWRIGHT_PG_part) -> None:
            for cut in part.cuts:
                cut.insisted = cut.insisted or cut.part == body
            made = part.cuts.add()
            made.part, made.station, made.insisted = body, free, True

        change_cuts(on, body, add)
        activate(part, body, free)
        self.station = free
        return told("Seam added at {station:.2f} mm", station=free)

    def _chosen_body(self, on: PartInScene) -> int:
        part, found = on.part, on.found
        cut = part.cuts[part.active_cut] if part.active_cut < len(part.cuts) else None
        given = self.properties.is_property_set("body")
        body = self.body if given or cut is None else cut.part
        checked_line(len(found.parts), body)
        if not isinstance(found.parts[body].known, KnownPart):
            raise BadSetting(
                f"{found.parts[body].name} goes along as it is: its shape was not understood",
                "a part with an axis",
                "another part",
            )
        return int(body)


class BOREWRIGHT_OT_remove_cut(CutOperator, bpy.types.Operator):
    """Remove a seam; where the part cannot do without, it is no longer insisted on"""

    bl_idname = "borewright.remove_cut"
    bl_label = "Remove Seam"
    bl_options = {"REGISTER", "UNDO"}

    index: index_property()

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of the cut that the list's button is for, or of any, where one can be removed."""
        if not super().poll(context):
            return False
        on = surveyed(context)
        assert not isinstance(on, str)  # the poll above has seen it
        meant = getattr(context, "borewright_cut", None)
        cuts = [cut for cut in on.part.cuts if meant is None or cut == meant]
        if not any(_is_removable(on.part, cut) for cut in cuts):
            cls.poll_message_set(told(NEEDED))
            return False
        return True

    def carry_out(self, on: PartInScene) -> str:
        """Take it off the list, and ask for no more pieces than are left."""
        part = on.part
        index = self.chosen(part)
        body, station = part.cuts[index].part, part.cuts[index].station
        count = _cuts_of(part, body)
        if not _is_removable(part, part.cuts[index]):
            raise BadSetting(
                f"the seam at {station:.2f} mm is one of the fewest that the part needs",
                "one that is insisted on, or more than are needed",
                "move it, or add one elsewhere first",
            )

        def remove(part: BOREWRIGHT_PG_part) -> None:
            part.cuts.remove(index)
            part.pieces = min(part.pieces, count)

        change_cuts(on, body, remove)
        left = _cuts_of(part, body)
        if left == count:
            return told("No longer insisted on; {count} seams are still needed", count=left)
        return told("Seam at {station:.2f} mm removed", station=station)


NEEDED = "It is one of the fewest seams that the part needs: move it, or add one elsewhere first"


def _is_removable(part: BOREWRIGHT_PG_part, cut: BOREWRIGHT_PG_cut) -> bool:
    """Whether a cut is insisted on, or one more than the part needs."""
    return bool(cut.insisted or part.pieces > _cuts_of(part, cut.part))


def _cuts_of(part: BOREWRIGHT_PG_part, body: int) -> int:
    return sum(cut.part == body for cut in part.cuts)


class BOREWRIGHT_OT_insist_cut(CutOperator, bpy.types.Operator):
    """Keep a seam where it is whatever else changes, or leave its place to the plan again"""

    bl_idname = "borewright.insist_cut"
    bl_label = "Insist on Seam"
    bl_options = {"REGISTER", "UNDO"}

    index: index_property()

    def carry_out(self, on: PartInScene) -> str:
        """Insist, or no longer."""
        part = on.part
        index = self.chosen(part)
        if not part.cuts[index].insisted:
            station = move_cut(on, index, part.cuts[index].station)
            return told("The seam at {station:.2f} mm keeps its place", station=station)

        def release(part: BOREWRIGHT_PG_part) -> None:
            part.cuts[index].insisted = False

        change_cuts(on, part.cuts[index].part, release)
        return told("The plan places the seam again")


def _take_station(cut: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    """A station that was typed, or set by a script, does what a drag does.

    Of a part that was not planned only the wish is noted.
    """
    source, scene = cut.id_data, context.scene
    assert isinstance(source, bpy.types.Object)
    assert scene is not None
    found, cuts = found_of(source), part_properties(source).cuts
    index = next(number for number, one in enumerate(cuts) if one == cut)
    on = None if found is None or found.stale else PartInScene(scene, source, found)
    number = None if on is None else planned_number(on, index)
    if on is None or number is None:
        cuts[index].insisted = True
        return
    plan = plan_of(on.found.parts[cuts[index].part])
    assert plan is not None
    wished = cuts[index].station
    with untold_changes():
        cuts[index].station = plan.cuts[number].station
    try:
        with edited_line():
            move_cut(on, index, wished)
    except CoreError as problem:
        _pop_up(context, problem)


def _pop_up(context: bpy.types.Context, problem: CoreError) -> None:
    """Tell a problem where there is no operator to report it."""
    lines = [
        told("Found: {found}", found=panel_words(problem.found)),
        told("Needed: {needed}", needed=panel_words(problem.needed)),
        told("Try: {remedy}", remedy=panel_words(problem.remedy)),
    ]

    def draw(menu: bpy.types.UIPopupMenu, _context: bpy.types.Context) -> None:
        for line in lines:
            menu.layout.label(text=line, translate=False)

    if not bpy.app.background:
        context.window_manager.popup_menu(draw, title=told("Seam Not Moved"), icon="ERROR")


CLASSES = (
    BOREWRIGHT_OT_add_cut,
    BOREWRIGHT_OT_remove_cut,
    BOREWRIGHT_OT_insist_cut,
)


def register() -> None:
    """Have stations that are typed move cuts."""
    groups.on_cut_moved.append(_take_station)


def unregister() -> None:
    """Have them move no more."""
    groups.on_cut_moved.remove(_take_station)
