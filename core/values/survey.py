"""What a part is: its surfaces, walls and holes, as found and as trued."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from .arrays import FloatArray, Frame, IntArray, Mesh, read_only
from .settings import Settings

_LEAST_SPREAD, _SPREAD_OVER_NOISE = 0.01, 6.0


@dataclass(frozen=True, slots=True)
class RoundSurface:
    """A cylinder or cone about a line parallel to the part's axis.

    The radius at station z is ``radius_at_zero + slope * z``.

    start, stop : stations of the stretch that it covers
    offset : (x, y) mm, of its centre line from the part's axis
    rms : mm, of the distances of the vertices used from the surface
    sagitta : mm, how far inside its radius the surface may lie, between the
        vertices of coarse facets; 0 where it is, or will be, trued
    widest : radians, that the widest facet found on it spans
    """

    radius_at_zero: float
    slope: float
    start: float
    stop: float
    offset: tuple[float, float] = (0.0, 0.0)
    rms: float = 0.0
    sagitta: float = 0.0
    widest: float = 0.0

    def __post_init__(self) -> None:
        assert self.start < self.stop
        assert min(self.radius_at(self.start), self.radius_at(self.stop)) > 0.0

    def radius_at(self, station: float) -> float:
        """Radius, mm, at a station."""
        return self.radius_at_zero + self.slope * station

    def radii_at(self, stations: FloatArray) -> FloatArray:
        """Radii, mm, at many stations."""
        radii: FloatArray = self.radius_at_zero + self.slope * stations
        return radii

    @property
    def level_spread(self) -> float:
        """How far apart, mm, the corners of a level triangle beside it may lie, by its noise."""
        return max(_LEAST_SPREAD, _SPREAD_OVER_NOISE * self.rms)

    @property
    def held_about_axis(self) -> RoundSurface:
        """The widest surface about the part's axis that lies in this one; it needs to hold it."""
        if self.offset == (0.0, 0.0):
            return self
        return replace(
            self, radius_at_zero=self.radius_at_zero - self.eccentricity, offset=(0.0, 0.0)
        )

    @property
    def eccentricity(self) -> float:
        """Distance, mm, of the centre line from the part's axis."""
        return float(np.hypot(*self.offset))


@dataclass(frozen=True, slots=True)
class WallStretch:
    """A stretch of the part where joints may go: round inside or solid, and wall up to `outer`.

    bores : which of the survey's bores a joint's footprint runs around, the first of
        them being `inner`; none where the part is solid
    inner : that bore; None where the part is solid
    outer : nothing but wall lies between the bores and this surface: the round outside,
        or the widest that the section holds about the bore's own centre line. With
        several bores it stands for the outline around discs about their centre lines,
        each wider than its bore by as much as `outer` is wider than `inner`. Where the
        part is solid: the widest about the part's own axis that the section holds.
    start, stop : stations
    """

    bores: tuple[int, ...]
    inner: RoundSurface | None
    outer: RoundSurface
    start: float
    stop: float

    def __post_init__(self) -> None:
        assert self.start < self.stop
        assert bool(self.bores) == (self.inner is not None)

    @property
    def bore(self) -> RoundSurface:
        """`inner`, of a stretch that is not solid."""
        assert self.inner is not None
        return self.inner


@dataclass(frozen=True, slots=True)
class HoleWall:
    """The cylinder that the wall of a round side hole follows, in the part frame.

    point : (x, y, z) mm, where its centre line meets the outside
    direction : unit vector along the centre line, outward
    """

    point: tuple[float, float, float]
    direction: tuple[float, float, float]
    radius: float

    def __post_init__(self) -> None:
        assert self.radius > 0.0
        assert abs(math.hypot(*self.direction) - 1.0) < 1e-9


@dataclass(frozen=True, slots=True)
class SideHole:
    """A hole through the wall, from the outside into the bore.

    station : where its centre line meets the outside
    angle : radians about the axis, in (-pi, pi]
    axial_width, across_width : mm at the outside, along and across the axis
    low, high : stations between which every edge of it lies, inside and outside
    bore : which of the survey's bores it opens
    wall : its own cylinder, where it is one
    """

    station: float
    angle: float
    axial_width: float
    across_width: float
    low: float
    high: float
    bore: int = 0
    wall: HoleWall | None = None


