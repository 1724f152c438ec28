"""Words for what a split does to a tuning, for table and sheet."""

from __future__ import annotations

from collections.abc import Iterator

from ..acoustics.air_column import AirColumn
from ..acoustics.tuning import SEAM_GAP, TEMPERATURE_C, ColumnTuning, Tuning
from .table_text import table, wrapped

ABOUT = (
    "A check, from sizes alone, that the split leaves the tuning as it was: no design, and no "
    "forecast of how it plays."
)

NO_COLUMN = "No air goes through it: nothing to check."

Told = tuple[str, str]
"""What, and how much, with its unit."""


def cents_text(cents: float) -> str:
    """With its sign, where it is not 0.00."""
    return _signed(cents, 2)


def column_name(told: ColumnTuning, tuning: Tuning) -> str:
    """Which bore it is; nothing where there is one column only."""
    if len(tuning.columns) == 1:
        return ""
    return f"bore {' and '.join(str(bore + 1) for bore in told.column.bores)}"


def ends_sentence(column: AirColumn) -> str:
    """What it is taken for at its ends, and what would make it another."""
    if column.low_open and column.high_open:
        return (
            "Taken to be open at both ends, as the bore is found: a stopper at one of them still "
            "leaves a flute open at its mouth hole, but a reed makes its end a closed one."
        )
    end, station = ("high", column.stop) if column.low_open else ("low", column.start)
    return (
        f"Taken to be closed at its {end} end, as the bore is found, at station {station:.2f} mm: "
        "of a flute whose mouth hole is near that end it is open there."
    )


def width_sentence(told: ColumnTuning) -> str:
    """Nothing of a bore of nearly one width."""
    if told.is_even:
        return ""
    column = told.column
    return (
        f"Its bore is {column.least_diameter:.2f} to {column.greatest_diameter:.2f} mm wide, and "
        f"is told as a straight one of {2.0 * column.radius:.2f} mm, of the same volume: take its "
        "numbers for rough ones."
    )


def column_values(told: ColumnTuning, tuning: Tuning, layer: float) -> Iterator[Told]:
    """Lengths before and after, what they come to, and what a gaping seam costs."""
    column = told.column
    yield "length before", f"{column.length:.3f} mm"
    if told.joined_length is not None and told.joined_cents is not None:
        yield (
            "length of the pieces, shoulders together",
            f"{told.joined_length:.3f} mm, {cents_text(told.joined_cents)} cents",
        )
    if tuning.layer_offs is not None:
        yield f"printed in whole layers of {layer:g} mm", _layers_text(told, tuning.layer_offs)
    yield f"each {SEAM_GAP:g} mm that a seam gapes", f"{cents_text(told.gap_cents)} cents"
    yield "what truing did to the bore", _modes_text(told.trued_cents)
    yield "effective length, holes closed", f"{told.effective_length:.2f} mm"
    yield (
        f"lowest tone of the bare tube at {TEMPERATURE_C:g} C",
        f"{told.frequency:.1f} Hz",
    )


def tuning_lines(tuning: Tuning, layer: float) -> list[str]:
    """For the table: each column of air, and what the joints come to at most."""
    if not tuning.columns:
        return [wrapped(NO_COLUMN, "  ")]
    lines = [wrapped(ABOUT, "  ")]
    for told in tuning.columns:
        name = column_name(told, tuning)
        lines += [f"  {name}"] if name else []
        lines += table("ll", [*column_values(told, tuning, layer), *_joint_values(told)])
        said = (ends_sentence(told.column), width_sentence(told))
        lines += [wrapped(one, "  ") for one in said if one]
    return lines


def _joint_values(told: ColumnTuning) -> Iterator[Told]:
    for joint in told.joints:
        yield (
            f"joint {joint.joint + 1}, in any mode",
            f"{joint.greatest:.2f} cents at most, {joint.greatest_empty:.2f} with its gap empty",
        )


def _layers_text(told: ColumnTuning, offs: tuple[float, float]) -> str:
    """Once where least and most are the same."""
    shown = [f"{_signed(off, 3)} mm, {cents_text(told.cents_longer(off))} cents" for off in offs]
    return " to ".join(dict.fromkeys(shown))


def _signed(value: float, digits: int) -> str:
    """With its sign, where not all digits are 0."""
    shown = round(value, digits) + 0.0
    return f"{shown:+.{digits}f}" if shown else f"{shown:.{digits}f}"


def _modes_text(cents: tuple[float, ...]) -> str:
    """Once where all modes are told alike."""
    shown = dict.fromkeys(cents_text(one) for one in cents)
    return f"{', '.join(shown)} cents"
