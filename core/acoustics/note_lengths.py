"""How long the air is that sounds with a side hole open, from either end of the bore."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from ..values import Joint, SideHole, Survey
from .air_column import AirColumn
from .tone_holes import ToneHole, closed_hole_length, open_row_length


@dataclass(frozen=True, slots=True)
class HoleTuning:
    """A side hole, and what of the air column sounds when it is the first open one.

    hole : which of the survey's
    seam : number of the nearest joint; None: there is none
    seam_distance : mm, from that seam's plane to the hole's nearest edge
    from_low, from_high : mm, effective, of the air from the low or the high end to where the hole
        as good as ends it, all holes beyond it open; None where that end is open and the other
        is closed: nothing sounds so
    """

    hole: int
    seam: int | None
    seam_distance: float | None
    from_low: float | None
    from_high: float | None


def hole_tunings(
    column: AirColumn, survey: Survey, joints: Sequence[Joint]
) -> tuple[HoleTuning, ...]:
    """Of every side hole of a column, from the low end up."""
    numbers = _holes_of(column, survey)
    low = _note_lengths(column, survey, numbers, up=True)
    high = _note_lengths(column, survey, numbers[::-1], up=False)[::-1]
    seams = [_nearest_seam(survey.side_holes[number], joints) for number in numbers]
    return tuple(
        HoleTuning(number, *seam, from_low, from_high)
        for number, seam, from_low, from_high in zip(numbers, seams, low, high, strict=True)
    )


def closed_holes_length(column: AirColumn, survey: Survey) -> float:
    """Length, mm, that all holes of a column add to it when they are closed."""
    holes = (survey.side_holes[number] for number in _holes_of(column, survey))
    return math.fsum(closed_hole_length(tone_hole(hole, survey)) for hole in holes)


def tone_hole(hole: SideHole, survey: Survey) -> ToneHole:
    """A side hole as a round one of the same opening, as long as its way through the wall."""
    bore_radius = survey.bores[hole.bore].radius_at(hole.station)
    if hole.wall is None:
        radius = math.sqrt(hole.axial_width * hole.across_width) / 2.0
    else:
        radius = hole.wall.radius
    return ToneHole(radius, bore_radius, max(0.0, _outside_at(hole, survey) - bore_radius))


def _outside_at(hole: SideHole, survey: Survey) -> float:
    """mm, from the bore's centre line to where a hole comes out, or about as far."""
    bore = survey.bores[hole.bore]
    if hole.wall is not None:
        return math.dist(hole.wall.point[:2], bore.offset)
    for outside in survey.outsides:
        if outside.start <= hole.station <= outside.stop:
            return outside.radius_at(hole.station)
    return bore.radius_at(hole.station) + survey.wall_median


def _holes_of(column: AirColumn, survey: Survey) -> list[int]:
    """The survey's holes that open a column, from the low end up."""
    own = [number for number, hole in enumerate(survey.side_holes) if hole.bore in column.bores]
    return sorted(own, key=lambda number: survey.side_holes[number].station)


def _note_lengths(
    column: AirColumn, survey: Survey, numbers: Sequence[int], *, up: bool
) -> list[float | None]:
    """mm, to each of the holes, all before it closed and all from it on open.

    numbers : in the order in which they come from the end that is blown
    up : that is the low end
    """
    near_open, far_open = column.low_open, column.high_open
    if not up:
        near_open, far_open = far_open, near_open
    if near_open and not far_open:
        return [None] * len(numbers)
    pipe = column.pipe
    first, last = (pipe.low_correction, pipe.high_correction)
    if not up:
        first, last = last, first
    stations = [survey.side_holes[number].station for number in numbers]
    places = [one - column.start if up else column.stop - one for one in stations]
    holes = [tone_hole(survey.side_holes[number], survey) for number in numbers]
    end = column.length + last if far_open else math.inf
    spacings = [after - place for place, after in itertools.pairwise([*places, end])]
    return [
        first
        + place
        + math.fsum(closed_hole_length(hole) for hole in holes[:count])
        + open_row_length(holes[count:], spacings[count:])
        for count, place in enumerate(places)
    ]


def _nearest_seam(hole: SideHole, joints: Sequence[Joint]) -> tuple[int | None, float | None]:
    """Number of the joint with the nearest seam, and mm from that to the hole's nearest edge."""
    gaps = [max(hole.low - joint.station, joint.station - hole.high, 0.0) for joint in joints]
    if not gaps:
        return None, None
    return gaps.index(min(gaps)), min(gaps)
