"""Where the part is cut, and why there."""

from __future__ import annotations

import math

import bpy

from ...core.values import Outcome, PassedOn
from ..found import FoundPart
from ..panel_settings import part_properties
from ..panel_words import panel_words
from ..told import told
from .layouts import InTab, begin, draw_problem, draw_sentences, shown_found, shown_part
from .part_panel import body_layout
from .settings_rows import draw_setting
from .wrapped_text import draw_fact, draw_text


class BOREWRIGHT_PT_cuts(InTab):
    """Where the part is cut, and why there"""

    bl_idname = "BOREWRIGHT_PT_cuts"
    bl_label = "Cuts"

    def draw(self, context: bpy.types.Context) -> None:
        """What is asked of the plan, then the plan."""
        layout = begin(self)
        source = shown_part(context)
        if source is None:
            draw_text(layout, context, told("Select the part: a mesh object"), icon="INFO")
            return
        asked = part_properties(source)
        for name in ("pieces", "flip", "lean"):
            draw_setting(layout, context, asked, name)
        found = shown_found(context)
        if found is None:
            return
        for part in found.parts:
            body = body_layout(layout, found, part, "cuts")
            if body is not None:
                _draw_plan(body, context, part)


def _draw_plan(layout: bpy.types.UILayout, context: bpy.types.Context, part: FoundPart) -> None:
    if part.problem is not None:
        draw_problem(layout, context, told("It Cannot Be Cut So"), part.problem)
    elif isinstance(part.planned, Outcome):
        _draw_cuts(layout, context, part.planned)
    elif isinstance(part.planned, PassedOn):
        draw_text(layout, context, told("No cuts: it fits as it is"), icon="CHECKMARK")


def _draw_cuts(layout: bpy.types.UILayout, context: bpy.types.Context, planned: Outcome) -> None:
    plan = planned.plan
    if plan.lean is not None:
        angle = f"{math.degrees(plan.lean.tilt):.1f}"
        leaning = told("No cuts: it fits leaning by {angle} degrees", angle=angle)
        draw_text(layout, context, leaning, icon="CHECKMARK")
    elif not plan.cuts:
        draw_text(layout, context, told("No cuts: it fits as it is"), icon="CHECKMARK")
    for number, (cut, joint) in enumerate(zip(plan.cuts, plan.joints, strict=True), 1):
        column = layout.column(align=True)
        seam = told("{station} mm, {kind}", station=f"{cut.station:.2f}", kind=joint.kind)
        draw_fact(column, context, told("Cut {number}", number=number), seam)
        draw_text(column, context, panel_words(cut.why))


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


CLASSES = (BOREWRIGHT_PT_cuts, BOREWRIGHT_PT_plan_notes)
