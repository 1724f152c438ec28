"""Where the part has wall enough around its bores to think of a joint, and how thick it is.

Against a round outside the wall is told by two surfaces. Any other outside is measured:
in many planes, the distance from the bores to the nearest of all else. A line under
those distances, piece by piece, stands for the outside.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..errors import BadMesh, NotTubular
from ..meshes.plane_sections import Sections, cut_sections
from ..planning.intervals import Span, common, merge, subtract
from ..values import (
    BORE,
    HIGH_END,
    HOLE,
    LOW_END,
    BoolArray,
    FloatArray,
    IntArray,
    Mesh,
    Ornament,
    RoundSurface,
    WallStretch,
    read_only,
)
from .labelling import Regions
from .part_view import PLANES
from .solid_walls import least_and_median, solid_walls
from .wall_lines import (
    LEAST_MEASURED,
    LEAST_STRETCH,
    MeasuredWall,
    WallPiece,
    distances,
    measuring_planes,
    pieces_under,
)

_DISCS = 33
"""Discs that stand for the hull of two bores: their outline is short of it by L^2 / 8 r / 32^2."""


_SHARED_BY_BOTH = 3.0
"""Where less wall than this, mm, lies around two bores, that around each alone is told as well."""


@dataclass(frozen=True, slots=True)
class Walls:
    """Stretches by station, and the part's own least and median wall, mm, as in `Survey`.

    least : beside what is of no known surface there may be less
    dips, split : what thins solid stretches, as in `SolidWalls`
    """

    stretches: tuple[WallStretch, ...]
    least: float
    median: float
    dips: tuple[Ornament, ...] = ()
    split: tuple[Span, ...] = ()


def find_walls(
    part: Mesh,
    regions: Regions,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    ornaments: tuple[Ornament, ...],
    solids: list[Span],
    gaps: FloatArray,
) -> Walls:
    """The walls of a part in its own frame.

    solids : stations between which it is solid; all, where it has no bore
    gaps : (g,) stations of planes in which a hollow lies all around a bore

    Raises
    ------
    BadMesh : bore and outside cross
    NotTubular : a solid part that no disc about its axis fits in
    """
    if not solids:
        return _in_one_wall(_bored_walls(part, regions, bores, outsides, ornaments), part, gaps)
    solid = solid_walls(part, solids, outsides, ornaments)
    if not bores:
        least, median = least_and_median(solid.stretches)
        return Walls(solid.stretches, least, median, solid.dips, solid.split)
    walls = _in_one_wall(_bored_walls(part, regions, bores, outsides, ornaments), part, gaps)
    stretches = sorted((*walls.stretches, *solid.stretches), key=lambda wall: wall.start)
    return replace(walls, stretches=tuple(stretches), dips=solid.dips, split=solid.split)


def _in_one_wall(walls: Walls, part: Mesh, gaps: FloatArray) -> Walls:
    """The walls without stretches beside the gap of a double wall: a joint needs it in one.

    gaps : (g,) stations at which there is one; it may reach a plane's distance farther
    """
    if not len(gaps):
        return walls
    reach = float(np.ptp(part.vertices[:, 2])) / PLANES
    double = merge([(z - reach, z + reach) for z in gaps.tolist()])
    stretches = tuple(
        replace(wall, start=low, stop=high)
        for wall in walls.stretches
        for low, high in _without((wall.start, wall.stop), double)
    )
    if not stretches:
        raise NotTubular(
            f"a hollow all around the bore from {gaps.min():.1f} to {gaps.max():.1f} mm, between "
            "double walls",
            "a stretch with its wall in one",
            "a part without the hollow, or one that is filled at some stations",
        )
    return replace(walls, stretches=stretches)


def _without(stretch: Span, taken: list[Span]) -> list[Span]:
    """What is left of a stretch of wall, where it is long enough to count."""
    left = [stretch]
    for span in taken:
        left = subtract(left, span)
    return [(low, high) for low, high in left if high - low > LEAST_STRETCH]


def _bored_walls(
    part: Mesh,
    regions: Regions,
    bores: tuple[RoundSurface, ...],
    outsides: tuple[RoundSurface, ...],
    ornaments: tuple[Ornament, ...],
) -> Walls:
    spans = _bore_spans(bores)
    if not outsides or any(len(span.bores) > 1 for span in spans):
        measured = _measured_walls(part, regions, spans, bores)
        _check_some(measured, spans)
        return measured
    stretches = _round_walls(spans, bores, outsides)
    _check_apart(stretches)
    least = min(_wall_at(wall, z) for wall in stretches for z in (wall.start, wall.stop))
    whole = Walls(stretches, least, _median_round(stretches))
    long = merge([(o.start, o.stop) for o in ornaments if o.place == "along"])
    if not long:
        return whole
    left = _remeasured(whole, part, regions, bores, long)
    _check_some(left, spans)
    return left


def _remeasured(
    walls: Walls,
    part: Mesh,
    regions: Regions,
    bores: tuple[RoundSurface, ...],
    long: list[tuple[float, float]],
) -> Walls:
    """The walls with those beside long features of the outside measured, the least apart."""
    kept, again = [], []
    for wall in walls.stretches:
        beside = common([(wall.start, wall.stop)], long)
        again += [_Span(wall.bores, low, high) for low, high in beside]
        left = _without((wall.start, wall.stop), beside)
        kept += [replace(wall, start=low, stop=high) for low, high in left]
    again = [span for span in again if span.high - span.low > LEAST_STRETCH]
    measured = _measured_walls(part, regions, again, bores) if again else walls
    stretches = sorted((*kept, *measured.stretches), key=lambda wall: wall.start)
    return Walls(tuple(stretches), walls.least, walls.median)


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
        if here and high - low > LEAST_STRETCH:
            spans.append(_Span(here, low, high))
    return spans


def _round_walls(
    spans: list[_Span], bores: tuple[RoundSurface, ...], outsides: tuple[RoundSurface, ...]
) -> tuple[WallStretch, ...]:
    found = []
    for span in spans:
        for outside in sorted(outsides, key=lambda surface: surface.start):
            low, high = max(span.low, outside.start), min(span.high, outside.stop)
            if high - low > LEAST_STRETCH:
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
            raise BadMesh(
                f"a bore that leaves a wall of {thin:.2f} mm between {wall.start:.2f} and "
                f"{wall.stop:.2f} mm",
                "a bore inside its outside",
                "check the mesh: bore and outside cross",
            )


def _wall_at(wall: WallStretch, station: float) -> float:
    apart = np.subtract(wall.outer.offset, wall.bore.offset)
    gap = wall.outer.radius_at(station) - wall.bore.radius_at(station)
    return float(gap - np.hypot(*apart))


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


def _measured_walls(
    part: Mesh, regions: Regions, spans: list[_Span], bores: tuple[RoundSurface, ...]
) -> Walls:
    """Walls against whatever is nearest to the bores, side holes' own walls left out."""
    columns = [np.ascontiguousarray(part.vertices[:, axis]) for axis in range(3)]
    stations = measuring_planes(columns[2], len(part.triangles))
    sections = cut_sections(columns, part.triangles, stations)
    ignored = np.isin(regions.labels[sections.triangle], (BORE, HOLE, LOW_END, HIGH_END))
    stretches: list[WallStretch] = []
    least, medians = np.inf, []
    for span in spans:
        if len(span.bores) > 2:
            continue
        chosen = np.flatnonzero(~ignored)
        around = _measure(sections, chosen, span, bores)
        measured = around.measured
        pieces = pieces_under(measured)
        stretches += [_measured_stretch(span, bores, piece) for piece in pieces]
        if len(span.bores) > 1 and measured.walls.min(initial=np.inf) < _SHARED_BY_BOTH:
            each = _around_each(sections, chosen, span, bores)
            least = min(
                [least, *(_wall_at(wall, z) for wall in each for z in (wall.start, wall.stop))]
            )
            stretches += each
        within = np.zeros(len(measured.stations), bool)
        for piece in pieces:
            within |= (measured.stations >= piece.low) & (measured.stations <= piece.high)
        own = around.own[within]
        least = min(least, float(own.min(initial=np.inf)), _web(span, bores))
        medians += own[np.isfinite(own)].tolist()
    median = float(np.median(medians)) if medians else float(least)
    return Walls(tuple(stretches), float(least), median)


