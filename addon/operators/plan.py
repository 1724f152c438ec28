"""Plan the cuts of a part anew, with the settings as they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

from ...core.errors import CoreError
from ..properties.panel_settings import part_properties, scene_of
from ..surveys import found
from ..surveys.cut_lists import PartInScene, plan_again, show_cuts
from ..surveys.found import Found
from ..surveys.replanning import is_current
from ..surveys.sources import poll_surveyed, shown_source
from ..surveys.surveying import ask, survey_and_plan
from ..words.panel_words import panel_words
from ..words.told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


class BOREWRIGHT_OT_plan(bpy.types.Operator):
    """Choose cuts anew with the present settings; cuts that are insisted on stay"""

    bl_idname = "borewright.plan"
    bl_label = "Plan Cuts"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part that was surveyed."""
        return poll_surveyed(cls, context, editing=True)

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """At once: a plan takes less than a tenth of a second, unless it needs a survey."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        try:
            planned = _planned(context, source)
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        problems = [part.problem for part in planned.parts if part.problem is not None]
        if problems:
            self.report({"WARNING"}, told("No plan: {why}", why=panel_words(str(problems[0]))))
        else:
            cuts = len(part_properties(source).cuts)
            self.report({"INFO"}, told("Cuts planned: {cuts}", cuts=cuts))
        return {"FINISHED"}


def _planned(context: bpy.types.Context, source: bpy.types.Object) -> Found:
    """What was found of an object, surveyed again if it must be, and planned.

    Raises
    ------
    CoreError : nothing can be found of it any more, or its settings contradict each other
    """
    known = found.found_of(source)
    assert known is not None  # poll has seen it
    if is_current(context, source, known):
        plan_again(PartInScene(scene_of(context), source, known))
        return known
    known = survey_and_plan(ask(context, source), lambda _stage: None)
    found.keep(source, known)
    show_cuts(source, known)
    return known
