"""Where a part is solid, and the widest disc about its axis that each section holds."""

from __future__ import annotations

import numpy as np

from ..errors import NotTubular
from ..meshes.plane_sections import cut_sections
from ..planning.intervals import Span, common, subtract
from ..values import ROUND_OFF, FloatArray, Mesh, Ornament, RoundSurface, WallStretch
from .section_shapes import is_inside
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


def solid_walls(
    part: Mesh,
    spans: list[Span],
    outsides: tuple[RoundSurface, ...],
    ornaments: tuple[Ornament, ...],
) -> tuple[WallStretch, ...]:
    """The widest discs about the axis, by station: the round outside, or measured.

    Measured is what no round outside bounds, and where something cuts into one. Where
    the axis lies in no solid there is no wall.
    """
    found: list[WallStretch] = []
    left = spans
    for outside in outsides:
        held = outside.held_about_axis
        for low, high in _whole(outside, common(spans, [(outside.start, outside.stop)]), ornaments):
            found.append(WallStretch((), None, held, low, high))
            left = subtract(left, (low, high))
    left = [span for span in left if span[1] - span[0] > LEAST_STRETCH]
    found += _measured(part, left) if left else []
    return tuple(sorted(found, key=lambda wall: wall.start))


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


def _measured(part: Mesh, spans: list[Span]) -> list[WallStretch]:
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
    found = []
    for low, high in spans:
        here = (sections.heights > low) & (sections.heights < high)
        measured = MeasuredWall(sections.heights[here], discs[here], low, high)
        for piece in pieces_under(measured):
            disc = RoundSurface(piece.base, piece.slope, piece.low, piece.high)
            found.append(WallStretch((), None, disc, piece.low, piece.high))
    return found


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
