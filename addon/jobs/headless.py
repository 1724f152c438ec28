"""A whole job from mesh files to a folder of pieces and beds."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Protocol

from ...core.errors import BadSetting, CoreError
from ...core.fitting.fit_rules import fit_notes
from ...core.job import named_part, naming, plan_parts, split_parts
from ...core.recording.changes import changes_words
from ...core.recording.draft import draft_files
from ...core.recording.job_record import JobRecord, PartRecord
from ...core.recording.report import job_document
from ...core.recording.summary import job_summary
from ...core.sheet.page import sheet_html
from ...core.stages import Progress, SettingsOf, survey_planned
from ...core.trial.make_trial import make_trial
from ...core.trial.trial_set import FitTrial
from ...core.trial.tried_joint import joint_of_plans
from ...core.values import Mesh, Outcome, PassedOn
from ..saving.job_files import save_job
from ..saving.json_text import json_text
from ..saving.output_folder import check_output, new_output
from ..saving.own_files import RECORD, TIMINGS
from .job_settings import JobAsked, check_own_names, settings_of
from .part_demands import telling_of_names
from .part_files import FileRead, PartRead, in_units, read_file
from .stage_clock import StageClock


@dataclass(frozen=True, slots=True)
class JobTold:
    """What a job came to, for a program and for a person.

    record : the text of job.json
    summary : a table
    """

    record: str
    summary: str


def split(asked: JobAsked, *, clock: StageClock) -> JobTold:
    """Split the parts of all files that need it; save pieces, beds, job.json and timings.json.

    Raises
    ------
    CoreError : it cannot be done; the output folder and its parent are as they were
    """
    assert asked.out is not None
    place = check_output(asked.out, overwrite=asked.overwrite)
    began = time.perf_counter()
    files = _read(asked, clock)
    imported = time.perf_counter()
    read = in_units(files, asked.settings)
    parts = _each_file(split_parts, asked, read, clock.start)
    proven = time.perf_counter()
    job = _recorded(asked, read, parts)
    trial = _trial(asked, job, clock)
    clock.start("save")
    job = draft_files(job, trial)
    page = sheet_html(job)
    with new_output(place) as folder:
        told = _tell(asked, save_job(job, page, folder))
        (folder / RECORD).write_text(told.record, encoding="utf-8")
        timings = {
            "import_s": imported - began,
            "core_s": proven - imported,
            "export_s": time.perf_counter() - proven,
        }
        (folder / TIMINGS).write_text(json_text(timings), encoding="utf-8")
    clock.stop()
    return told


def plan(asked: JobAsked, *, clock: StageClock) -> JobTold:
    """What `split` would do. Writes nothing.

    Raises
    ------
    CoreError : it cannot be done
    """
    read = in_units(_read(asked, clock), asked.settings)
    parts = _each_file(plan_parts, asked, read, clock.start)
    parts = tuple(_with_choices(part, asked) for part in parts)
    job = _recorded(asked, read, parts)
    _trial(asked, job, clock)  # refused here as it would be there
    clock.stop()
    return _tell(asked, job)


def _with_choices(part: PartRecord, asked: JobAsked) -> PartRecord:
    """A planned part with what its plan was chosen from."""
    outcome = part.outcome
    if isinstance(outcome, PassedOn):
        return part
    return replace(part, choices=survey_planned(outcome, settings_of(asked, outcome.name)))


def _read(asked: JobAsked, clock: StageClock) -> list[FileRead]:
    return [
        read_file(path, name, clock) for path, name in zip(asked.paths, asked.stems, strict=True)
    ]


class _DoFile(Protocol):
    """`split_parts` or `plan_parts`."""

    def __call__(
        self,
        mesh: Mesh,
        name: str,
        settings_of: SettingsOf,
        scale_to_mm: float,
        progress: Progress,
        /,
    ) -> tuple[Outcome | PassedOn, ...]: ...


def _each_file(
    do: _DoFile, asked: JobAsked, read: Sequence[PartRead], progress: Progress
) -> tuple[PartRecord, ...]:
    """What all parts of all files came to; of several files, each told by its name."""
    do_file = do if len(read) == 1 else partial(_do_one_of_several, do)
    settings = partial(settings_of, asked)
    with telling_of_names(asked.settings):
        parts = tuple(
            PartRecord(file.source, outcome)
            for file in read
            for outcome in do_file(file.mesh, file.name, settings, file.unit.scale_to_mm, progress)
        )
    _check_names(parts)
    check_own_names(asked, [part.outcome.name for part in parts])
    return parts


def _do_one_of_several(
    do: _DoFile,
    mesh: Mesh,
    name: str,
    settings: SettingsOf,
    scale_to_mm: float,
    progress: Progress,
    /,
) -> tuple[Outcome | PassedOn, ...]:
    """As `do`, with all that is told of the file told by its name."""
    with named_part(name):
        outcomes = do(mesh, name, settings, scale_to_mm, naming(progress, name))
    return tuple(_told_by_name(outcome, name) for outcome in outcomes)


def _told_by_name(outcome: Outcome | PassedOn, name: str) -> Outcome | PassedOn:
    """What is to be told of a part begins with its name, or that of its file."""
    told = tuple(
        said if said.startswith(f"{outcome.name}: ") else f"{name}: {said}"
        for said in outcome.warnings
    )
    return replace(outcome, warnings=told)


def _check_names(parts: Sequence[PartRecord]) -> None:
    """Bodies of one file are lettered: another file's name may be just that.

    Raises
    ------
    BadSetting : two parts of one name
    """
    counts = Counter(part.outcome.name.casefold() for part in parts)
    name, times = counts.most_common(1)[0]
    if times > 1:
        files = [part.source.file for part in parts if part.outcome.name.casefold() == name]
        raise BadSetting(
            f"{times} parts of the name {name}, in {' and '.join(files)}",
            "a name of its own for each part",
            "another name for one of the files",
        )


def _recorded(
    asked: JobAsked, read: Sequence[PartRead], parts: tuple[PartRecord, ...]
) -> JobRecord:
    """The job as far as it goes without files."""
    remarks = [said for file in read for said in file.remarks]
    jointed = bool(_jointed(parts))
    if asked.with_trial and not jointed:
        remarks.append("No fit trial was made: there is no joint to try.")
    return JobRecord(
        settings=asked.settings,
        parts=parts,
        warnings=(*remarks, *fit_notes(asked.settings, jointed=jointed)),
        own=asked.own,
    )


def _jointed(parts: Sequence[PartRecord]) -> list[Outcome]:
    """The parts that have joints."""
    outcomes = [part.outcome for part in parts]
    return [one for one in outcomes if isinstance(one, Outcome) and one.plan.joints]


def _trial(asked: JobAsked, job: JobRecord, clock: StageClock) -> FitTrial | None:
    """The rings that try the first joint, where they are asked for and there is one."""
    jointed = _jointed(job.parts)
    if not asked.with_trial or not jointed:
        return None
    clock.start("fit trial")
    first = jointed[0]
    settings = settings_of(asked, first.name)
    try:
        return make_trial(joint_of_plans([first], 1, settings), settings.envelope)
    except CoreError as problem:
        problem.found = f"for --trial, of the first joint of {first.name}: {problem.found}"
        problem.remedy = f"the job without --trial; or by itself, {problem.remedy}"
        raise


def _tell(asked: JobAsked, job: JobRecord) -> JobTold:
    if asked.repeats is not None:
        moved = changes_words(asked.repeats.document, job_document(job))
        job = replace(job, since=str(asked.repeats.file), changes=moved)
    return JobTold(record=json_text(job_document(job)), summary=job_summary(job))