def _check_some(walls: Walls, spans: list[_Span]) -> None:
    most = max(len(span.bores) for span in spans)
    if not walls.stretches and most > 2:
        raise NotTubular(
            f"{most} bores beside each other",
            "2 at the most, around which a joint can be made",
            "a part with one bore or two",
        )
    if not walls.stretches:
        raise NotTubular(
            "bores without wall all around at any station",
            f"a stretch with at least {LEAST_MEASURED:.1f} mm of wall",
            "a part whose bores run within its outside",
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Surroundings:
    """What lies around bores, by station.

    measured : least distance to anything at all
    own : (k,) mm, the same to what faces away from the bores: the part's own wall
    """

    measured: MeasuredWall
    own: FloatArray

    def __post_init__(self) -> None:
        read_only(self.own)


def _measure(
    sections: Sections, chosen: IntArray, span: _Span, bores: tuple[RoundSurface, ...]
) -> _Surroundings:
    """Least distance from the hull of the bores to the chosen segments, plane by plane."""
    plane = sections.plane[sections.outline[chosen]]
    heights = sections.heights
    inside = (heights[plane] > span.low) & (heights[plane] < span.high)
    chosen, plane = chosen[inside], plane[inside]
    start, end = sections.starts[chosen], sections.ends[chosen]
    gaps = _gaps(start, end, [bores[k] for k in span.bores], heights[plane])
    walls, own = np.full((2, len(heights)), np.inf)
    np.minimum.at(walls, plane, gaps)
    away = _face_away(start, end, [bores[k] for k in span.bores]) & (gaps > 0.0)
    np.minimum.at(own, plane[away], gaps[away])
    here = (heights > span.low) & (heights < span.high) & np.isfinite(walls)
    measured = MeasuredWall(heights[here], walls[here], span.low, span.high)
    return _Surroundings(measured, own[here])


def _face_away(start: FloatArray, end: FloatArray, bores: list[RoundSurface]) -> BoolArray:
    """(p,) segments with a bore on their left, where the solid is: on the far side of a wall."""
    away = np.zeros(len(start), bool)
    for bore in bores:
        along, arm = end - start, np.array(bore.offset) - start
        away |= along[:, 0] * arm[:, 1] > along[:, 1] * arm[:, 0]
    return away


def _around_each(
    sections: Sections, chosen: IntArray, span: _Span, bores: tuple[RoundSurface, ...]
) -> list[WallStretch]:
    """The wall around each of two bores alone, as far as it is clear of the other one."""
    found = []
    for number, other in (span.bores, span.bores[::-1]):
        alone = _Span((number,), span.low, span.high)
        measured = _measure(sections, chosen, alone, bores).measured
        apart = float(np.hypot(*np.subtract(bores[number].offset, bores[other].offset)))
        radii = bores[number].radii_at(measured.stations), bores[other].radii_at(measured.stations)
        clear = replace(measured, walls=np.minimum(measured.walls, apart - radii[0] - radii[1]))
        found += [_measured_stretch(alone, bores, piece) for piece in pieces_under(clear)]
    return found


def _gaps(
    start: FloatArray, end: FloatArray, bores: list[RoundSurface], stations: FloatArray
) -> FloatArray:
    """(p,) distance of segments from the hull of one bore or two, at their stations.

    The hull of two is swept by discs between them; a few stand for all.
    """
    first = np.array(bores[0].offset)
    radii = bores[0].radii_at(stations)
    if len(bores) == 1:
        return distances(start, end, first) - radii
    last = np.array(bores[1].offset)
    gaps = np.full(len(start), np.inf)
    for share in np.linspace(0.0, 1.0, _DISCS).tolist():
        centre = (1.0 - share) * first + share * last
        disc = (1.0 - share) * radii + share * bores[1].radii_at(stations)
        np.minimum(gaps, distances(start, end, centre) - disc, out=gaps)
    return gaps


def _web(span: _Span, bores: tuple[RoundSurface, ...]) -> float:
    """Thinnest wall between two bores, mm; infinite where there is one only."""
    if len(span.bores) < 2:
        return float(np.inf)
    first, second = (bores[k] for k in span.bores)
    apart = float(np.hypot(*np.subtract(first.offset, second.offset)))
    radii = [first.radius_at(z) + second.radius_at(z) for z in (span.low, span.high)]
    return apart - max(radii)


def _measured_stretch(
    span: _Span, bores: tuple[RoundSurface, ...], piece: WallPiece
) -> WallStretch:
    inner = bores[span.bores[0]]
    outer = RoundSurface(
        inner.radius_at_zero + piece.base,
        inner.slope + piece.slope,
        piece.low,
        piece.high,
        offset=inner.offset,
    )
    return WallStretch(span.bores, inner, outer, piece.low, piece.high)
