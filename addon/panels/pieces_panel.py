"""What is made of the part, and where it goes."""

from __future__ import annotations

import bpy

from ..pieces.piece_data import made_of
from ..properties.panel_settings import job_properties, part_properties
from ..surveys.found import Found
from ..surveys.sources import shown_source
from ..words.told import told
from ..work.modal_work import last_times
from .layouts import InTab, begin, draw_work_button, shown_found
from .piece_heights import planned_heights
from .settings_rows import draw_setting
from .wrapped_text import draw_fact, draw_text


class BOREWRIGHT_PT_pieces(InTab):
    """The pieces, their proofs, and the folder that they are saved to"""

    bl_idname = "BOREWRIGHT_PT_pieces"
    bl_label = "Pieces"

    def draw(self, context: bpy.types.Context) -> None:
        """Build, look, save."""
        layout = begin(self)
        job = job_properties(context.scene)
        layout.prop(job, "wind")
        draw_work_button(layout, "borewright.build")
        found, source = shown_found(context), shown_source(context)
        if found is not None:
            _draw_heights(layout, context, found)
        if found is not None and found.built is not None:
            proofs = sum(len(outcome.checks) for outcome in found.built)
            hold = told("{count} proofs hold", count=proofs)
            draw_text(layout, context, hold, icon="CHECKMARK")
        if source is not None and made_of(source) is not None:
            _draw_places(layout, context, source)
        draw_setting(layout, context, job, "folder")
        layout.prop(job, "overwrite")
        layout.operator("borewright.save").overwrite = job.overwrite
        layout.operator("borewright.open_sheet")
        layout.operator("borewright.trial")


def _draw_heights(layout: bpy.types.UILayout, context: bpy.types.Context, found: Found) -> None:
    """Each piece as it stands, against the envelope."""
    room = float(job_properties(context.scene).envelope[2])
    column = layout.column(align=True)
    for part in found.parts:
        if part.planned is None or part.settings is None:
            continue
        for name, height in planned_heights(part.planned, part.settings):
            told_height = told("{height} of {room} mm", height=f"{height:.1f}", room=f"{room:g}")
            draw_fact(column, context, name, told_height)


def _draw_places(
    layout: bpy.types.UILayout, context: bpy.types.Context, source: bpy.types.Object
) -> None:
    """Where the pieces stand, and the way back to the part."""
    part = part_properties(source)
    places = layout.row(align=True)
    places.use_property_split = False
    places.prop(part, "place", expand=True)
    apart = layout.column()
    apart.active = part.place == "ASSEMBLED"
    draw_setting(apart, context, part, "explode")
    hidden = source.hide_get()
    other = told("Show Part") if hidden else told("Show Pieces")
    layout.operator("borewright.show_part", text=other, translate=False).pieces = not hidden


class BOREWRIGHT_PT_times(InTab):
    """How long the last run took"""

    bl_idname = "BOREWRIGHT_PT_times"
    bl_label = "Times"
    bl_parent_id = "BOREWRIGHT_PT_pieces"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, _context: bpy.types.Context) -> bool:
        """Only once there was a run."""
        return last_times() is not None

    def draw(self, context: bpy.types.Context) -> None:
        """Its three parts; Blender waits for the first and the last."""
        taken = last_times()
        assert taken is not None  # poll has seen it
        column = begin(self).column(align=True)
        for name, seconds in (
            (told("Snapshot"), taken.snapshot),
            (told("Work"), taken.work),
            (told("Hand-Over"), taken.hand_over),
        ):
            draw_fact(column, context, name, told("{seconds:.2f} s", seconds=seconds))


CLASSES = (BOREWRIGHT_PT_pieces, BOREWRIGHT_PT_times)
