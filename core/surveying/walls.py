"""Where the part has wall enough around its bores to think of a joint, and how thick it is.

Against a round outside the wall is told by two surfaces. Any other outside is measured:
in many planes, the distance from the bores to the nearest of all else. A line under
those distances, piece by piece, stands for the outside.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..errors import NotTubular
from ..meshes.plane_sections import Sections, cut_sections
from ..planning.intervals import common, merge, subtract
from ..values import (
    BORE,
    HIGH_END,
    HOLE,
    LOW_END,
    ROUND_OFF,
    FloatArray,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    WallStretch,
    read_only,
)
from .labelling import Regions

_STEP = 1.0
_MOST_PLANES = 600
_LEVEL_GRAIN = 0.01
_BESIDE_LEVEL = 1e-3
_MOST_SEGMENTS = 2_000_000
_DISCS = 33
"""Discs that stand for the hull of two bores: their outline is short of it by L^2 / 8 r / 32^2."""

_LOSS, _LOSS_SHARE = 0.05, 0.1
_LEAST_MEASURED = 0.3
_LEAST_STRETCH = 1.0


@dataclass(frozen=True, slots=True)
class Walls:
    """Stretches by station, and the part's own least and median wall, mm."""

    stretches: tuple[WallStretch, ...]
    least: float
    median: float


def find_walls(
    part: Mesh,
    regions: Regions,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    ornaments: tuple[Ornament, ...],
) -> Walls:
    """The walls of a part in its own frame.

    Raises
    ------
    NotTubular : bore and outside cross
    """
    spans = _bore_spans(bores)
    if not outsides or any(len(span.bores) > 1 for span in spans):
        return _measured_walls(part, regions, spans, bores)
    stretches = _round_walls(spans, bores, outsides)
    _check_apart(stretches)
    least = min(_least_round(wall, ornaments) for wall in stretches)
    whole = Walls(stretches, least, _median_round(stretches))
    long = merge([(o.start, o.stop) for o in ornaments if o.place == "along"])
    return _remeasured(whole, part, regions, bores, long) if long else whole


def _remeasured(
    walls: Walls,
    part: Mesh,
    regions: Regions,
    bores: tuple[RoundSurface, ...],
    long: list[tuple[float, float]],
) -> Walls:
    """The walls with those beside long features of the outside measured."""
    kept, again = [], []
    for wall in walls.stretches:
        beside = common([(wall.start, wall.stop)], long)
        again += [_Span(wall.bores, low, high) for low, high in beside]
        left = [(wall.start, wall.stop)]
        for span in beside:
            left = subtract(left, span)
        kept += [
            replace(wall, start=low, stop=high) for low, high in left if high - low > _LEAST_STRETCH
        ]
    again = [span for span in again if span.high - span.low > _LEAST_STRETCH]
    measured = _measured_walls(part, regions, again, bores) if again else walls
    stretches = sorted((*kept, *measured.stretches), key=lambda wall: wall.start)
    return Walls(tuple(stretches), min(walls.least, measured.least), walls.median)


@dataclass(frozen=True, slots=True)
class _Span:
    """Stations between which the same bores run beside each other."""

    bores: tuple[int, ...]
    low: float
    high: float


def _bore_spans(bores: tuple[RoundSurface, ...]) -> list[_Span]:
    ends = sorted({end for bore in bores for end in (bore.start, bore.stop)})
    spans = []
    for low, high in pairwise(ends):
        middle = (low + high) / 2.0
        here = tuple(k for k, bore in enumerate(bores) if bore.start <= middle <= bore.stop)
        if here and high - low > _LEAST_STRETCH:
            spans.append(_Span(here, low, high))
    return spans


