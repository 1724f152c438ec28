"""The steps at the bench for one part, in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..bench.assembly import Joined, joinings
from ..recording.job_record import JobRecord, PartRecord
from ..values import Outcome, Settings
from .bore_steps import bore_steps, hole_steps
from .finishing_steps import coat_step, leak_steps, mouth_step, seam_steps
from .joining_steps import dry_step, joining_steps, measure_step
from .sheet_text import Step
from .tables import surveyed


def bench_steps(part: PartRecord, record: JobRecord) -> tuple[Step, ...]:
    """From measuring to the last coat; none of a part that was passed on, nor of a plan.

    A glued seam is cleaned up when it is tight, another one before ring, thread or wax go on.
    """
    outcome, settings = surveyed(part), record.settings
    if outcome is None or not outcome.pieces:
        return ()
    joints = joinings(outcome.pieces)
    steps: list[Step] = []
    if joints:
        steps += [measure_step(outcome, settings), dry_step(joints)]
    steps += [*bore_steps(outcome, settings), *hole_steps(outcome, settings)]
    seams = [*seam_steps(outcome, settings)]
    if settings.fit == "glue":
        steps += [*_joined(outcome, joints, settings), *seams]
    else:
        steps += [*seams, *_joined(outcome, joints, settings)]
    steps.append(coat_step(outcome, settings))
    if outcome.survey.bores:
        steps.append(mouth_step())
    return tuple(steps)


def _joined(outcome: Outcome, joints: Sequence[Joined], settings: Settings) -> Iterator[Step]:
    """Put together, and tried for leaks."""
    if joints:
        yield from joining_steps(outcome, joints, settings)
    yield from leak_steps(outcome, joints, settings)