@dataclass(frozen=True, slots=True)
class Ornament:
    """Something on the outside (or in the bore) that is not its round surface.

    start, stop : stations between which it lies
    least_radius, greatest_radius : mm from the axis, of all its points
    place : which surface it interrupts; "along": the outside over such a length that seams
        have to run through it, and the walls tell what it leaves
    """

    start: float
    stop: float
    least_radius: float
    greatest_radius: float
    place: Literal["outside", "bore", "along"] = "outside"


BORE, OUTSIDE, LOW_END, HIGH_END, OTHER, HOLE = 0, 1, 2, 3, 4, 5
"""Labels of triangles: what kind of surface each belongs to."""


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """What the part is. The mesh is welded, closed, and in the part frame.

    labels : (m,) int, one of BORE, OUTSIDE, LOW_END, HIGH_END, OTHER, HOLE a triangle
    numbers : (m,) int, which of its kind: of the bores, outsides or side holes; 0 on
        the ends and on OTHER
    length : mm, between the ends: flat ends count as planes
    bores : every straight or tapered stretch of every bore, the main one first; none
        where the part is solid
    outsides : the same of the round outside; none where the outside is not round
    walls : where joints may go, by station
    wall_least, wall_median : mm, of the part's own wall; of a solid part the radius of
        the widest disc about its axis
    beyond_ends : mm, how far anything reaches past the low and the high end once
        flat ends are planes
    beyond_rough_ends : the same with the ends left as they are
    at_borders : (k,) numbers of triangles, ascending: all with a corner where triangles of two
        labels or numbers meet are among them, and all that are OTHER; None where not told
    """

    mesh: Mesh
    labels: IntArray
    numbers: IntArray
    frame: Frame
    length: float
    bores: tuple[RoundSurface, ...]
    outsides: tuple[RoundSurface, ...]
    walls: tuple[WallStretch, ...]
    side_holes: tuple[SideHole, ...]
    ornaments: tuple[Ornament, ...]
    wall_least: float
    wall_median: float
    remarks: tuple[str, ...] = ()
    beyond_ends: tuple[float, float] = (0.0, 0.0)
    beyond_rough_ends: tuple[float, float] = (0.0, 0.0)
    at_borders: IntArray | None = None

    def __post_init__(self) -> None:
        assert len(self.labels) == len(self.numbers) == len(self.mesh.triangles)
        read_only(self.labels)
        read_only(self.numbers)

    @property
    def bore(self) -> RoundSurface:
        """The main bore."""
        return self.bores[0]

    def ends(self, settings: Settings) -> tuple[float, float]:
        """Stations of the lowest and highest points once truing is done."""
        low, high = self.beyond_rough_ends if settings.true == "none" else self.beyond_ends
        return -low, self.length + high


@dataclass(frozen=True, slots=True, eq=False)
class TruedPart:
    """The part with exact round surfaces and ends, in the part frame.

    labels, numbers : (m,) int, what each triangle belongs to, as in `Survey`; no numbers
        given: the first of its kind
    generators : one array a bore, (k,) ascending angles in [-pi, pi) about its own centre
        line at which its facets meet; empty where it was left as it is
    max_move : mm, greatest move of a vertex of the source, chord error apart
    greatest_chord : mm, greatest chord error of the source that truing filled
    """

    mesh: Mesh
    labels: IntArray
    generators: tuple[FloatArray, ...]
    triangles_before: int
    max_move: float
    greatest_chord: float = 0.0
    numbers: IntArray = field(default_factory=lambda: np.empty(0, np.int64))

    def __post_init__(self) -> None:
        if not len(self.numbers):
            object.__setattr__(self, "numbers", np.zeros_like(self.labels))
        assert len(self.labels) == len(self.numbers) == len(self.mesh.triangles)
        read_only(self.labels)
        read_only(self.numbers)
        for angles in self.generators:
            read_only(angles)