def _round_walls(
    spans: list[_Span], bores: tuple[RoundSurface, ...], outsides: tuple[RoundSurface, ...]
) -> tuple[WallStretch, ...]:
    found = []
    for span in spans:
        for outside in sorted(outsides, key=lambda surface: surface.start):
            low, high = max(span.low, outside.start), min(span.high, outside.stop)
            if high - low > _LEAST_STRETCH:
                found.append(WallStretch(span.bores, bores[span.bores[0]], outside, low, high))
    if not found:
        raise NotTubular(
            f"bores from {spans[0].low:.2f} to {spans[-1].high:.2f} mm and a round outside from "
            f"{min(o.start for o in outsides):.2f} to {max(o.stop for o in outsides):.2f} mm",
            "a stretch that has both",
            "a part whose bore runs within its outside",
        )
    return tuple(found)


def _check_apart(walls: tuple[WallStretch, ...]) -> None:
    for wall in walls:
        thin = min(_wall_at(wall, station) for station in (wall.start, wall.stop))
        if thin <= 0.0:
            raise NotTubular(
                f"a bore that leaves a wall of {thin:.2f} mm between {wall.start:.2f} and "
                f"{wall.stop:.2f} mm",
                "a bore inside its outside",
                "check the mesh: bore and outside cross",
            )


def _wall_at(wall: WallStretch, station: float) -> float:
    apart = np.subtract(wall.outer.offset, wall.bore.offset)
    gap = wall.outer.radius_at(station) - wall.bore.radius_at(station)
    return float(gap - np.hypot(*apart))


def _least_round(wall: WallStretch, ornaments: tuple[Ornament, ...]) -> float:
    """The thinnest of a stretch: at an end of it, or in a recess of either side."""
    least = min(_wall_at(wall, station) for station in (wall.start, wall.stop))
    for ornament in ornaments:
        if ornament.place == "along" or ornament.stop < wall.start or ornament.start > wall.stop:
            continue
        middle = min(max((ornament.start + ornament.stop) / 2.0, wall.start), wall.stop)
        if ornament.place == "outside":
            left = ornament.least_radius - wall.bore.radius_at(middle)
            whole = _wall_at(wall, middle) - wall.outer.sagitta - ROUND_OFF
        else:
            left = wall.outer.radius_at(middle) - ornament.greatest_radius
            whole = _wall_at(wall, middle) - wall.bore.sagitta - ROUND_OFF
        if 0.0 < left < whole:
            least = min(least, left)
    return least


def _median_round(walls: tuple[WallStretch, ...]) -> float:
    """Over stations: the wall halfway round is the one between the radii."""
    stations = [np.linspace(wall.start, wall.stop, 33) for wall in walls]
    gaps = [
        wall.outer.radii_at(here) - wall.bore.radii_at(here)
        for wall, here in zip(walls, stations, strict=True)
    ]
    weights = np.repeat([wall.stop - wall.start for wall in walls], 33)
    order = np.argsort(np.concatenate(gaps))
    growing = np.cumsum(weights[order])
    return float(np.concatenate(gaps)[order][np.searchsorted(growing, growing[-1] / 2.0)])


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """Wall by station, along one span.

    stations, walls : (k,) mm; infinite where nothing but the bores was met
    """

    span: _Span
    stations: FloatArray
    walls: FloatArray

    def __post_init__(self) -> None:
        read_only(self.stations)
        read_only(self.walls)


def _measured_walls(
    part: Mesh, regions: Regions, spans: list[_Span], bores: tuple[RoundSurface, ...]
) -> Walls:
    """Walls against whatever is nearest to the bores, side holes' own walls left out."""
    columns = [np.ascontiguousarray(part.vertices[:, axis]) for axis in range(3)]
    stations = _planes(columns[2], len(part.triangles))
    sections = cut_sections(columns, part.triangles, stations)
    ignored = np.isin(regions.labels[sections.triangle], (BORE, HOLE, LOW_END, HIGH_END))
    stretches: list[WallStretch] = []
    least, medians = np.inf, []
    for span in spans:
        if len(span.bores) > 2:
            continue
        measured = _measure(sections, np.flatnonzero(~ignored), span, bores)
        pieces = _pieces_under(measured)
        stretches += [_measured_stretch(span, bores, piece) for piece in pieces]
        within = np.zeros(len(measured.stations), bool)
        for piece in pieces:
            within |= (measured.stations >= piece.low) & (measured.stations <= piece.high)
        least = min(least, float(measured.walls[within].min(initial=np.inf)), _web(span, bores))
        medians += measured.walls[within].tolist()
    most = max(len(span.bores) for span in spans)
    if not stretches and most > 2:
        raise NotTubular(
            f"{most} bores beside each other",
            "2 at the most, around which a joint can be made",
            "a part with one bore or two",
        )
    if not stretches:
        raise NotTubular(
            "bores without wall all around at any station",
            f"a stretch with at least {_LEAST_MEASURED:.1f} mm of wall",
            "a part whose bores run within its outside",
        )
    return Walls(tuple(stretches), float(least), float(np.median(medians)))


