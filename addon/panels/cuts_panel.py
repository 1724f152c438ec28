"""Where the part is cut, and why there."""

from __future__ import annotations

import math

import bpy

from ...core.values import Joint, Outcome, PassedOn
from ..properties.groups import BOREWRIGHT_PG_cut, BOREWRIGHT_PG_part
from ..properties.panel_settings import job_properties, part_properties
from ..settings.options import JOINT_LABELS
from ..surveys.cut_lists import PartInScene, plan_of, planned_number
from ..surveys.found import Found, FoundPart, found_of
from ..surveys.sources import shown_source
from ..words.panel_words import panel_words
from ..words.told import label_told, told
from .layouts import (
    InTab,
    begin,
    draw_no_part,
    draw_problem,
    draw_sentences,
    shown_found,
)
from .settings_rows import draw_setting
from .wrapped_text import draw_fact, draw_text, fits_as_value, units_wide

_LONG_STATION = "0000.00 mm 0"
"""As wide as the longest that is likely, and its margins."""

_LINES = 3
"""Of the list, however few cuts there are: what is below it stays where it is."""


class BOREWRIGHT_UL_cuts(bpy.types.UIList):
    """Seams, each with its station"""

    bl_idname = "BOREWRIGHT_UL_cuts"

    def draw_item(  # type: ignore[override] # the stub has it that any argument may be missing
        self,
        context: bpy.types.Context,
        layout: bpy.types.UILayout,
        data: BOREWRIGHT_PG_part,
        item: BOREWRIGHT_PG_cut,
        _icon: int,
        _active_data: BOREWRIGHT_PG_part,
        _active_property: str,
        index: int,
    ) -> None:
        """Its number, its station, and whether it is insisted on."""
        row = layout.row(align=True)
        name = _line_name(data, item, index)
        label = row.row()
        label.ui_units_x = units_wide(context, name)
        label.label(text=name, translate=False)
        row.prop(item, "station", text="")
        if not _is_narrow(context):
            _draw_insist(row, data, index)


class BOREWRIGHT_PT_cuts(InTab):
    """Where the part is cut, and why there"""

    bl_idname = "BOREWRIGHT_PT_cuts"
    bl_label = "Seams"

    def draw(self, context: bpy.types.Context) -> None:
        """What is asked of the plan, then the plan."""
        layout = begin(self)
        source = shown_source(context)
        if source is None:
            draw_no_part(layout, context)
            return
        asked = part_properties(source)
        for name in ("pieces", "flip", "lean"):
            draw_setting(layout, context, asked, name)
        _draw_list(layout, context, asked)
        found = shown_found(context)
        if found is None:
            return
        _draw_section(layout, context)
        for part in found.parts:
            _draw_plan(layout, context, found, part)
        _draw_reason(layout, context, source, found)


