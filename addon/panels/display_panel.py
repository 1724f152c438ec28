"""What the viewport shows of the plan."""

from __future__ import annotations

import bpy

from ..properties.panel_settings import job_properties
from .layouts import InTab, begin


class BOREWRIGHT_PT_display(InTab):
    """What the viewport shows of the plan"""

    bl_idname = "BOREWRIGHT_PT_display"
    bl_label = "Show Plan"
    bl_parent_id = "BOREWRIGHT_PT_cuts"
    bl_options = {"DEFAULT_CLOSED"}

    def draw_header(self, context: bpy.types.Context) -> None:
        """Whether anything is shown."""
        self.layout.prop(job_properties(context.scene), "show_overlay", text="")

    def draw(self, context: bpy.types.Context) -> None:
        """What of it."""
        layout = begin(self)
        job = job_properties(context.scene)
        layout.active = job.show_overlay
        for name in ("show_holes", "show_stretches", "show_sizes"):
            layout.prop(job, name)


CLASSES = (BOREWRIGHT_PT_display,)
