"""Which triangle belongs to which surface, told by where its corners lie.

A handful of passes over whole columns: normals are asked of the few triangles only
whose corners leave it open.
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..values import (
    BORE,
    HIGH_END,
    LOW_END,
    OTHER,
    OUTSIDE,
    BoolArray,
    FloatArray,
    IntArray,
    RoundSurface,
    read_only,
)
from .flats import LEVEL_COSINE, flat_facets, floor_slivers, triangle_shapes
from .surface_fit import USUAL_FACETS

_SQUARE_COSINE = math.cos(math.radians(30.0))
_DEEP = 20.0
"""A facet so many times as deep inside its circle as usual ones is a flat, whatever is beside."""

_LEAST_SPREAD, _SPREAD_OVER_NOISE = 0.01, 6.0
_LEAST_STEP = 0.15
"""Radii of two stretches that differ by less than this, mm, where one ends and the next
begins: they meet in a bend somewhere, not in a step here."""

_LOW_TRIANGLE = 0.35
"""A triangle less tall than this share of its width might lie level: its normal is asked."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A round surface as it is looked for, in the part frame.

    label, number : what its triangles are marked with
    window : stations between which the middles of its triangles lie
    facet_angle : radians, of its usual facet
    """

    label: int
    number: int
    surface: RoundSurface
    window: tuple[float, float]
    facet_angle: float


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """What kind of surface each triangle is of, and which of its kind."""

    labels: IntArray
    numbers: IntArray

    def __post_init__(self) -> None:
        read_only(self.labels)
        read_only(self.numbers)


def share_windows(surfaces: list[RoundSurface]) -> list[tuple[float, float]]:
    """Stations up to which each surface may reach, where others follow on its centre line.

    Two that meet in a bend part there; across a step, each may reach up to where the
    other was seen.
    """
    low = [-math.inf] * len(surfaces)
    high = [math.inf] * len(surfaces)
    order = sorted(range(len(surfaces)), key=lambda k: surfaces[k].start)
    for below, above in _neighbours(order, surfaces):
        first, second = surfaces[below], surfaces[above]
        meeting = _meeting(first, second)
        high[below] = second.start if meeting is None else meeting
        low[above] = first.stop if meeting is None else meeting
    return list(zip(low, high, strict=True))


def _neighbours(order: list[int], surfaces: list[RoundSurface]) -> list[tuple[int, int]]:
    """Pairs that follow each other on one centre line."""
    lines: dict[tuple[float, float], list[int]] = {}
    for number in order:
        lines.setdefault(surfaces[number].offset, []).append(number)
    return [pair for line in lines.values() for pair in pairwise(line)]


def _meeting(first: RoundSurface, second: RoundSurface) -> float | None:
    """Station at which two stretches meet in a bend, if they do; else there is a step.

    Where their slopes hardly differ, the planes between may have gone to either.
    """
    turn = first.slope - second.slope
    if abs(turn) < 1e-6:
        return None
    station = (second.radius_at_zero - first.radius_at_zero) / turn
    ends = np.array([first.stop, second.start])
    goes_on = np.abs(first.radii_at(ends) - second.radii_at(ends)).max() <= _LEAST_STEP
    gap = second.start - first.stop
    close = first.stop - gap <= station <= second.start + gap
    inside = first.start < station < second.stop
    return station if close or (goes_on and inside) else None


def label_round(
    columns: list[FloatArray], triangles: IntArray, stretches: list[Stretch], tolerance: float
) -> tuple[Regions, list[tuple[float, float]]]:
    """Mark the triangles of each stretch; all else is OTHER.

    Parameters
    ----------
    columns : x, y, z of the vertices in the part frame
    tolerance : mm, how far from a surface a corner may lie

    Returns
    -------
    The regions, and for each stretch the stations between which its triangles lie
    """
    labels = np.full(len(triangles), OTHER)
    numbers = np.zeros(len(triangles), np.int64)
    extents = []
    with ThreadPoolExecutor(2) as pool:  # numpy lets go of the interpreter over whole columns
        found = pool.map(lambda one: _on_stretch(columns, triangles, one, tolerance), stretches)
        for stretch, (chosen, extent) in zip(stretches, found, strict=True):
            labels[chosen] = stretch.label
            numbers[chosen] = stretch.number
            extents.append(extent)
    return Regions(labels, numbers), _apart(stretches, extents)


def _apart(
    stretches: list[Stretch], extents: list[tuple[float, float]]
) -> list[tuple[float, float]]:
    """The extents, with those of one kind and one centre line that overlap parted."""
    parted = [list(extent) for extent in extents]
    order = sorted(range(len(stretches)), key=lambda k: extents[k])
    for label in (BORE, OUTSIDE):
        alike = [k for k in order if stretches[k].label == label]
        for below, above in _neighbours(alike, [stretch.surface for stretch in stretches]):
            if parted[below][1] > parted[above][0]:
                middle = min(max(stretches[below].window[1], parted[above][0]), parted[below][1])
                parted[below][1] = parted[above][0] = middle
    return [(low, high) for low, high in parted]


def _on_stretch(
    columns: list[FloatArray], triangles: IntArray, stretch: Stretch, tolerance: float
) -> tuple[IntArray, tuple[float, float]]:
    """Numbers of the triangles on a stretch, and the stations between which they lie."""
    x, y, z = columns
    surface = stretch.surface
    across, up = x - surface.offset[0], y - surface.offset[1]
    radii = surface.radii_at(z)
    excess = np.hypot(across, up) - radii
    sagitta = 1.0 - math.cos(stretch.facet_angle / 2.0)
    near = (excess <= tolerance) & (excess >= -tolerance - sagitta * radii)
    chosen = np.flatnonzero(all_corners(near, triangles))
    corners = [triangles[chosen, k] for k in range(3)]
    low, high, middle = _reach_along(z, corners)
    kept = (middle >= stretch.window[0]) & (middle <= stretch.window[1])
    angles = np.arctan2(up, across)
    width = _widths(angles, corners)
    usual = USUAL_FACETS * stretch.facet_angle
    wide = np.flatnonzero(kept & (width > usual))
    bulge = surface.radii_at(low[wide]) * (1.0 - np.cos(width[wide] / 2.0))
    usual_bulge = surface.radii_at(low[wide]) * sagitta
    kept[wide[bulge > _DEEP * usual_bulge + tolerance]] = False
    wide = wide[kept[wide] & (bulge > usual_bulge + tolerance)]
    asked = np.flatnonzero(kept & (high - low < _LOW_TRIANGLE * surface.radii_at(low) * width))
    spread = max(_LEAST_SPREAD, _SPREAD_OVER_NOISE * surface.rms)
    kept[np.isin(chosen, _floors(columns, triangles, chosen[asked], excess, spread))] = False
    if len(wide):
        flats = flat_facets(triangles, chosen[wide], chosen[kept], angles, usual)
        kept[np.isin(chosen, flats)] = False
    extent = (surface.start, surface.stop)
    if kept.any():
        extent = float(low[kept].min()), float(high[kept].max())
    return chosen[kept], extent


def _reach_along(
    z: FloatArray, corners: list[IntArray]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Lowest, highest and middle station of each triangle."""
    a, b, c = (z[corner] for corner in corners)
    return np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c), (a + b + c) / 3.0


