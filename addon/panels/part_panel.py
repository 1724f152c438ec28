"""What the part is."""

from __future__ import annotations

import bpy

from ...core.errors import NotTubular
from ...core.stages import KnownPart
from ...core.values import Survey
from ..properties.panel_settings import job_properties
from ..surveys.found import Found, FoundPart, refusal_of
from ..surveys.sources import shown_source
from ..words.panel_words import panel_words
from ..words.told import told
from .layouts import (
    InTab,
    begin,
    draw_no_part,
    draw_problem,
    draw_sentences,
    draw_work_button,
    shown_found,
)
from .settings_rows import draw_setting
from .survey_words import (
    axis_words,
    hole_words,
    surface_words,
    unit_words,
    wall_words,
)
from .wrapped_text import draw_fact, draw_text


class BOREWRIGHT_PT_part(InTab):
    """The part, its unit, and what was found of it"""

    bl_idname = "BOREWRIGHT_PT_part"
    bl_label = "Part"

    def draw(self, context: bpy.types.Context) -> None:
        """The button first, then what it came to."""
        layout = begin(self)
        draw_work_button(layout, "borewright.survey")
        draw_setting(layout, context, job_properties(context.scene), "unit")
        part = shown_source(context)
        if part is None:
            draw_no_part(layout, context)
            return
        found = shown_found(context)
        refused = refusal_of(part)
        if refused is not None:
            draw_problem(layout, context, told("It Cannot Be Surveyed"), refused.problem)
            return
        if found is None:
            draw_fact(layout, context, told("Object"), part.name)
            draw_text(layout, context, told("Not surveyed yet"), icon="INFO")
            return
        if found.stale:
            stale = told("The object has changed since it was surveyed: survey it again")
            draw_text(layout, context, stale, icon="FILE_REFRESH")
        facts = layout.column(align=True)
        draw_fact(facts, context, told("Object"), part.name)
        draw_fact(facts, context, told("Read As"), *_read_as(found))
        _draw_found(facts, context, found)


def _read_as(found: Found) -> tuple[str, ...]:
    """The unit that was taken, and how it came to that."""
    unit = unit_words(found.source.scale_to_mm)
    return (unit, told("By its size")) if found.source.remark else (unit,)


def _draw_found(layout: bpy.types.UILayout, context: bpy.types.Context, found: Found) -> None:
    for part in found.parts:
        body = body_layout(layout, found, part, "found")
        if body is not None:
            _draw_body(body, context, part)
    mended = tuple(said for said in found.remarks if said != found.source.remark)
    draw_sentences(layout, context, mended)


def body_layout(
    layout: bpy.types.UILayout, found: Found, part: FoundPart, what: str
) -> bpy.types.UILayout | None:
    """Where one body of several is told of, under its name; None: it is closed."""
    if len(found.parts) == 1:
        return layout
    header, body = layout.panel(f"borewright_{what}_{found.parts.index(part)}")
    header.label(text=part.name, translate=False)
    return body


def _draw_body(layout: bpy.types.UILayout, context: bpy.types.Context, part: FoundPart) -> None:
    if isinstance(part.known, NotTubular):
        why = told("Its shape is not understood: {why}", why=panel_words(part.known.found))
        draw_text(layout, context, why, icon="INFO")
        return
    survey = part.known.survey
    draw_fact(layout, context, told("Axis"), axis_words(survey))
    draw_fact(layout, context, told("Length"), told("{length} mm", length=f"{survey.length:.2f}"))
    bores = surface_words(survey.bores, survey.length)
    draw_fact(layout, context, told("Bore"), *(bores or (told("None: the part is solid"),)))
    outsides = surface_words(survey.outsides, survey.length)
    draw_fact(layout, context, told("Outside"), *(outsides or (told("Not round"),)))
    draw_fact(layout, context, told("Wall"), *wall_words(survey))
    draw_fact(layout, context, told("Side Holes"), str(len(survey.side_holes)))


class BOREWRIGHT_PT_side_holes(InTab):
    """Where each side hole of the part is"""

    bl_idname = "BOREWRIGHT_PT_side_holes"
    bl_label = "Side Holes"
    bl_parent_id = "BOREWRIGHT_PT_part"
    bl_options = {"DEFAULT_CLOSED"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only where there are some."""
        found = shown_found(context)
        return found is not None and any(survey.side_holes for survey in _surveys(found))

    def draw(self, context: bpy.types.Context) -> None:
        """Each with its station and widths, in mm."""
        found = shown_found(context)
        assert found is not None  # poll has seen it
        for part in found.parts:
            if not isinstance(part.known, KnownPart):
                continue
            column = self.layout.column(align=True)
            if len(found.parts) > 1:
                column.label(text=part.name, translate=False)
            for hole in part.known.survey.side_holes:
                draw_fact(column, context, *hole_words(hole))


def _surveys(found: Found) -> list[Survey]:
    return [part.known.survey for part in found.parts if isinstance(part.known, KnownPart)]


CLASSES = (BOREWRIGHT_PT_part, BOREWRIGHT_PT_side_holes)
