"""What the split does to a wind instrument's tuning: only of parts told to be one."""

from __future__ import annotations

from collections.abc import Iterator

from ..acoustics.note_lengths import HoleTuning
from ..acoustics.tuning import (
    MODES,
    SEAM_GAP,
    TEMPERATURE_C,
    ColumnTuning,
    JointTuning,
    Tuning,
    note_cents,
)
from ..recording.job_record import JobRecord, PartRecord
from ..recording.tuning_words import (
    ABOUT,
    NO_COLUMN,
    cents_text,
    column_name,
    column_values,
    ends_sentence,
    width_sentence,
)
from ..values import Settings
from .cautions import make_step
from .sheet_text import Step, Table, Value

SOURCES = (
    "Formulas: end correction of an open end by Levine and Schwinger (1948), disturbed bores by "
    "Rayleigh, The Theory of Sound, section 265, holes by Benade, Fundamentals of Musical "
    "Acoustics (1976); speed of sound in dry air by Kinsler and others, Fundamentals of Acoustics."
)

_HEARD = "About 5 cents is what a practised ear tells apart, one tone after the other; from memory."


def tuning_notes(part: PartRecord, record: JobRecord) -> tuple[Step, ...]:
    """Length, joints, holes, and how to compare; nothing unless it is asked for."""
    tuning = part.tuning(record.settings)
    if tuning is None:
        return ()
    if not tuning.columns:
        return (make_step("Air inside", [NO_COLUMN]),)
    lengths = (_length_note(told, tuning, record.settings) for told in tuning.columns)
    return (
        make_step("What this is", [ABOUT, _HEARD, SOURCES]),
        *lengths,
        *_joint_notes(tuning, record.settings),
        *_hole_notes(tuning),
        _compare_note(tuning),
    )


def _titled(title: str, told: ColumnTuning, tuning: Tuning) -> str:
    name = column_name(told, tuning)
    return f"{title}, {name}" if name else title


def _length_note(told: ColumnTuning, tuning: Tuning, settings: Settings) -> Step:
    text = [ends_sentence(told.column), width_sentence(told)]
    values = [Value(*one) for one in column_values(told, tuning, settings.layer)]
    return make_step(
        _titled("Length of the air", told, tuning), [said for said in text if said], values
    )


def _joint_notes(tuning: Tuning, settings: Settings) -> Iterator[Step]:
    """A table for each column that a joint lies in."""
    filled = (
        "where it is filled, nothing counts of it" if settings.fit == "glue" else "it is so here"
    )
    text = [
        (
            "A tenon leaves a groove around its tip in the bore, a sleeve makes the bore narrower; "
            "a collar leaves it as it is."
        ),
        (
            "Pieces that stand a little beside each other, within the gap, leave the bore as wide "
            "as it was. A leak costs more than all of this: see the leak test."
        ),
        (
            f"Told are cents of the {len(MODES)} lowest modes, and at most: in any mode, wherever "
            "it lies in the wave. By first order, of changes that are small beside the bore."
        ),
        (
            "Gap empty: at most, were the narrow gap along the tenon open to the bore down to the "
            f"seam or to its ring; {filled}."
        ),
    ]
    header = ("joint", "from", "to", "bore mm3", *(f"mode {n}" for n in MODES), "at most")
    tables = [
        Table(
            _titled("Joints and the tuning", told, tuning),
            (*header, "gap empty"),
            tuple(_joint_row(joint) for joint in told.joints),
        )
        for told in tuning.columns
        if told.joints
    ]
    if tables:
        yield make_step("At the joints", text, tables=tables)


def _joint_row(told: JointTuning) -> tuple[str, ...]:
    change = told.change
    where = ("", "", "0.0")
    if change is not None:
        where = (f"{change.start:.2f}", f"{change.stop:.2f}", f"{change.volume:+.1f}")
    return (
        str(told.joint + 1),
        *where,
        *(cents_text(cents) for cents in told.cents),
        f"{told.greatest:.2f}",
        f"{told.greatest_empty:.2f}",
    )


def _hole_notes(tuning: Tuning) -> Iterator[Step]:
    """A table for each column that a side hole opens."""
    text = [
        (
            "Which end sounds is not in the mesh: each hole is told from every end that it may "
            "be, all holes before it closed and all beyond it open."
        ),
        "A seam beyond the first open hole matters less than is told; a mouth hole counts as any.",
        (
            "Seam: the nearest joint's, and mm from it to the hole's nearest edge. Lengths are "
            "effective ones, to where the hole as good as ends the air; cents: of "
            f"{SEAM_GAP:g} mm that a seam gapes on the way."
        ),
    ]
    tables = [_hole_table(told, tuning) for told in tuning.columns if told.holes]
    if tables:
        yield make_step("At the holes", text, tables=tables)


def _hole_table(told: ColumnTuning, tuning: Tuning) -> Table:
    header = ["hole", "seam", "off its edge"]
    if told.holes[0].from_low is not None:
        header += ["mm from low", "cents from low"]
    if told.holes[0].from_high is not None:
        header += ["mm from high", "cents from high"]
    return Table(
        _titled("Holes and the tuning", told, tuning),
        tuple(header),
        tuple(_hole_row(hole) for hole in told.holes),
    )


def _hole_row(told: HoleTuning) -> tuple[str, ...]:
    row = [str(told.hole + 1)]
    if told.seam is None or told.seam_distance is None:
        row += ["none", ""]
    else:
        row += [str(told.seam + 1), f"{told.seam_distance:.2f}"]
    for length in (told.from_low, told.from_high):
        if length is not None:
            row += [f"{length:.2f}", cents_text(note_cents(length))]
    return tuple(row)


def _compare_note(tuning: Tuning) -> Step:
    """Temperature first: it does more than any seam."""
    text = [
        (
            "Compare instruments in the same room, warmed alike by being blown: best at "
            f"{TEMPERATURE_C:g} C, for which all of this is told."
        ),
        "Each K that the air is warmer makes it sound higher; damp breath does a little too.",
    ]
    return make_step(
        "When you compare",
        text,
        [
            Value("each K warmer", f"{cents_text(tuning.cents_per_kelvin)} cents"),
            Value(f"sound at {TEMPERATURE_C:g} C", f"{tuning.speed:.1f} m/s in dry air"),
        ],
    )