def _planes(stations: FloatArray, triangles: int) -> FloatArray:
    """Planes at even steps; also at both ends of every longer stretch without a vertex."""
    low, high = float(stations.min()), float(stations.max())
    count = int(np.clip((high - low) / _STEP, 16, _MOST_PLANES))
    count = min(count, max(16, int(_MOST_SEGMENTS / (4.0 * np.sqrt(triangles)))))
    even = low + (high - low) * (np.arange(count) + 0.5123) / count
    levels = np.unique(np.round(stations / _LEVEL_GRAIN)) * _LEVEL_GRAIN
    wide = np.diff(levels) > _STEP
    beside = np.concatenate([levels[:-1][wide] + _BESIDE_LEVEL, levels[1:][wide] - _BESIDE_LEVEL])
    both = np.unique(np.concatenate([even, beside]))
    inside: FloatArray = both[(both > low) & (both < high)]
    return inside


def _measure(
    sections: Sections, chosen: IntArray, span: _Span, bores: tuple[RoundSurface, ...]
) -> _Measured:
    """Least distance from the hull of the bores to the chosen segments, plane by plane."""
    plane = sections.plane[sections.outline[chosen]]
    heights = sections.heights
    inside = (heights[plane] > span.low) & (heights[plane] < span.high)
    chosen, plane = chosen[inside], plane[inside]
    start, end = sections.starts[chosen], sections.ends[chosen]
    gaps = _gaps(start, end, [bores[k] for k in span.bores], heights[plane])
    walls = np.full(len(heights), np.inf)
    np.minimum.at(walls, plane, gaps)
    here = (heights > span.low) & (heights < span.high) & np.isfinite(walls)
    return _Measured(span, heights[here], walls[here])


def _gaps(
    start: FloatArray, end: FloatArray, bores: list[RoundSurface], stations: FloatArray
) -> FloatArray:
    """(p,) distance of segments from the hull of one bore or two, at their stations.

    The hull of two is swept by discs between them; a few stand for all.
    """
    first = np.array(bores[0].offset)
    radii = bores[0].radii_at(stations)
    if len(bores) == 1:
        return _distances(start, end, first) - radii
    last = np.array(bores[1].offset)
    gaps = np.full(len(start), np.inf)
    for share in np.linspace(0.0, 1.0, _DISCS).tolist():
        centre = (1.0 - share) * first + share * last
        disc = (1.0 - share) * radii + share * bores[1].radii_at(stations)
        np.minimum(gaps, _distances(start, end, centre) - disc, out=gaps)
    return gaps


def _distances(start: FloatArray, end: FloatArray, point: FloatArray) -> FloatArray:
    """(p,) distance of a point from each segment."""
    along_x, along_y = (end - start).T
    x, y = (point - start).T
    square = np.maximum(along_x**2 + along_y**2, 1e-30)
    share = ((x * along_x + y * along_y) / square).clip(0.0, 1.0)
    distances: FloatArray = np.hypot(x - share * along_x, y - share * along_y)
    return distances


