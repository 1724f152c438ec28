"""Which surfaces are made exact, and which triangles of the source each has."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from ..meshes.in_blocks import in_blocks
from ..meshes.products import row_lengths
from ..values import (
    BORE,
    HIGH_END,
    HOLE,
    LOW_END,
    OTHER,
    OUTSIDE,
    FloatArray,
    HoleWall,
    IntArray,
    RoundSurface,
    Settings,
    Survey,
    read_only,
)

_LEVEL_COSINE = 0.9
_KINDS = 6


@dataclass(frozen=True, slots=True)
class Target:
    """A round surface to be made exact. Unrolled as (turn * angle, station), its front faces up.

    region : the number of its triangles in `Regions`
    lines : which set of lines along the part divides it; those about one centre share theirs
    """

    region: int
    label: int
    number: int
    surface: RoundSurface
    turn: int
    lines: int


@dataclass(frozen=True, slots=True)
class Flat:
    """A flat end, or the flat ring of a step, square to the axis; it faces up (1) or down."""

    region: int
    label: int
    station: float
    facing: int

    @property
    def is_end(self) -> bool:
        """Is it one of the part's two ends?"""
        return self.label != OTHER


@dataclass(frozen=True, slots=True)
class DrilledWall:
    """The wall of a side hole, with the cylinder that it follows."""

    region: int
    number: int
    wall: HoleWall


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """The source's triangles, by what is to become of them.

    ids : (m,) int, region of each triangle
    """

    ids: IntArray
    targets: tuple[Target, ...]
    flats: tuple[Flat, ...]
    walls: tuple[DrilledWall, ...]

    def __post_init__(self) -> None:
        read_only(self.ids)


def targets_of(survey: Survey, settings: Settings) -> tuple[Target, ...]:
    """The round surfaces that the settings ask to make exact."""
    wanted = []
    if settings.true in {"both", "bore"}:
        wanted.append((BORE, survey.bores, -1))
    if settings.true in {"both", "outside"}:
        wanted.append((OUTSIDE, survey.outsides, 1))
    sets: dict[tuple[int, tuple[float, float]], int] = {}
    stride = _stride(survey)
    return tuple(
        Target(
            label * stride + number,
            label,
            number,
            surface,
            turn,
            sets.setdefault((label, surface.offset), len(sets)),
        )
        for label, surfaces, turn in wanted
        for number, surface in enumerate(surfaces)
    )


def regions_of(survey: Survey, targets: tuple[Target, ...], max_move: float) -> Regions:
    """Every triangle's region; level rings at steps found among what has no label."""
    stride = _stride(survey)
    ids = _by_kind(survey, stride)
    flats = [
        Flat(LOW_END * stride, LOW_END, 0.0, -1),
        Flat(HIGH_END * stride, HIGH_END, survey.length, 1),
    ]
    for chosen, station, facing in _level_rings(
        survey, np.flatnonzero(ids == OTHER * stride), targets, max_move
    ):
        flats.append(Flat(_KINDS * stride + len(flats), OTHER, station, facing))
        ids[chosen] = flats[-1].region
    walls = [
        DrilledWall(HOLE * stride + number, number, hole.wall)
        for number, hole in enumerate(survey.side_holes)
        if hole.wall is not None
    ]
    return Regions(ids, targets, tuple(flats), tuple(walls))


def _by_kind(survey: Survey, stride: int) -> IntArray:
    """(m,) regions by label and number, in the narrowest integers that hold all: it is faster."""
    kind: np.dtype[Any] = np.dtype(np.int16 if (_KINDS + 8) * stride < 2**15 else np.int32)
    ids: IntArray = np.empty(len(survey.labels), kind)
    in_blocks(partial(_mark, survey, stride, ids), len(ids))
    return ids


def _mark(survey: Survey, stride: int, ids: IntArray, block: slice) -> None:
    ids[block] = survey.labels[block] * ids.dtype.type(stride) + survey.numbers[block]


def _stride(survey: Survey) -> int:
    """One more than any surface's number among its kind."""
    return 1 + max(len(survey.bores), len(survey.outsides), len(survey.side_holes))


def _level_rings(
    survey: Survey, other: IntArray, targets: tuple[Target, ...], band: float
) -> Iterator[tuple[IntArray, float, int]]:
    """Level triangles at a station where a target ends: which, their station, their facing.

    other : numbers of the triangles of no known surface
    """
    if not len(other) or not targets:
        return
    heights = np.ascontiguousarray(survey.mesh.vertices[:, 2])
    corners = heights[survey.mesh.triangles[other]]
    low, high = corners.min(axis=1), corners.max(axis=1)
    level = high - low <= max(target.surface.level_spread for target in targets)
    other, low, high = other[level], low[level], high[level]
    for station in _levels(survey, targets, band):
        near = other[(low >= station - band) & (high <= station + band)]
        cosines = _level_cosines(survey, near)
        for facing in (-1, 1):
            chosen = near[facing * cosines > _LEVEL_COSINE]
            if len(chosen):
                yield chosen, float(np.median(heights[survey.mesh.triangles[chosen]])), facing


def _levels(survey: Survey, targets: tuple[Target, ...], band: float) -> Iterator[float]:
    """Stations at which level rings may lie."""
    last = band
    for end in sorted(e for t in targets for e in (t.surface.start, t.surface.stop)):
        if last + 2.0 * band < end < survey.length - 3.0 * band:
            last = end
            yield end


def _level_cosines(survey: Survey, chosen: IntArray) -> FloatArray:
    """(k,) how far each triangle faces along the axis: 1 up, -1 down, 0 without an area."""
    a, b, c = (survey.mesh.vertices[survey.mesh.triangles[chosen, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    cosines: FloatArray = cross[:, 2] / np.maximum(row_lengths(cross), 1e-300)
    return cosines