def _draw_section(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """The joints cut open, as they will be; drawn with all else that is shown of the plan."""
    job = job_properties(context.scene)
    column = layout.column()
    column.active = job.show_overlay
    column.prop(job, "show_section")
    if job.show_section:
        draw_setting(column, context, job, "section_angle")


def _draw_list(
    layout: bpy.types.UILayout, context: bpy.types.Context, asked: BOREWRIGHT_PG_part
) -> None:
    row = layout.row()
    row.template_list(
        "BOREWRIGHT_UL_cuts", "", asked, "cuts", asked, "active_cut", rows=_LINES, maxrows=8
    )
    beside = row.column(align=True)
    beside.operator("borewright.add_cut", text="", icon="ADD")
    removing = beside.column(align=True)
    if asked.active_cut < len(asked.cuts):
        removing.context_pointer_set("borewright_cut", asked.cuts[asked.active_cut])
    removing.operator("borewright.remove_cut", text="", icon="REMOVE")
    if _is_narrow(context):
        _draw_insist(beside, asked, asked.active_cut)


def _is_narrow(context: bpy.types.Context) -> bool:
    """Whether the lines of the list have no room for a button beside a station."""
    return not fits_as_value(context, _LONG_STATION)


def _draw_insist(layout: bpy.types.UILayout, asked: BOREWRIGHT_PG_part, index: int) -> None:
    insisted = index < len(asked.cuts) and asked.cuts[index].insisted
    insist = layout.operator(
        "borewright.insist_cut",
        text="",
        icon="PINNED" if insisted else "UNPINNED",
        depress=insisted,
    )
    insist.index = index


def _draw_plan(
    layout: bpy.types.UILayout, context: bpy.types.Context, found: Found, part: FoundPart
) -> None:
    """What came of it for one body: in how many pieces it is, or why in none."""
    if part.problem is not None:
        draw_problem(layout, context, _naming(found, part, told("No Plan")), part.problem)
    elif isinstance(part.planned, Outcome):
        words = _naming(found, part, _plan_words(part.planned))
        draw_text(layout, context, words, icon="CHECKMARK")
    elif isinstance(part.planned, PassedOn):
        as_it_is = _naming(found, part, told("1 piece: it fits as it is"))
        draw_text(layout, context, as_it_is, icon="CHECKMARK")


def _naming(found: Found, part: FoundPart, words: str) -> str:
    """Words about one of several bodies, with its name."""
    if len(found.parts) == 1:
        return words
    return told("{part}: {words}", part=part.name, words=words)


def _plan_words(planned: Outcome) -> str:
    plan = planned.plan
    if plan.lean is not None:
        angle = f"{math.degrees(plan.lean.tilt):.1f}"
        return told("1 piece, leaning by {angle} degrees", angle=angle)
    if not plan.cuts:
        return told("1 piece: it fits as it is")
    return told("{count} pieces", count=len(plan.cuts) + 1)


def _draw_reason(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    source: bpy.types.Object,
    found: Found,
) -> None:
    """The joint at the active cut, where it might lie, and why it lies where it does."""
    scene, asked = context.scene, part_properties(source)
    assert scene is not None
    if not asked.active_cut < len(asked.cuts):
        return
    number = planned_number(PartInScene(scene, source, found), asked.active_cut)
    if number is None:
        return
    plan = plan_of(found.parts[asked.cuts[asked.active_cut].part])
    assert plan is not None  # it has that cut
    cut, joint = plan.cuts[number], plan.joints[number]
    column = layout.column(align=True)
    draw_fact(column, context, told("Joint"), _joint_words(joint))
    insisted = asked.cuts[asked.active_cut].insisted
    draw_fact(column, context, told("May Lie"), _window_words(*cut.window, insisted=insisted))
    draw_text(layout, context, panel_words(cut.why))


def _window_words(low: float, high: float, *, insisted: bool) -> str:
    ends = f"{low:.1f}", f"{high:.1f}"
    if insisted:
        return told("At {station} mm, as insisted", station=ends[0])
    if ends[0] == ends[1]:
        return told("At {station} mm only", station=ends[0])
    return told("{low} to {high} mm", low=ends[0], high=ends[1])


def _joint_words(joint: Joint) -> str:
    return told(
        "{kind}, {engagement:.1f} mm long",
        kind=label_told(JOINT_LABELS[joint.kind]),
        engagement=joint.engagement,
    )


def _line_name(asked: BOREWRIGHT_PG_part, cut: BOREWRIGHT_PG_cut, index: int) -> str:
    """The seam that a cut makes, by its number in its body; of several bodies with their name."""
    before = sum(other.part == cut.part for other in asked.cuts[:index])
    source = asked.id_data
    found = found_of(source) if isinstance(source, bpy.types.Object) else None
    if found is None or len(found.parts) == 1 or cut.part >= len(found.parts):
        return told("Seam {number}", number=before + 1)
    name = found.parts[cut.part].name
    return told("{part} seam {number}", part=name, number=before + 1)


class BOREWRIGHT_PT_avoid(InTab):
    """Stretches of the part that no seam may lie in: a maker's mark, a grip"""

    bl_idname = "BOREWRIGHT_PT_avoid"
    bl_label = "Avoid"
    bl_parent_id = "BOREWRIGHT_PT_cuts"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part."""
        return shown_source(context) is not None

    def draw(self, context: bpy.types.Context) -> None:
        """Each with both its ends, and a button for another one."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        column = self.layout.column(align=True)
        for number, stretch in enumerate(part_properties(source).avoid):
            row = column.row(align=True)
            row.prop(stretch, "start", text="")
            row.prop(stretch, "stop", text="")
            row.operator("borewright.remove_avoid", text="", icon="X").index = number
            if not stretch.start < stretch.stop:
                draw_text(column, context, told("Avoids nothing: its end is not above its start"))
        another = self.layout.operator("borewright.add_avoid", icon="ADD")
        another.start, another.stop = 0.0, _FIRST_STRETCH


_FIRST_STRETCH = 10.0
"""Length of a stretch, mm, when it is added at the low end, to be set from there."""


class BOREWRIGHT_PT_prefer(InTab):
    """Stations near which a seam is better than elsewhere"""

    bl_idname = "BOREWRIGHT_PT_prefer"
    bl_label = "Prefer"
    bl_parent_id = "BOREWRIGHT_PT_cuts"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part."""
        return shown_source(context) is not None

    def draw(self, context: bpy.types.Context) -> None:
        """Each, and a button for another one."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        column = self.layout.column(align=True)
        for number, preferred in enumerate(part_properties(source).prefer):
            row = column.row(align=True)
            row.prop(preferred, "station", text="")
            row.operator("borewright.remove_prefer", text="", icon="X").index = number
        self.layout.operator("borewright.add_prefer", icon="ADD")


class BOREWRIGHT_PT_plan_notes(InTab):
    """What is worth knowing of the plan"""

    bl_idname = "BOREWRIGHT_PT_plan_notes"
    bl_label = "Notes"
    bl_parent_id = "BOREWRIGHT_PT_cuts"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where there are some."""
        return bool(_notes(context))

    def draw(self, context: bpy.types.Context) -> None:
        """Each on lines of its own."""
        draw_sentences(self.layout.column(), context, _notes(context))


def _notes(context: bpy.types.Context) -> tuple[str, ...]:
    found = shown_found(context)
    parts = found.parts if found is not None else ()
    planned = (part.planned for part in parts if part.planned is not None)
    return tuple(dict.fromkeys(said for one in planned for said in one.warnings))


CLASSES = (
    BOREWRIGHT_UL_cuts,
    BOREWRIGHT_PT_cuts,
    BOREWRIGHT_PT_avoid,
    BOREWRIGHT_PT_prefer,
    BOREWRIGHT_PT_plan_notes,
)
