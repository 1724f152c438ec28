"""A fit trial, of given sizes or of a part's own joint, to a folder with one file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from ...core.job import plan_parts
from ...core.trial.make_trial import make_trial
from ...core.trial.trial_record import trial_document
from ...core.trial.trial_set import FitTrial
from ...core.trial.trial_words import trial_summary
from ...core.trial.tried_joint import TriedCollar, TriedJoint, joint_of_plans, joint_of_sizes
from ...core.values import Outcome, Settings
from ..saving.job_files import save_trial
from ..saving.json_text import json_text
from ..saving.output_folder import check_output, new_output
from ..saving.own_files import RECORD
from .headless import JobTold
from .job_settings import JobAsked, check_own_names, settings_of
from .part_files import in_unit, read_file
from .stage_clock import StageClock


@dataclass(frozen=True, slots=True)
class TrialAsked:
    """What a trial is to be of.

    settings : for the joint and, of a part, for all of its plan
    envelope : mm, that the rings have to fit; None: any
    out : the folder to make
    """

    settings: Settings
    envelope: tuple[float, float, float] | None
    out: Path
    overwrite: bool


def trial_of_sizes(asked: TrialAsked, bore: float, wall: float, clock: StageClock) -> JobTold:
    """The rings for a tube of a bore and a wall; of a solid round, bore 0, for its radius.

    Raises
    ------
    CoreError : it cannot be done; the output folder and its parent are as they were
    """
    return _saved(asked, lambda: (joint_of_sizes(bore, wall, asked.settings), ()), clock)


def trial_of_part(job: JobAsked, number: int, clock: StageClock) -> JobTold:
    """The rings for a joint of the plan that a job of one part would make, from 1 at its low end.

    Raises
    ------
    CoreError : as `trial_of_sizes`
    """
    assert job.out is not None
    asked = TrialAsked(job.settings, job.settings.envelope, job.out, job.overwrite)
    return _saved(asked, lambda: _planned(job, number, clock), clock)


def _planned(
    job: JobAsked, number: int, clock: StageClock
) -> tuple[TriedJoint | TriedCollar, tuple[str, ...]]:
    (path,), (name,) = job.paths, job.stems
    part = in_unit(read_file(path, name, clock), job.settings)
    scale = part.unit.scale_to_mm
    outcomes = plan_parts(part.mesh, name, partial(settings_of, job), scale, clock.start)
    check_own_names(job, [one.name for one in outcomes])
    own = (*part.remarks, *(said for one in outcomes for said in one.warnings))
    surveyed = [one for one in outcomes if isinstance(one, Outcome)]
    return joint_of_plans(surveyed, number, job.settings), own


def _saved(
    asked: TrialAsked,
    joint: Callable[[], tuple[TriedJoint | TriedCollar, tuple[str, ...]]],
    clock: StageClock,
) -> JobTold:
    """Make the rings and save them, with job.json."""
    place = check_output(asked.out, overwrite=asked.overwrite)
    tried, remarks = joint()
    clock.start("build and prove")
    trial = make_trial(tried, asked.envelope)
    clock.start("save")
    with new_output(place) as folder:
        told = _save(trial, remarks, folder)
    clock.stop()
    return told


def _save(trial: FitTrial, remarks: tuple[str, ...], folder: Path) -> JobTold:
    saved = save_trial(trial, folder).saved
    told = JobTold(
        record=json_text(trial_document(trial, saved, remarks)),
        summary=trial_summary(trial, saved.file, remarks),
    )
    (folder / RECORD).write_text(told.record, encoding="utf-8")
    return told
