"""Where a part is solid, and the widest disc about its axis that each section holds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import NotTubular
from ..meshes.plane_sections import Sections, cut_sections
from ..meshes.segments import shares_along
from ..planning.intervals import Span, common, merge, subtract
from ..values import ROUND_OFF, FloatArray, IntArray, Mesh, Ornament, RoundSurface, WallStretch
from .section_shapes import is_inside
from .solid_dips import GRAIN, find_dips, find_shoulders
from .wall_lines import (
    LEAST_MEASURED,
    LEAST_STRETCH,
    MeasuredWall,
    distances,
    measuring_planes,
    pieces_under,
)

LEAST_SOLID = 6.0
"""A solid stretch shorter than this, mm, is of no use: so is the shortest engagement."""

_LEAST_LIMB = 1.0
"""mm2; an outline around less is a splinter."""

_BESIDE_END = 0.02
_MUCH_LESS = 0.02


def solid_spans(bores: tuple[RoundSurface, ...], length: float, solid_at: FloatArray) -> list[Span]:
    """Stations between which no bore runs and the axis was seen to run in the solid.

    solid_at : (k,) stations of planes in which it does; not asked where there is no bore
    """
    if not bores:
        return [(0.0, length)]
    left = [(0.0, length)]
    for bore in bores:
        left = subtract(left, (bore.start, bore.stop))
    return [
        (low, high)
        for low, high in left
        if high - low >= LEAST_SOLID and ((solid_at > low) & (solid_at < high)).any()
    ]


@dataclass(frozen=True, slots=True)
class SolidWalls:
    """Walls of solid stretches by station, and what thins them.

    dips : short stretches where the disc is much smaller than on both sides, and level
        shoulders where it steps, as ornaments
    split : spans of stations in which something parts the section
    """

    stretches: tuple[WallStretch, ...]
    dips: tuple[Ornament, ...]
    split: tuple[Span, ...]


def solid_walls(
    part: Mesh,
    spans: list[Span],
    outsides: tuple[RoundSurface, ...],
    ornaments: tuple[Ornament, ...],
) -> SolidWalls:
    """The widest discs about the axis, by station: the round outside, or measured.

    Measured is what no round outside bounds, and where something cuts into one. Where
    the axis lies in no solid there is no wall. Ornaments tell what cuts into a round
    outside; of any other, dips do.
    """
    found: list[WallStretch] = []
    left = spans
    for outside in outsides:
        held = outside.held_about_axis
        for low, high in _whole(outside, common(spans, [(outside.start, outside.stop)]), ornaments):
            found.append(WallStretch((), None, held, low, high))
            left = subtract(left, (low, high))
    left = [span for span in left if span[1] - span[0] > LEAST_STRETCH]
    measured, split = _measured(part, left) if left else ([], [])
    walls = _by_station([*found, *measured])
    dips = () if outsides else find_dips(part, walls, spans)
    shoulders = find_shoulders(part, walls, (*ornaments, *dips))
    return SolidWalls(walls, (*dips, *shoulders), _widened(split, (*ornaments, *dips)))


def _by_station(walls: list[WallStretch]) -> tuple[WallStretch, ...]:
    return tuple(sorted(walls, key=lambda wall: wall.start))


def _whole(outside: RoundSurface, spans: list[Span], ornaments: tuple[Ornament, ...]) -> list[Span]:
    """Those stations of an outside where nothing cuts into it and it holds the axis."""
    for ornament in ornaments:
        radii = outside.radius_at(ornament.start), outside.radius_at(ornament.stop)
        least = min(radii) - outside.eccentricity - outside.sagitta - ROUND_OFF
        if ornament.place == "along" or ornament.least_radius < least:
            spans = subtract(spans, (ornament.start, ornament.stop))
    held = outside.held_about_axis
    return [
        (low, high)
        for low, high in spans
        if high - low > LEAST_STRETCH and min(held.radius_at(low), held.radius_at(high)) > 0.0
    ]


def _measured(part: Mesh, spans: list[Span]) -> tuple[list[WallStretch], list[Span]]:
    """Discs in some spans of stations; and the planes, run by run, that show several outlines."""
    columns = [np.ascontiguousarray(part.vertices[:, axis]) for axis in range(3)]
    stations = measuring_planes(columns[2], len(part.triangles))
    within = np.zeros(len(stations), bool)
    for low, high in spans:
        within |= (stations > low) & (stations < high)
    sections = cut_sections(columns, part.triangles, stations[within])
    discs = np.full(len(sections.heights), np.inf)
    plane = sections.plane[sections.outline]
    np.minimum.at(discs, plane, distances(sections.starts, sections.ends, np.zeros(2)))
    discs[~is_inside(sections, np.zeros((len(discs), 2)))] = 0.0
    near = _nearest_of_edges(part, sections.heights, discs, spans)
    found = []
    for low, high in spans:
        here = (near.stations > low) & (near.stations < high)
        measured = MeasuredWall(near.stations[here], near.walls[here], low, high)
        for piece in pieces_under(measured):
            disc = RoundSurface(piece.base, piece.slope, piece.low, piece.high)
            found.append(WallStretch((), None, disc, piece.low, piece.high))
    return found, _split_runs(sections, spans)


def _nearest_of_edges(
    part: Mesh, heights: FloatArray, discs: FloatArray, spans: list[Span]
) -> MeasuredWall:
    """The discs, with those that edges leave between two planes where they are smaller.

    A groove narrower than the planes are apart shows in its own edges only. Those at
    the very ends of a span are of what lies beyond.
    """
    beside = np.zeros(len(part.vertices), bool)
    for low, high in spans:
        beside |= (part.vertices[:, 2] > low) & (part.vertices[:, 2] < high)
    triangles = part.triangles[beside[part.triangles].any(axis=1)]
    nearest = _edge_points(Mesh(part.vertices, triangles), heights, discs)
    radii = np.hypot(nearest[:, 0], nearest[:, 1])
    inside = np.zeros(len(nearest), bool)
    for low, high in spans:
        inside |= (nearest[:, 2] > low + _BESIDE_END) & (nearest[:, 2] < high - _BESIDE_END)
    inside &= radii < np.interp(nearest[:, 2], heights, discs) - _MUCH_LESS
    bins = np.round(nearest[inside, 2] / GRAIN).astype(np.int64)
    order = np.lexsort((radii[inside], bins))
    _, kept = np.unique(bins[order], return_index=True)
    chosen = np.flatnonzero(inside)[order[kept]]
    stations = np.concatenate([heights, nearest[chosen, 2]])
    walls = np.concatenate([discs, radii[chosen]])
    stations, places = np.unique(stations, return_index=True)
    return MeasuredWall(stations, walls[places], float(stations[0]), float(stations[-1]))


def _edge_points(part: Mesh, heights: FloatArray, discs: FloatArray) -> FloatArray:
    """(k, 3) the point nearest the axis of every edge that may come within a disc.

    An edge of length e from radius r outward comes no nearer than sqrt(r^2 - e^2 / 4).
    """
    x, y, z = (np.ascontiguousarray(part.vertices[:, axis]) for axis in range(3))
    squares = x * x + y * y
    first, second = (part.triangles[:, k].ravel() for k in ([0, 1, 2], [1, 2, 0]))
    once = np.flatnonzero(first < second)  # a closed mesh runs each edge both ways
    first, second = first[once], second[once]
    lengths = (x[first] - x[second]) ** 2 + (y[first] - y[second]) ** 2
    least = np.minimum(squares[first], squares[second]) - lengths / 4.0
    beside = np.pad(discs, 1, mode="edge")
    widest = np.maximum(np.maximum(beside[:-2], beside[2:]), discs)
    limits = np.interp(z, heights, widest) ** 2
    near = np.flatnonzero(least < np.maximum(limits[first], limits[second]))
    a, b = part.vertices[first[near]], part.vertices[second[near]]
    share = shares_along(np.zeros(2), a[:, :2], b[:, :2])
    nearest: FloatArray = a + share[:, None] * (b - a)
    return nearest


def _split_runs(sections: Sections, spans: list[Span]) -> list[Span]:
    """Heights of the first and last plane of each run of those with several outer outlines."""
    outer = sections.plane[sections.areas > _LEAST_LIMB]
    several = np.flatnonzero(np.bincount(outer, minlength=len(sections.heights)) > 1)
    runs: list[IntArray] = []
    for low, high in spans:
        here = several[(sections.heights[several] > low) & (sections.heights[several] < high)]
        runs += np.split(here, np.flatnonzero(np.diff(here) > 1) + 1) if len(here) else []
    heights = sections.heights
    return [(float(heights[run[0]]), float(heights[run[-1]])) for run in runs]


def _widened(runs: list[Span], ornaments: tuple[Ornament, ...]) -> tuple[Span, ...]:
    """The runs, each as long as the ornaments that reach into it."""
    spans = []
    for low, high in runs:
        over = [o for o in ornaments if o.start <= high and o.stop >= low]
        spans.append((min([low, *(o.start for o in over)]), max([high, *(o.stop for o in over)])))
    return tuple(merge(spans))


def least_and_median(walls: tuple[WallStretch, ...]) -> tuple[float, float]:
    """Radii, mm, of a solid part, the median over its stations.

    Raises
    ------
    NotTubular : no disc about the axis fits in at any station
    """
    if not walls:
        raise NotTubular(
            "an axis that runs in the solid nowhere",
            f"a disc about it of at least {LEAST_MEASURED:.1f} mm in some section",
            "a part with a straight, round bore, or a solid one",
        )
    stations = [np.linspace(wall.start, wall.stop, 33) for wall in walls]
    radii = np.concatenate(
        [wall.outer.radii_at(here) for wall, here in zip(walls, stations, strict=True)]
    )
    weights = np.repeat([wall.stop - wall.start for wall in walls], 33)
    order = np.argsort(radii)
    growing = np.cumsum(weights[order])
    middle = int(np.searchsorted(growing, growing[-1] / 2.0))
    return float(radii.min()), float(radii[order][middle])
