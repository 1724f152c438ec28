"""Survey the chosen parts, and plan their seams."""

from __future__ import annotations

from dataclasses import dataclass

import bpy

from ...core.values import Outcome
from ..properties.panel_settings import job_properties, scene_of
from ..properties.preferences import take_default_printer
from ..surveys import found, watching
from ..surveys.cut_lists import show_cuts
from ..surveys.found import Found, Refused
from ..surveys.sources import chosen_sources, poll_mesh, source_by_uid
from ..surveys.surveying import Asked, ask, try_survey
from ..words.panel_words import panel_words
from ..words.told import told
from ..work.modal_work import ModalWork, TakenOver
from ..work.worker import Progress


@dataclass(frozen=True, slots=True, eq=False)
class _Surveyed:
    """What one object came to."""

    asked: Asked
    came_to: Found | Refused


class BOREWRIGHT_OT_survey(ModalWork[tuple[Asked, ...], tuple[_Surveyed, ...]], bpy.types.Operator):
    """Find axis, bore, outside, walls and side holes of the selected parts, and plan their seams"""

    bl_idname = "borewright.survey"
    bl_label = "Survey Part"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """On a mesh; while it is edited as well, for it is only read."""
        return poll_mesh(cls, context, editing=True)

    def snapshot(self, context: bpy.types.Context) -> tuple[Asked, ...]:
        """The meshes of all chosen objects; a scene without a printer takes the default one."""
        take_default_printer(job_properties(scene_of(context)))
        asked = tuple(ask(context, source) for source in chosen_sources(context))
        watching.watch(one.session_uid for one in asked)
        return asked

    def compute(self, snapshot: tuple[Asked, ...], progress: Progress) -> tuple[_Surveyed, ...]:
        """One after the other; what is refused does not keep others from it."""
        return tuple(_Surveyed(one, try_survey(one, progress)) for one in snapshot)

    def take_over(
        self,
        context: bpy.types.Context,
        snapshot: tuple[Asked, ...],
        result: tuple[_Surveyed, ...],
    ) -> TakenOver:
        """Keep what was found, and show the cuts."""
        del snapshot
        told_of = [_keep(context, one) for one in result]
        if all(isinstance(one.came_to, Refused) for one in result):
            first = result[0].came_to
            assert isinstance(first, Refused)
            raise first.problem
        good = [one for one in told_of if one.changed]
        bad = [one for one in told_of if one.warning]
        shown = bad or good
        summary = "; ".join(one.summary for one in shown[:_MOST_TOLD])
        if len(told_of) > 1:
            summary = told(
                "{count} of {all} parts surveyed: {each}",
                count=len(good),
                all=len(told_of),
                each=summary,
            )
        return TakenOver(summary, warning=bool(bad), changed=bool(good))


_MOST_TOLD = 3
"""Parts that a report tells of; the panel has them all."""


def _keep(context: bpy.types.Context, surveyed: _Surveyed) -> TakenOver:
    """Keep what was found of one object, and tell it."""
    asked, came_to = surveyed.asked, surveyed.came_to
    source = source_by_uid(asked.session_uid)
    if source is None:
        gone = told("{name} was deleted meanwhile", name=asked.name)
        return TakenOver(gone, warning=True, changed=False)
    if isinstance(came_to, Refused):
        found.keep_refusal(source, came_to)
        refused = f"{source.name}: {panel_words(str(came_to.problem))}"
        return TakenOver(refused, warning=True, changed=False)
    found.keep(source, came_to)
    came_to.suspect = watching.changed(asked.session_uid)
    found.look_again(context, source, came_to)
    show_cuts(source, came_to)
    if came_to.stale:
        changed = told("{name} was changed meanwhile; survey it again", name=source.name)
        return TakenOver(changed, warning=True)
    return _told(source.name, came_to)


def _told(name: str, came_to: Found) -> TakenOver:
    """One object in a line."""
    problems = [part.problem for part in came_to.parts if part.problem is not None]
    if problems:
        why = panel_words(str(problems[0]))
        return TakenOver(
            told("{name} was surveyed; no plan, {why}", name=name, why=why), warning=True
        )
    plans = [part.planned.plan for part in came_to.parts if isinstance(part.planned, Outcome)]
    cuts = sum(len(plan.cuts) for plan in plans)
    if not plans:
        return TakenOver(told("{name} fits; its shape is not understood", name=name))
    if not cuts:
        return TakenOver(told("{name} was surveyed; it fits in one piece", name=name))
    return TakenOver(told("{name} was surveyed; seams planned: {seams}", name=name, seams=cuts))
