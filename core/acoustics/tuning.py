"""What a split does to the tuning of a wind instrument: a check, not a design.

Of each column of air: how long it is before and after, what a seam that gapes costs, what the
joints and the trued bore do to its modes, and which part of it sounds with each hole open. For
bores of nearly one width; a bell, a wide cone or a globe are told in wrong numbers, but small
ones stay small.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from ..bench.layer_steps import Span, length_offs
from ..truing.exact_survey import as_trued
from ..values import Joint, Outcome, RoundSurface, Settings, Survey
from .air import cents_per_kelvin, speed_of_sound
from .air_column import AirColumn, find_air_columns
from .bore_disturbance import greatest_shift, shift_of_room, shift_of_step, shift_of_stretch
from .joined_length import JoinedPieces, join_pieces, joined_length
from .joint_bores import BoreChange, bore_change
from .note_lengths import HoleTuning, closed_holes_length, hole_tunings
from .pitch import cents_of_lengths

TEMPERATURE_C = 20.0
"""Of the air that is told of: the temperature that lengths are given for by ISO 1:2022."""

MODES = (1, 2, 3)
"""The lowest of a column of air, which are told."""

SEAM_GAP = 0.1
"""mm, of a seam that gapes, for which cents are told."""

NEARLY_ONE_WIDTH = 1.1
"""Times its least diameter, up to which a bore counts as of one width: judgement, no source."""


@dataclass(frozen=True, slots=True)
class JointTuning:
    """What a joint does to a column of air that runs through it.

    joint : which of the plan's
    change : of the bore; None: there is none
    cents : a mode, of that change
    greatest : cents either way, of that change in any mode
    greatest_empty : cents either way, were the narrow gap beyond full of air as well
    """

    joint: int
    change: BoreChange | None
    cents: tuple[float, ...]
    greatest: float
    greatest_empty: float


@dataclass(frozen=True, slots=True)
class ColumnTuning:
    """A column of air before and after the split.

    effective_length : mm, of the whole column with all its holes closed
    frequency : Hz, of its lowest mode, with nothing at its ends
    joined_length : mm, between its ends in the pieces; None of a plan
    trued_cents : a mode, of what truing made of the bore
    """

    column: AirColumn
    effective_length: float
    frequency: float
    joined_length: float | None
    trued_cents: tuple[float, ...]
    joints: tuple[JointTuning, ...]
    holes: tuple[HoleTuning, ...]

    @property
    def is_even(self) -> bool:
        """Is its bore of nearly one width, as the formulas take it?"""
        column = self.column
        return column.greatest_diameter <= NEARLY_ONE_WIDTH * column.least_diameter

    @property
    def joined_cents(self) -> float | None:
        """Cents, by which it is higher than before for its length; None of a plan."""
        if self.joined_length is None:
            return None
        return self.cents_longer(self.joined_length - self.column.length)

    @property
    def gap_cents(self) -> float:
        """Cents, of a seam that gapes by `SEAM_GAP`."""
        return self.cents_longer(SEAM_GAP)

    def cents_longer(self, length: float) -> float:
        """Cents, of the whole column made longer by so many mm."""
        return cents_of_lengths(self.effective_length, self.effective_length + length)


@dataclass(frozen=True, slots=True)
class Tuning:
    """All columns of air of a part, the one of its main bore first; none of a solid part.

    shoulder_gaps : mm, one a seam, between what meets there in the files; None of a plan
    layer_offs : mm, by which whole layers make the part longer, least and most; None of a plan
    """

    columns: tuple[ColumnTuning, ...]
    shoulder_gaps: tuple[float, ...] | None
    layer_offs: Span | None
    speed: float
    cents_per_kelvin: float


def check_tuning(outcome: Outcome, settings: Settings) -> Tuning:
    """What the split of a part does to the air in it."""
    joined = join_pieces(outcome)
    pipes = [column for column in find_air_columns(outcome.survey) if column.is_pipe]
    return Tuning(
        columns=tuple(_column_tuning(column, outcome, settings, joined) for column in pipes),
        shoulder_gaps=None if joined is None else joined.gaps,
        layer_offs=None if joined is None else length_offs(outcome.pieces, settings.layer),
        speed=speed_of_sound(TEMPERATURE_C),
        cents_per_kelvin=cents_per_kelvin(TEMPERATURE_C),
    )


def note_cents(length: float) -> float:
    """Cents, of a seam that gapes by `SEAM_GAP` in an effective length, mm."""
    return cents_of_lengths(length, length + SEAM_GAP)


def _column_tuning(
    column: AirColumn, outcome: Outcome, settings: Settings, joined: JoinedPieces | None
) -> ColumnTuning:
    survey, pipe = outcome.survey, column.pipe
    effective = pipe.effective_length + closed_holes_length(column, survey)
    speed = speed_of_sound(TEMPERATURE_C)
    waves = 2.0 if pipe.is_open else 4.0
    return ColumnTuning(
        column=column,
        effective_length=effective,
        frequency=speed * 1000.0 / (waves * effective),
        joined_length=None if joined is None else joined_length(column, joined, survey, settings),
        trued_cents=_trued_cents(column, survey, settings),
        joints=tuple(_joint_tunings(column, outcome, settings)),
        holes=hole_tunings(column, survey, outcome.plan.joints),
    )


def _joint_tunings(
    column: AirColumn, outcome: Outcome, settings: Settings
) -> Iterator[JointTuning]:
    """Of the joints whose seams lie in it."""
    exact = as_trued(outcome.survey, settings)
    for number, joint in enumerate(outcome.plan.joints):
        if column.start < joint.station < column.stop:
            bore = _bore_at(column, exact, joint)
            change = bore_change(joint, column, bore, settings.mouth_relief)
            yield _joint_tuning(number, change, column)


def _bore_at(column: AirColumn, survey: Survey, joint: Joint) -> RoundSurface:
    """The stretch of a column that a seam lies in, or is nearest to."""
    station = joint.station
    stretches = [survey.bores[bore] for bore in column.bores]
    return min(stretches, key=lambda bore: max(bore.start - station, station - bore.stop, 0.0))


def _joint_tuning(number: int, change: BoreChange | None, column: AirColumn) -> JointTuning:
    if change is None:
        return JointTuning(number, None, tuple(0.0 for _ in MODES), 0.0, 0.0)
    pipe = column.pipe
    ends = change.start - column.start, change.stop - column.start
    greatest = greatest_shift(pipe, change.stop - change.start, change.area)
    empty = shift_of_room(pipe, change.volume + change.gap_volume)
    return JointTuning(
        joint=number,
        change=change,
        cents=tuple(shift_of_step(pipe, *ends, change.area, mode) for mode in MODES),
        greatest=greatest,
        greatest_empty=max(greatest, empty),
    )


def _trued_cents(column: AirColumn, survey: Survey, settings: Settings) -> tuple[float, ...]:
    """Of what truing made of each stretch, by mode.

    Beyond an open end the air that its correction stands for gets wider too, and longer.
    """
    exact, pipe = as_trued(survey, settings), column.pipe
    wider = [_made_wider(survey.bores[bore], exact.bores[bore]) for bore in column.bores]
    areas = [
        2.0 * math.pi * _middle_radius(survey.bores[bore]) * more
        for bore, more in zip(column.bores, wider, strict=True)
    ]
    ends = [*_borders(column, survey), pipe.length + pipe.high_correction]
    longer = pipe.correction * (wider[0] * column.low_open + wider[-1] * column.high_open)
    by_length = cents_of_lengths(pipe.effective_length, pipe.effective_length + longer)
    return tuple(
        by_length
        + math.fsum(
            shift_of_stretch(pipe, start, stop, area, mode)
            for (start, stop), area in zip(itertools.pairwise(ends), areas, strict=True)
        )
        for mode in MODES
    )


def _borders(column: AirColumn, survey: Survey) -> list[float]:
    """Where each stretch begins, mm from the column's low end; the first with the air beyond."""
    later = [survey.bores[bore].start - column.start for bore in column.bores[1:]]
    return [-column.pipe.low_correction, *later]


def _made_wider(found: RoundSurface, made: RoundSurface) -> float:
    """mm, on the radius, as a mean.

    A bore whose facets lie up to s inside its radius r lacks 4/3 s/r of its section, which is
    2/3 s of its radius; of many facets.
    """
    return made.radius_at_zero - found.radius_at_zero + 2.0 / 3.0 * (found.sagitta - made.sagitta)


def _middle_radius(bore: RoundSurface) -> float:
    return bore.radius_at((bore.start + bore.stop) / 2.0)
