"""What is made of the part, and where it goes."""

from __future__ import annotations

import bpy

from ...core.values import Outcome, PassedOn
from ..found import Found
from ..panel_settings import job_properties, part_properties
from ..told import told
from .layouts import InTab, begin, draw_work_button, is_there, shown_found, shown_part
from .piece_heights import planned_heights
from .wrapped_text import draw_fact, draw_text


class BOREWRIGHT_PT_pieces(InTab):
    """The pieces, their proofs, and the folder that they are saved to"""

    bl_idname = "BOREWRIGHT_PT_pieces"
    bl_label = "Pieces"

    def draw(self, context: bpy.types.Context) -> None:
        """Build, look, save."""
        layout = begin(self)
        draw_work_button(layout, "borewright.build")
        found = shown_found(context)
        if found is not None:
            _draw_heights(layout, context, found)
        if found is not None and found.built is not None:
            _draw_built(layout, context, found.built)
        layout.prop(job_properties(context.scene), "folder")
        for operator in ("borewright.save", "borewright.trial"):
            if is_there(operator):
                layout.operator(operator)


def _draw_heights(layout: bpy.types.UILayout, context: bpy.types.Context, found: Found) -> None:
    """Each piece as it stands, against the envelope."""
    room = float(job_properties(context.scene).envelope[2])
    column = layout.column(align=True)
    for part in found.parts:
        if part.planned is None:
            continue
        for name, height in planned_heights(part.planned, found.asked):
            told_height = told("{height} of {room} mm", height=f"{height:.1f}", room=f"{room:g}")
            draw_fact(column, context, name, told_height)


def _draw_built(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    built: tuple[Outcome | PassedOn, ...],
) -> None:
    proofs = sum(len(outcome.checks) for outcome in built)
    draw_text(layout, context, told("{count} proofs hold", count=proofs), icon="CHECKMARK")
    source = shown_part(context)
    assert source is not None  # something was found of it
    part = part_properties(source)
    layout.row().prop(part, "place", expand=True)
    apart = layout.row()
    apart.active = part.place == "ASSEMBLED"
    apart.prop(part, "explode")


CLASSES = (BOREWRIGHT_PT_pieces,)
