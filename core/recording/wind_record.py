"""What a split does to a wind instrument's tuning, for the record and the table: mm, Hz, cents."""

from __future__ import annotations

from ..acoustics.note_lengths import HoleTuning
from ..acoustics.pipe import UNFLANGED
from ..acoustics.tuning import (
    MODES,
    SEAM_GAP,
    TEMPERATURE_C,
    ColumnTuning,
    JointTuning,
    Tuning,
    note_cents,
)


def wind_entry(tuning: Tuning) -> dict[str, object]:
    """`wind` of a part's entry; joints and holes by their numbers in it, from 0."""
    gaps, offs = tuning.shoulder_gaps, tuning.layer_offs
    return {
        "temperature_c": TEMPERATURE_C,
        "speed_of_sound": tuning.speed,
        "cents_per_kelvin": tuning.cents_per_kelvin,
        "end_correction": UNFLANGED,
        "seam_gap": SEAM_GAP,
        "modes": list(MODES),
        "shoulder_gaps": None if gaps is None else list(gaps),
        "layers_longer": None if offs is None else list(offs),
        "columns": [_column_entry(column, tuning) for column in tuning.columns],
    }


def _column_entry(told: ColumnTuning, tuning: Tuning) -> dict[str, object]:
    column, offs = told.column, tuning.layer_offs
    return {
        "bores": list(column.bores),
        "from": column.start,
        "to": column.stop,
        "open": [column.low_open, column.high_open],
        "diameter": 2.0 * column.radius,
        "diameters": [column.least_diameter, column.greatest_diameter],
        "is_even": told.is_even,
        "length": column.length,
        "joined_length": told.joined_length,
        "joined_cents": told.joined_cents,
        "layers_cents": None if offs is None else [told.cents_longer(off) for off in offs],
        "effective_length": told.effective_length,
        "frequency": told.frequency,
        "gap_cents": told.gap_cents,
        "trued_cents": list(told.trued_cents),
        "joints": [_joint_entry(joint) for joint in told.joints],
        "holes": [_hole_entry(hole) for hole in told.holes],
    }


def _joint_entry(told: JointTuning) -> dict[str, object]:
    change = told.change
    return {
        "joint": told.joint,
        "from": None if change is None else change.start,
        "to": None if change is None else change.stop,
        "volume": 0.0 if change is None else change.volume,
        "gap_volume": 0.0 if change is None else change.gap_volume,
        "cents": list(told.cents),
        "greatest_cents": told.greatest,
        "greatest_cents_empty": told.greatest_empty,
    }


def _hole_entry(told: HoleTuning) -> dict[str, object]:
    low, high = told.from_low, told.from_high
    return {
        "hole": told.hole,
        "nearest_joint": told.seam,
        "seam_distance": told.seam_distance,
        "length_from_low": low,
        "gap_cents_from_low": None if low is None else note_cents(low),
        "length_from_high": high,
        "gap_cents_from_high": None if high is None else note_cents(high),
    }
