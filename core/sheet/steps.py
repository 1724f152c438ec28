"""The steps at the bench for one part, in order."""

from __future__ import annotations

from ..bench.assembly import joinings
from ..recording.job_record import JobRecord, PartRecord
from .bore_steps import bore_steps, hole_steps
from .finishing_steps import coat_step, leak_steps, mouth_step, seam_steps
from .joining_steps import dry_step, joining_steps, measure_step
from .sheet_text import Step
from .tables import surveyed


def bench_steps(part: PartRecord, record: JobRecord) -> tuple[Step, ...]:
    """From measuring to the last coat; none of a part that was passed on, nor of a plan."""
    outcome, settings = surveyed(part), record.settings
    if outcome is None or not outcome.pieces:
        return ()
    joints = joinings(outcome.pieces)
    steps: list[Step] = []
    if joints:
        steps += [measure_step(outcome, settings), dry_step(joints)]
    steps += [*bore_steps(outcome, settings), *hole_steps(outcome)]
    if joints:
        steps += joining_steps(outcome, joints, settings)
    steps += [*leak_steps(outcome, joints, settings), *seam_steps(joints, settings)]
    steps.append(coat_step(outcome, settings))
    if outcome.survey.bores:
        steps.append(mouth_step())
    return tuple(steps)
