"""Everything that the sheet says beyond its drawings, from the record of a job."""

from __future__ import annotations

from ..recording.job_record import JobRecord, PartRecord
from .cautions import cautions_of
from .finishing_steps import care_steps
from .printing_notes import printing_notes
from .sheet_text import PartText, SheetText
from .steps import bench_steps
from .tables import part_tables
from .tuning_notes import tuning_notes

BEFORE = (
    (
        "Read the labels and safety data sheets of your products. They, your local codes and "
        "rules, and licensed trades where the law asks for them, come before anything said here."
    ),
    "Where a number is common practice, or from memory, it says so. Lengths are mm.",
)


def sheet_parts(record: JobRecord) -> SheetText:
    """Tables, notes for the printer and steps for the bench, part after part."""
    parts = tuple(_part_text(part, record) for part in record.parts)
    after = care_steps(record)
    steps = (step for part in parts for step in (*part.printing, *part.bench, *part.tuning))
    return SheetText(
        before=BEFORE,
        cautions=cautions_of((*steps, *after)),
        parts=parts,
        after=after,
    )


def _part_text(part: PartRecord, record: JobRecord) -> PartText:
    return PartText(
        name=part.outcome.name,
        tables=part_tables(part, record),
        printing=printing_notes(part, record),
        bench=bench_steps(part, record),
        tuning=tuning_notes(part, record),
    )
