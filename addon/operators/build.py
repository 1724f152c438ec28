"""Build the pieces of the chosen parts as they are planned, and prove them."""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter

import bpy

from ...core.errors import CoreError
from ..pieces import piece_objects
from ..pieces.built_job import BuiltJob, built_job
from ..surveys import watching
from ..surveys.found import Found, build_found, found_of, look_again, note_change
from ..surveys.sources import chosen_sources, poll_surveyed, source_by_uid
from ..surveys.surveying import Wanted, as_kept, keep_planned, want
from ..words.told import told
from ..work.modal_work import ModalWork, TakenOver
from ..work.worker import Progress


@dataclass(frozen=True, slots=True, eq=False)
class _Built:
    """What one object came to.

    built : pieces with the record that they are saved with, or why there are none
    """

    wanted: Wanted
    known: Found
    built: BuiltJob | CoreError


class BOREWRIGHT_OT_build(ModalWork[tuple[Wanted, ...], tuple[_Built, ...]], bpy.types.Operator):
    """Build the planned pieces of the selected parts and prove them; the parts stay as they are"""

    bl_idname = "borewright.build"
    bl_label = "Build Pieces"
    bl_options = {"REGISTER", "UNDO"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part that was surveyed."""
        return poll_surveyed(cls, context)

    def snapshot(self, context: bpy.types.Context) -> tuple[Wanted, ...]:
        """Plans with the settings as they are; meshes where they are not as they were surveyed."""
        wanted = tuple(
            want(context, source)
            for source in chosen_sources(context)
            if found_of(source) is not None
        )
        watching.watch(one.session_uid for one in wanted)
        return wanted

    def compute(self, snapshot: tuple[Wanted, ...], progress: Progress) -> tuple[_Built, ...]:
        """One after the other."""
        return tuple(_build(one, progress) for one in snapshot)

    def take_over(
        self, context: bpy.types.Context, snapshot: tuple[Wanted, ...], result: tuple[_Built, ...]
    ) -> TakenOver:
        """Show the pieces of all, or of none."""
        del snapshot
        for one in result:
            if isinstance(one.built, CoreError):
                raise one.built
            unfit = _unfit(context, one)
            if unfit is not None:
                return TakenOver(unfit, warning=True, changed=False)
        for one in result:
            _show(context, one)
        return TakenOver(_told(result))


def _build(wanted: Wanted, progress: Progress) -> _Built:
    known = wanted.found(progress)
    built: BuiltJob | CoreError
    try:
        built = _built_job(wanted.name, known, progress)
    except CoreError as problem:
        built = problem
    return _Built(wanted, known, built)


def _built_job(name: str, known: Found, progress: Progress) -> BuiltJob:
    began = perf_counter()
    outcomes = build_found(known, progress)
    core_s = known.survey_s + perf_counter() - began
    progress("pack beds")
    settings = [part.settings for part in known.parts if part.settings is not None]
    return built_job(known.source, name, outcomes, settings, import_s=known.read_s, core_s=core_s)


def _unfit(context: bpy.types.Context, one: _Built) -> str | None:
    """Why the pieces of an object cannot be shown: it is gone, or another one by now."""
    source = source_by_uid(one.wanted.session_uid)
    if source is None:
        return told("{name} was deleted meanwhile; no pieces were made", name=one.wanted.name)
    kept = as_kept(source, one.known)
    kept.suspect |= watching.changed(one.wanted.session_uid)
    look_again(context, source, kept)
    if kept.stale:
        return told("{name} was changed meanwhile; build its pieces again", name=source.name)
    return None


def _show(context: bpy.types.Context, one: _Built) -> None:
    source = source_by_uid(one.wanted.session_uid)
    assert source is not None
    assert not isinstance(one.built, CoreError)
    kept = keep_planned(source, one.known)
    piece_objects.show(context, source, one.built)
    kept.built = one.built.outcomes
    note_change(kept)


def _told(result: tuple[_Built, ...]) -> str:
    """What was made, in one line."""
    jobs = [one.built for one in result if not isinstance(one.built, CoreError)]
    outcomes = [outcome for job in jobs for outcome in job.outcomes]
    return told(
        "Pieces: {pieces}; proofs that hold: {proofs}",
        pieces=sum(len(outcome.pieces) for outcome in outcomes),
        proofs=sum(len(outcome.checks) for outcome in outcomes),
    )