def _web(span: _Span, bores: tuple[RoundSurface, ...]) -> float:
    """Thinnest wall between two bores, mm; infinite where there is one only."""
    if len(span.bores) < 2:
        return float(np.inf)
    first, second = (bores[k] for k in span.bores)
    apart = float(np.hypot(*np.subtract(first.offset, second.offset)))
    radii = [first.radius_at(z) + second.radius_at(z) for z in (span.low, span.high)]
    return apart - max(radii)


@dataclass(frozen=True, slots=True)
class _Piece:
    """A line under the measured walls: wall = base + slope z from low to high."""

    base: float
    slope: float
    low: float
    high: float

    def at(self, station: float) -> float:
        return self.base + self.slope * station


def _pieces_under(measured: _Measured) -> list[_Piece]:
    """Lines under the measured walls, in pieces.

    A piece is divided where the wall stands highest over its line, until no line gives
    away more than a tenth of the wall.
    """
    z, wall = measured.stations, measured.walls
    waiting = [(0, len(z) - 1)] if len(z) > 1 else []
    found: list[_Piece] = []
    while waiting:
        first, last = waiting.pop()
        here = slice(first, last + 1)
        if last == first:
            continue
        base, slope = _line_under(z[here], wall[here])
        over = wall[here] - base - slope * z[here]
        if (over <= np.maximum(_LOSS, _LOSS_SHARE * wall[here])).all():
            found.append(_Piece(base, slope, float(z[first]), float(z[last])))
            continue
        split = first + _split(z[here], wall[here])
        waiting += [(first, split), (split + 1, last)]
    joined = _joined(sorted(found, key=lambda piece: piece.low), measured)
    return [
        piece
        for piece in joined
        if min(piece.at(piece.low), piece.at(piece.high)) > _LEAST_MEASURED
        and piece.high - piece.low > _LEAST_STRETCH
    ]


def _joined(pieces: list[_Piece], measured: _Measured) -> list[_Piece]:
    """The pieces made to touch: from plane to plane the one with less wall goes on.

    The first and the last reach to the ends of the span, less than a plane away.
    """
    if not pieces:
        return []
    pieces = list(pieces)
    step = 2.0 * float(np.diff(measured.stations).max())
    if pieces[0].low - measured.span.low < step:
        pieces[0] = replace(pieces[0], low=measured.span.low)
    if measured.span.high - pieces[-1].high < step:
        pieces[-1] = replace(pieces[-1], high=measured.span.high)
    for k, (first, second) in enumerate(pairwise(list(pieces))):
        if first.at(second.low) <= second.at(second.low):
            pieces[k] = replace(pieces[k], high=second.low)
        elif second.at(first.high) <= first.at(first.high):
            pieces[k + 1] = replace(second, low=first.high)
    return pieces


def _line_under(z: FloatArray, wall: FloatArray) -> tuple[float, float]:
    """The line from end to end, or level, put down onto the lowest point: the better one."""
    slope = float((wall[-1] - wall[0]) / (z[-1] - z[0]))
    lines = [(float((wall - k * z).min()), k) for k in (slope, 0.0)]
    return max(lines, key=lambda line: float((line[0] + line[1] * z).sum()))


def _split(z: FloatArray, wall: FloatArray) -> int:
    """Where to part a piece: at its greatest jump, else where it is farthest from straight."""
    jumps = np.abs(np.diff(wall))
    if jumps.max() > max(_LOSS, 0.5 * float(np.ptp(wall))):
        return int(jumps.argmax())
    chord = wall[0] + (wall[-1] - wall[0]) * (z - z[0]) / (z[-1] - z[0])
    return int(np.abs(wall - chord)[:-1].argmax())


def _measured_stretch(span: _Span, bores: tuple[RoundSurface, ...], piece: _Piece) -> WallStretch:
    inner = bores[span.bores[0]]
    outer = RoundSurface(
        inner.radius_at_zero + piece.base,
        inner.slope + piece.slope,
        piece.low,
        piece.high,
        offset=inner.offset,
    )
    return WallStretch(span.bores, inner, outer, piece.low, piece.high)
