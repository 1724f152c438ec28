"""What holds the pieces together."""

from __future__ import annotations

import bpy

from ...core.fitting.fit_rules import GROOVED, choose_clearance, rule_least_wall
from ...core.values import ClearanceOrigin
from ..profiles.kept_printers import kept_printer
from ..properties.groups import BOREWRIGHT_PG_job
from ..properties.panel_settings import job_properties, part_properties
from ..surveys.sources import shown_source
from ..words.told import told
from .layouts import InTab, begin
from .settings_rows import draw_chosen, draw_setting

_ORIGINS: dict[ClearanceOrigin, str] = {
    "rule": "By the Fit",
    "profile": "The Printer's",
    "asked": "As Set",
}


class BOREWRIGHT_PT_joint(InTab):
    """Kind and fit of the joints"""

    bl_idname = "BOREWRIGHT_PT_joint"
    bl_label = "Joint"

    def draw(self, context: bpy.types.Context) -> None:
        """Kind, fit, and the gap that they come to."""
        layout = begin(self)
        job = job_properties(context.scene)
        draw_setting(layout, context, job, "joint", name=told("Kind"))
        draw_setting(layout, context, job, "fit")
        gap, origin = _clearance_words(job)
        draw_chosen(layout, context, job, "clearance", gap, origin)


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
        draw_chosen(layout, context, job, "engagement", told("By the Diameter"))
        draw_setting(layout, context, job, "guard")
        wall = told("{length} mm", length=f"{rule_least_wall(job.nozzle):.2f}")
        draw_chosen(layout, context, job, "least_wall", wall, told("By the Nozzle"))


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
        draw_setting(layout, context, job, "true")
        draw_setting(layout, context, job, "max_move")
        source = shown_source(context)
        if source is not None:
            draw_chosen(layout, context, part_properties(source), "bore", told("As Found"))


def _clearance_words(job: BOREWRIGHT_PG_job) -> tuple[str, str]:
    """The gap that holds where none is set, and where it is from."""
    fit = job.fit
    if fit == "AUTO":
        fit = "take-apart" if job.joint in GROOVED else "glue"
    profile = kept_printer(job.profile) if job.profile else None
    known = choose_clearance(fit, job.nozzle, asked=None, profile=profile)
    gap = told("{length} mm", length=f"{known.radial_clearance:.2f}")
    return gap, told(_ORIGINS[known.origin])


CLASSES = (BOREWRIGHT_PT_joint, BOREWRIGHT_PT_joint_limits, BOREWRIGHT_PT_truing)
