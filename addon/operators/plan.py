"""Plan the cuts of a part anew, with the settings as they are."""

from __future__ import annotations

import bpy

from ..properties.panel_settings import part_properties
from ..surveys import watching
from ..surveys.found import Found, look_again
from ..surveys.sources import poll_surveyed, shown_source, source_by_uid
from ..surveys.surveying import Wanted, keep_planned, want
from ..words.panel_words import panel_words
from ..words.told import told
from ..work.modal_work import ModalWork, TakenOver
from ..work.worker import Progress


class BOREWRIGHT_OT_plan(ModalWork[Wanted, Found], bpy.types.Operator):
    """Choose seams anew with the present settings; seams that are insisted on stay"""

    bl_idname = "borewright.plan"
    bl_label = "Plan Seams"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part that was surveyed."""
        return poll_surveyed(cls, context, editing=True)

    def snapshot(self, context: bpy.types.Context) -> Wanted:
        """The active object's plan, or its mesh where it has to be surveyed again."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        watching.watch([source.session_uid])
        return want(context, source)

    def compute(self, snapshot: Wanted, progress: Progress) -> Found:
        """The plan with these settings."""
        return snapshot.found(progress)

    def take_over(self, context: bpy.types.Context, snapshot: Wanted, result: Found) -> TakenOver:
        """Keep it, and list its cuts."""
        source = source_by_uid(snapshot.session_uid)
        if source is None:
            gone = told("{name} was deleted meanwhile", name=snapshot.name)
            return TakenOver(gone, warning=True, changed=False)
        kept = keep_planned(source, result)
        kept.suspect |= watching.changed(snapshot.session_uid)
        look_again(context, source, kept)
        problems = [part.problem for part in result.parts if part.problem is not None]
        if problems:
            why = panel_words(str(problems[0]))
            return TakenOver(told("No plan: {why}", why=why), warning=True)
        return TakenOver(told("Seams planned: {seams}", seams=len(part_properties(source).cuts)))
