"""What the panels share: the tab that they are in, and what several of them draw."""

from __future__ import annotations

import bpy

from ...core.errors import CoreError
from ..surveys.found import Found, found_of
from ..surveys.sources import no_part_words, shown_source
from ..words.panel_words import panel_words
from ..words.told import told
from ..work.modal_work import STAGES, running_stage, stage_words
from .wrapped_text import draw_text


class InTab(bpy.types.Panel):
    """What every panel of the tab is; itself it is none."""

    bl_space_type = "VIEW_3D"
    bl_region_type = "UI"
    bl_category = "Borewright"


def shown_found(context: bpy.types.Context) -> Found | None:
    """What was found of that object, if it was surveyed."""
    part = shown_source(context)
    return None if part is None else found_of(part)


def begin(panel: bpy.types.Panel) -> bpy.types.UILayout:
    """The panel's layout, with names beside values and nothing to animate."""
    layout = panel.layout
    assert layout is not None  # it is being drawn
    layout.use_property_split = True
    layout.use_property_decorate = False
    return layout


def draw_work_button(layout: bpy.types.UILayout, operator: str) -> None:
    """The button of an operator that takes long, or how far the work is that goes on."""
    stage = running_stage()
    if stage is None:
        layout.operator(operator)
        return
    known = [number for number, name in enumerate(STAGES) if stage.startswith(name)]
    layout.progress(
        factor=(known[0] + 0.5 if known else 0.0) / len(STAGES),
        text=told("{stage}, Esc cancels", stage=stage_words(stage) or told("Begins")),
        translate=False,
    )


def draw_no_part(layout: bpy.types.UILayout, context: bpy.types.Context) -> None:
    """That a part has to be made active first, or why another one than this has."""
    draw_text(layout, context, no_part_words(context), icon="INFO")


def draw_problem(
    layout: bpy.types.UILayout, context: bpy.types.Context, title: str, problem: CoreError
) -> None:
    """Why something cannot be done: found, needed, and what to try."""
    head = layout.row()
    head.alert = True
    head.label(text=title, translate=False, icon="ERROR")
    lines = layout.column(align=True)
    draw_text(lines, context, told("Found: {found}", found=panel_words(problem.found)))
    draw_text(lines, context, told("Needed: {needed}", needed=panel_words(problem.needed)))
    draw_text(lines, context, told("Try: {remedy}", remedy=panel_words(problem.remedy)))
    if problem.places:
        layout.operator("borewright.show_place")


def draw_sentences(
    layout: bpy.types.UILayout, context: bpy.types.Context, sentences: tuple[str, ...]
) -> None:
    """Notes, one after the other."""
    for sentence in sentences:
        draw_text(layout, context, panel_words(sentence), icon="DOT")
