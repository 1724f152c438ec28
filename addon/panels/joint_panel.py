"""What holds the pieces together."""

from __future__ import annotations

import bpy

from ...core.fitting.fit_rules import GROOVED, choose_clearance, rule_least_wall
from ...core.values import ClearanceOrigin
from ..kept_printers import kept_printer
from ..panel_settings import job_properties, part_properties
from ..properties import BOREWRIGHT_PG_job
from ..told import told
from .layouts import InTab, begin, shown_part

_ORIGINS: dict[ClearanceOrigin, str] = {
    "rule": "{clearance} mm, by the Fit",
    "profile": "{clearance} mm, the Printer's",
    "asked": "{clearance} mm",
}


class BOREWRIGHT_PT_joint(InTab):
    """Kind and fit of the joints"""

    bl_idname = "BOREWRIGHT_PT_joint"
    bl_label = "Joint"

    def draw(self, context: bpy.types.Context) -> None:
        """Kind, fit, and the gap that they come to."""
        layout = begin(self)
        job = job_properties(context.scene)
        layout.prop(job, "joint", text="Kind")
        layout.prop(job, "fit")
        draw_chosen(layout, job, "clearance", _clearance_words(job))


class BOREWRIGHT_PT_joint_limits(InTab):
    """How long joints are, and what they keep clear of"""

    bl_idname = "BOREWRIGHT_PT_joint_limits"
    bl_label = "Length and Walls"
    bl_parent_id = "BOREWRIGHT_PT_joint"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """What is set, or the rule that holds instead."""
        layout = begin(self)
        job = job_properties(context.scene)
        draw_chosen(layout, job, "engagement", told("By the Diameter"))
        layout.prop(job, "guard")
        wall = told("{wall} mm, by the Nozzle", wall=f"{rule_least_wall(job.nozzle):.2f}")
        draw_chosen(layout, job, "least_wall", wall)


class BOREWRIGHT_PT_truing(InTab):
    """Which surfaces are made exact before joints are made in them"""

    bl_idname = "BOREWRIGHT_PT_truing"
    bl_label = "Truing"
    bl_parent_id = "BOREWRIGHT_PT_joint"
    bl_options = {"DEFAULT_CLOSED"}

    def draw(self, context: bpy.types.Context) -> None:
        """Which, how far, and the bore of the part that is shown."""
        layout = begin(self)
        job = job_properties(context.scene)
        layout.prop(job, "true")
        layout.prop(job, "max_move")
        source = shown_part(context)
        if source is not None:
            draw_chosen(layout, part_properties(source), "bore", told("As Found"))


def draw_chosen(
    layout: bpy.types.UILayout, group: bpy.types.PropertyGroup, name: str, otherwise: str
) -> None:
    """A value that may be set, or what holds where it is not."""
    chosen = f"choose_{name}"
    row = layout.row(align=True, heading=group.bl_rna.properties[name].name)
    row.prop(group, chosen, text="")
    if getattr(group, chosen):
        row.prop(group, name, text="")
    else:
        row.label(text=otherwise)


def _clearance_words(job: BOREWRIGHT_PG_job) -> str:
    """The gap that holds where none is set."""
    fit = job.fit
    if fit == "AUTO":
        fit = "take-apart" if job.joint in GROOVED else "glue"
    profile = kept_printer(job.profile) if job.profile else None
    known = choose_clearance(fit, job.nozzle, asked=None, profile=profile)
    return told(_ORIGINS[known.origin], clearance=f"{known.radial_clearance:.2f}")


CLASSES = (BOREWRIGHT_PT_joint, BOREWRIGHT_PT_joint_limits, BOREWRIGHT_PT_truing)
