"""The columns of air in a part: its bores from end to end, and where they are closed."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, Mesh, RoundSurface, Survey
from .pipe import Pipe

_ONE_LINE = 1e-6
"""mm; stretches of one bore have one centre line."""

_ROUND_OFF = 1e-6
"""mm, by which a line may miss a triangle and count as through its edge."""


@dataclass(frozen=True, slots=True)
class AirColumn:
    """A bore from end to end, all its stretches. Lengths in mm.

    bores : which of the survey's
    start, stop : stations of its ends
    low_open, high_open : do they open? At one of them a mouth, a reed or a stopper may close it
        later, which nothing tells here
    radius : of a cylinder of the same volume
    low_radius, high_radius : at its ends
    least_diameter, greatest_diameter : of its stretches
    """

    bores: tuple[int, ...]
    start: float
    stop: float
    low_open: bool
    high_open: bool
    radius: float
    low_radius: float
    high_radius: float
    least_diameter: float
    greatest_diameter: float

    @property
    def length(self) -> float:
        """mm, from end to end."""
        return self.stop - self.start

    @property
    def is_pipe(self) -> bool:
        """Does it open at all?"""
        return self.low_open or self.high_open

    @property
    def pipe(self) -> Pipe:
        """The straight pipe that it is taken for."""
        return Pipe(
            self.length,
            self.radius,
            low_radius=self.low_radius,
            high_radius=self.high_radius,
            low_open=self.low_open,
            high_open=self.high_open,
        )


def find_air_columns(survey: Survey) -> tuple[AirColumn, ...]:
    """Every column of air of a part, those of its main bore first.

    An end is open where nothing lies on the bore's centre line beyond it; it is counted up to the
    part's own end then, else up to what closes it.
    """
    columns = []
    lines = _lines(survey.bores)
    for line in dict.fromkeys(lines):
        own = [bore for bore, other in enumerate(lines) if other == line]
        crossings = line_crossings(survey.mesh, survey.bores[own[0]].offset)
        columns += [_column(survey, bores, crossings) for bores in _groups(survey, own, crossings)]
    return tuple(columns)


def line_crossings(mesh: Mesh, offset: tuple[float, float]) -> FloatArray:
    """Stations, ascending, at which a line along the axis meets a mesh in the part frame.

    offset : (x, y) mm, of the line
    """
    columns = [np.ascontiguousarray(column) for column in mesh.vertices.T]
    x, y = (
        column[mesh.triangles] - middle for column, middle in zip(columns[:2], offset, strict=True)
    )
    near = (x.min(axis=1) <= _ROUND_OFF) & (x.max(axis=1) >= -_ROUND_OFF)
    near &= (y.min(axis=1) <= _ROUND_OFF) & (y.max(axis=1) >= -_ROUND_OFF)
    x, y, z = x[near], y[near], columns[2][mesh.triangles[near]]
    shares = np.roll(x, -1, 1) * np.roll(y, 1, 1) - np.roll(x, 1, 1) * np.roll(y, -1, 1)
    area = shares.sum(axis=1)
    seen = np.abs(area) > _ROUND_OFF**2  # upright triangles have none
    weights = shares[seen] / area[seen, None]
    inside = (weights >= -_ROUND_OFF).all(axis=1)
    stations: FloatArray = np.sort((weights[inside] * z[seen][inside]).sum(axis=1))
    return stations


def free_stretch(crossings: FloatArray, inside: float) -> tuple[float | None, float | None]:
    """Between which crossings of its centre line a bore lies; None: there is none on that side.

    crossings : stations, ascending
    inside : a station within the bore
    """
    below, above = crossings[crossings < inside], crossings[crossings > inside]
    return float(below[-1]) if len(below) else None, float(above[0]) if len(above) else None


def _lines(bores: Sequence[RoundSurface]) -> list[tuple[int, int]]:
    """Centre lines in steps of round-off, as they are found alike."""
    return [(round(b.offset[0] / _ONE_LINE), round(b.offset[1] / _ONE_LINE)) for b in bores]


def _groups(survey: Survey, own: list[int], crossings: FloatArray) -> Iterator[list[int]]:
    """Stretches about one line, from the low end up, parted where something closes the line."""
    ordered = sorted(own, key=lambda bore: survey.bores[bore].start)
    group: list[int] = []
    for bore in ordered:
        if group:
            below, above = _middle(survey.bores[group[-1]]), _middle(survey.bores[bore])
            if ((crossings > below) & (crossings < above)).any():
                yield group
                group = []
        group.append(bore)
    yield group


def _column(survey: Survey, bores: list[int], crossings: FloatArray) -> AirColumn:
    stretches = [survey.bores[bore] for bore in bores]
    first, last = stretches[0], stretches[-1]
    low, _ = free_stretch(crossings, _middle(first))
    _, high = free_stretch(crossings, _middle(last))
    diameters = [2.0 * each.radius_at(end) for each in stretches for end in (each.start, each.stop)]
    return AirColumn(
        bores=tuple(bores),
        start=0.0 if low is None else low,
        stop=survey.length if high is None else high,
        low_open=low is None,
        high_open=high is None,
        radius=_mean_radius(stretches),
        low_radius=first.radius_at(first.start),
        high_radius=last.radius_at(last.stop),
        least_diameter=min(diameters),
        greatest_diameter=max(diameters),
    )


def _mean_radius(stretches: list[RoundSurface]) -> float:
    """Of a cylinder as long and as large as all stretches."""
    length = math.fsum(each.stop - each.start for each in stretches)
    squares = [
        (a * a + a * b + b * b) / 3.0 * (each.stop - each.start)
        for each in stretches
        for a, b in [(each.radius_at(each.start), each.radius_at(each.stop))]
    ]
    return math.sqrt(math.fsum(squares) / length)


def _middle(bore: RoundSurface) -> float:
    return (bore.start + bore.stop) / 2.0