def _floors(
    columns: list[FloatArray],
    triangles: IntArray,
    asked: IntArray,
    excess: FloatArray,
    spread: float,
) -> IntArray:
    """Numbers of those of some triangles that are floors, though their corners lie on a circle.

    excess : (n,) mm, of the vertices over the surface
    spread : mm, of its corners' excess, above which a level triangle is the floor of a step
    """
    cross, length, longest = triangle_shapes(columns, triangles[asked])
    level = np.abs(cross[2]) > LEVEL_COSINE * length
    if not level.any():
        return asked[:0]
    asked = asked[level]
    heights = length[level] / np.maximum(longest[level], 1e-300)
    slivers = floor_slivers(columns, triangles, asked, heights)
    reach = excess[triangles[asked]]
    return np.union1d(slivers, asked[np.ptp(reach, axis=1) > spread])


def all_corners(marked: BoolArray, triangles: IntArray) -> BoolArray:
    """(m,) triangles of which all three corners are marked."""
    both: BoolArray = marked[triangles[:, 0]] & marked[triangles[:, 1]] & marked[triangles[:, 2]]
    return both


def _widths(angles: FloatArray, corners: list[IntArray]) -> FloatArray:
    """(k,) the angle that each triangle spans about the centre line."""
    a, b, c = (angles[corner] for corner in corners)
    widest = np.zeros(len(a))
    for first, second in ((a, b), (b, c), (c, a)):
        turn = np.abs(first - second)
        np.maximum(widest, np.minimum(turn, 2.0 * math.pi - turn), out=widest)
    return widest


def label_ends(
    columns: list[FloatArray], triangles: IntArray, labels: IntArray, band: float
) -> tuple[float, float]:
    """Mark the flat ends in `labels`; their stations, else those of the farthest vertices.

    An end is square to the axis, near the part's extreme, and level within the band.
    """
    z = columns[2]
    stations = []
    rest = np.flatnonzero(labels == OTHER)
    others = triangles[rest]
    for label, sign in ((LOW_END, -1.0), (HIGH_END, 1.0)):
        extreme = sign * float((sign * z).max())
        near = rest[all_corners(np.abs(z - extreme) <= 2.0 * band, others)]
        cross, length, _ = triangle_shapes(columns, triangles[near])
        near = near[sign * cross[2] > _SQUARE_COSINE * length]
        plane = float(np.median(z[np.unique(triangles[near])])) if len(near) else extreme
        level = near[all_corners(np.abs(z - plane) <= band, triangles[near])]
        labels[level] = label
        corners = np.unique(triangles[level])
        stations.append(float(np.median(z[corners])) if len(corners) else extreme)
    return stations[0], stations[1]
