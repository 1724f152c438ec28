"""The printer, and what is kept of it."""

from __future__ import annotations

import bpy

from ..profiles.kept_printers import kept_now, kept_printer
from ..properties.panel_settings import job_properties
from ..words.told import told
from .layouts import InTab, begin
from .settings_rows import draw_lengths, draw_setting
from .wrapped_text import draw_text, fits_in_sidebar


class BOREWRIGHT_MT_printers(bpy.types.Menu):
    """Kept printers"""

    bl_idname = "BOREWRIGHT_MT_printers"
    bl_label = "Printers"

    def draw(self, _context: bpy.types.Context) -> None:
        """Each by its name."""
        layout = self.layout
        kept = kept_now()
        for profile in kept.profiles:
            entry = layout.operator("borewright.choose_printer", text=profile.name, translate=False)
            entry.name = profile.name
        if not kept.profiles:
            layout.label(text=told("No printer is kept yet"), translate=False)
        for unreadable in kept.unreadable:
            layout.label(
                text=told("{file} cannot be read", file=unreadable.path.name),
                translate=False,
                icon="ERROR",
            )


class BOREWRIGHT_PT_printer(InTab):
    """The printer that the pieces have to fit"""

    bl_idname = "BOREWRIGHT_PT_printer"
    bl_label = "Printer"

    def draw(self, context: bpy.types.Context) -> None:
        """Which one, and its size."""
        layout = begin(self)
        job = job_properties(context.scene)
        row = layout.row(align=True)
        chosen = job.profile or told("Choose Printer")
        row.menu("BOREWRIGHT_MT_printers", text=chosen, translate=False)
        row.operator("borewright.save_printer", text="", icon="ADD")
        row.operator("borewright.remove_printer", text="", icon="REMOVE")
        if not fits_in_sidebar(context, job.profile):
            draw_text(layout, context, job.profile)
        if job.profile and kept_printer(job.profile) is None:
            gone = told("{name} is no longer kept: choose another, or save it", name=job.profile)
            draw_text(layout, context, gone, icon="ERROR")
        draw_lengths(layout, context, job, "envelope")
        lines = layout.column(align=True)
        draw_setting(lines, context, job, "nozzle")
        draw_setting(lines, context, job, "layer")


class BOREWRIGHT_PT_compensation(InTab):
    """What the printer does to sizes, made good in the files"""

    bl_idname = "BOREWRIGHT_PT_compensation"
    bl_label = "Compensation"
    bl_parent_id = "BOREWRIGHT_PT_printer"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """What is made good, and how far sizes are off otherwise."""
        job = job_properties(context.scene)
        column = begin(self).column()
        for name in ("hole_undersize", "first_layer_bulge", "shrink", "spread"):
            draw_setting(column, context, job, name)


class BOREWRIGHT_PT_filament(InTab):
    """What the pieces are printed of, for how much of it they take"""

    bl_idname = "BOREWRIGHT_PT_filament"
    bl_label = "Filament"
    bl_parent_id = "BOREWRIGHT_PT_printer"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """The plastic, and how it is laid."""
        job = job_properties(context.scene)
        column = begin(self).column()
        for name in ("material", "filament", "lines", "solid_layers", "infill", "flow"):
            draw_setting(column, context, job, name)


class BOREWRIGHT_PT_beds(InTab):
    """How pieces stand together on the printer's bed"""

    bl_idname = "BOREWRIGHT_PT_beds"
    bl_label = "Beds"
    bl_parent_id = "BOREWRIGHT_PT_printer"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """How far apart."""
        draw_setting(begin(self), context, job_properties(context.scene), "spacing")


CLASSES = (
    BOREWRIGHT_MT_printers,
    BOREWRIGHT_PT_printer,
    BOREWRIGHT_PT_compensation,
    BOREWRIGHT_PT_filament,
    BOREWRIGHT_PT_beds,
)
