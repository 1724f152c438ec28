"""Which round surfaces a part has: its bores, stretch by stretch, and its round outside."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..errors import NotTubular
from ..meshes.plane_sections import Sections, cut_sections
from ..values import FloatArray, Mesh, read_only
from .axis_guess import axis_candidates
from .cylinder_fit import ConeFit, frame_rows
from .outline_circles import OutlineCircles, fit_circles
from .outline_tracks import (
    LEAST_RADIUS,
    ProfileStretch,
    Track,
    fills_circle,
    fine_tolerance,
    follow_outlines,
    largest_of_planes,
    profile_stretches,
)
from .surface_fit import Facets, FoundSurface, fit_surface, measure_facets

PLANES = 64
_GAPS_LOOKED_INTO = 60
_GAP_PLACES = (0.2, 0.5, 0.8)
_LEAST_GAP = 0.2
_MUCH_DRIFT = 0.005
_SURE_SHARE = 0.5
_LEAST_BORE, _LEAST_BORE_SHARE = 3.0, 0.25
_LEAST_OUTSIDE, _LEAST_OUTSIDE_SHARE = 10.0, 0.35
_ROUGH_FIT = 0.03
"""rms, mm, that a scan's noise may have and a round surface's vertices must not pass."""

_GOOD_FIT = 0.004
"""rms, mm, of a surface whose vertices leave no doubt: they are of one cylinder or cone."""

_LEAST_BESIDE = 0.5
"""A hollow beside the main bore is a bore if it is this share as long."""

_LEAST_ROUND_SHARE = 0.4
"""Of a part's length its outside must be round for it to count as a round one."""

_LEAST_PLANES = 3
_LEAST_BENT = 8
_ONE_LINE = 0.02
"""Centre lines this near, mm, are one."""

MOST_BEND = 0.2
"""How far, mm, a bore's centre line may lie off a straight one."""

MOST_LEAN_DEG = 0.1
"""How far a second bore may lean from the first and still be along it."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundPart:
    """The round surfaces of a part, in the coordinates of its mesh, all along one direction.

    direction : (3,) unit, of the main bore's centre line
    point : (3,) mm, on the part's axis
    bores : the main one first; those of one line have one centre line
    outsides : the main one first; none where the outside is not round
    outside_words : what the outside is where it is not round
    """

    direction: FloatArray
    point: FloatArray
    bores: tuple[FoundSurface, ...]
    outsides: tuple[FoundSurface, ...]
    outside_words: str
    remarks: tuple[str, ...]

    def __post_init__(self) -> None:
        read_only(self.direction)
        read_only(self.point)


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """A part cut across one direction."""

    rows: FloatArray
    sections: Sections
    circles: OutlineCircles
    hollows: list[Track]

    @property
    def direction(self) -> FloatArray:
        direction: FloatArray = self.rows[2]
        return direction

    @property
    def spacing(self) -> float:
        return float(np.ptp(self.sections.heights)) / (PLANES - 1)

    def merit(self) -> float:
        """How much bore is seen along this direction: planes with a round one."""
        return len(self.hollows[0].heights) if self.hollows else 0.0


def find_surfaces(mesh: Mesh, tolerance: float) -> FoundPart:
    """The bores and the round outside of a closed mesh.

    tolerance : mm, how far from a surface a vertex may lie and still be of it

    Raises
    ------
    NotTubular : no round bore; an axis that bends; a bore of flat sides
    """
    view = _best_view(mesh, tolerance)
    _check_straight(view)
    facets = measure_facets(mesh, view.direction)
    lines, remarks = _bore_lines(view, facets, tolerance)
    bores = _by_length([surface for line in lines for surface in line])
    direction = bores[0].cone.direction
    outsides, words = _outsides(view, facets, direction, tolerance)
    point = bores[0].cone.point if len(lines) == 1 else _outline_middle(view, len(lines))
    return FoundPart(direction, point, bores, outsides, words, remarks)


def _by_length(surfaces: list[FoundSurface]) -> tuple[FoundSurface, ...]:
    return tuple(sorted(surfaces, key=lambda surface: surface.low - surface.high))


def _best_view(mesh: Mesh, tolerance: float) -> _View:
    """The direction across which most planes show a round hollow."""
    views: list[_View] = []
    for direction in axis_candidates(mesh):
        view = _straightened(mesh, _look_along(mesh, direction, tolerance), tolerance)
        views.append(view)
        if view.merit() >= _SURE_SHARE * len(view.sections.heights):
            break
    best = max(views, key=_View.merit)
    if best.merit() < _LEAST_PLANES:
        raise NotTubular(
            f"{_hollow_words(best)}a round bore in {best.merit():.0f} of "
            f"{len(best.sections.heights)} sections across the part",
            f"one in at least {_LEAST_PLANES}, about one straight line",
            "a part with a straight, round bore",
        )
    return best


def _hollow_words(view: _View) -> str:
    """What the hollows are where they are not round."""
    sections, circles = view.sections, view.circles
    hollow = np.flatnonzero((sections.areas < 0.0) & (circles.radii > LEAST_RADIUS))
    if not len(hollow):
        return ""
    middle = hollow[np.argsort(sections.areas[hollow])[len(hollow) // 2]]
    points = sections.starts[sections.outline == middle]
    reach = np.hypot(*(points - (points.min(axis=0) + points.max(axis=0)) / 2.0).T)
    return (
        f"a hollow that reaches {reach.min():.2f} to {reach.max():.2f} mm from its middle "
        f"(round, it would be one distance), and "
    )


def _straightened(mesh: Mesh, view: _View, tolerance: float) -> _View:
    """The view along the bore's centre line, if that drifts across this one."""
    if not view.hollows or len(view.hollows[0].heights) < _LEAST_PLANES:
        return view
    drift = view.hollows[0].line()[1]
    if np.hypot(*drift) < _MUCH_DRIFT:
        return view
    return _look_along(mesh, np.array([*drift, 1.0]) @ view.rows, tolerance)


def _look_along(mesh: Mesh, direction: FloatArray, tolerance: float) -> _View:
    rows = frame_rows(direction)
    columns = [mesh.vertices @ row for row in rows]
    sections = cut_sections(columns, mesh.triangles, _heights(columns[2]))
    circles = fit_circles(sections, tolerance)
    hollows = follow_outlines(sections, circles, fills_circle(sections, circles))
    return _View(rows, sections, circles, hollows)


def _heights(stations: FloatArray) -> FloatArray:
    """Planes at even steps, and where a coarse mesh has few levels three between any two."""
    low, high = float(stations.min()), float(stations.max())
    even = low + (high - low) * (np.arange(PLANES) + 0.5123) / PLANES
    levels = (
        np.unique(np.round(stations / _LEAST_GAP)) * _LEAST_GAP if len(stations) < 1e5 else even
    )
    gaps = np.diff(levels)
    if len(levels) > _GAPS_LOOKED_INTO:
        return even
    between = levels[:-1, None] + gaps[:, None] * np.array(_GAP_PLACES)
    both = np.sort(np.concatenate([even, between.ravel()]))
    both = both[(both > low) & (both < high)]
    apart: FloatArray = both[np.concatenate([[True], np.diff(both) > 1e-3])]
    return apart


def _check_straight(view: _View) -> None:
    """The centres of the hollow, round or not, must lie on a straight line.

    An arc's rise over the planes seen is told for the whole length: it grows as its square.
    """
    hollow = (view.sections.areas < 0.0) & (view.circles.radii > LEAST_RADIUS)
    every = follow_outlines(view.sections, view.circles, hollow, 0.0)[0]
    long = [track for track in (view.hollows[0], every) if len(track.heights) >= _LEAST_BENT]
    if not long:
        return
    track = max(long, key=lambda one: one.bend()[0])
    bend, height = track.bend()
    whole = float(np.ptp(view.sections.heights)) + view.spacing
    bend *= (whole / float(np.ptp(track.heights))) ** 2
    if bend > max(MOST_BEND, 0.02 * float(np.median(track.radii))):
        x, y, z = (float(v) for v in (*_centre_at(track, height), height) @ view.rows)
        raise NotTubular(
            f"an axis that bends: it lies up to {bend:.2f} mm off a straight line, most at "
            f"({x:.2f}, {y:.2f}, {z:.2f}), over {whole:.1f} mm",
            f"a straight one, within {MOST_BEND:.2f} mm",
            "a part with a straight bore, or only its straight stretch",
            ((x, y, z),),
        )


def _centre_at(track: Track, height: float) -> tuple[float, float]:
    x, y = track.centres[int(np.argmin(np.abs(track.heights - height)))]
    return float(x), float(y)


def _bore_lines(
    view: _View, facets: Facets, tolerance: float
) -> tuple[list[list[FoundSurface]], tuple[str, ...]]:
    """The bores, line by line, the longest first, all along the first one's direction."""
    lines: list[list[FoundSurface]] = []
    remarks: list[str] = []
    refusals: list[NotTubular] = []
    direction = None
    longest = float(np.ptp(view.hollows[0].heights))
    for track in view.hollows:
        stretches = profile_stretches(track, _LEAST_BORE, _LEAST_BORE_SHARE)
        if not stretches:
            continue
        main = max(stretches, key=lambda stretch: stretch.high - stretch.low)
        if lines and float(np.ptp(track.heights)) < _LEAST_BESIDE * longest:
            remarks.append(
                f"A hollow of about {2.0 * float(np.median(track.radii)):.2f} mm over "
                f"{np.ptp(track.heights):.1f} mm beside the bore is not taken for a bore."
            )
            continue
        try:
            free = _fit(view, facets, track, main, tolerance, inward=True, direction=None)
        except NotTubular as refusal:
            refusals.append(refusal)
            continue
        if direction is None:
            _refuse_many_sided(free)
            _refuse_out_of_round(free, tolerance)
            direction = free.cone.direction
        lean = math.degrees(math.acos(min(1.0, abs(float(free.cone.direction @ direction)))))
        if lean > MOST_LEAN_DEG or free.is_many_sided:
            remarks.append(
                f"A hollow of about {2.0 * free.cone.radius_at_point:.2f} mm that leans by "
                f"{lean:.2f} degrees or has flat sides is not taken for a bore."
            )
            continue
        found = [
            free
            if stretch is main and free.cone.direction is direction
            else _fit(view, facets, track, stretch, tolerance, inward=True, direction=direction)
            for stretch in stretches
        ]
        found = _finer(view, facets, track, found, _LEAST_BORE, _LEAST_BORE_SHARE, tolerance)
        main_one = max(found, key=lambda surface: surface.high - surface.low)
        lines.append([_about(surface, main_one) for surface in found])
    if not lines and refusals:
        raise refusals[0]
    if not lines:
        raise NotTubular(
            f"a round hollow in {view.merit():.0f} of {len(view.sections.heights)} sections, but "
            f"no stretch of it of {_LEAST_BORE:.0f} mm that is one cylinder or cone",
            "a bore that is one over some length",
            "a part with a straight, round bore",
        )
    return lines, tuple(remarks)


def _finer(
    view: _View,
    facets: Facets,
    track: Track,
    found: list[FoundSurface],
    least: float,
    share: float,
    tolerance: float,
    *,
    inward: bool = True,
) -> list[FoundSurface]:
    """The surfaces found on a track; told apart more finely where they fit their vertices ill.

    A small step between two cylinders passes for one taper until its vertices are asked.
    """
    if max(surface.cone.rms_residual for surface in found) < _GOOD_FIT:
        return found
    stretches = profile_stretches(track, least, share, fine_tolerance(track))
    if len(stretches) <= len(found):
        return found
    direction = found[0].cone.direction
    try:
        return [
            _fit(view, facets, track, stretch, tolerance, inward=inward, direction=direction)
            for stretch in stretches
        ]
    except NotTubular:
        return found


def _about(surface: FoundSurface, main: FoundSurface) -> FoundSurface:
    """The surface with the main one's centre line, where it has that line in the main."""
    cone, line = surface.cone, main.cone
    along = float((cone.point - line.point) @ line.direction)
    apart = cone.point - line.point - along * line.direction
    if float(np.linalg.norm(apart)) > _ONE_LINE:
        return surface
    return replace(surface, cone=replace(cone, point=line.point + along * line.direction))


def _fit(
    view: _View,
    facets: Facets,
    track: Track,
    stretch: ProfileStretch,
    tolerance: float,
    *,
    inward: bool,
    direction: FloatArray | None,
) -> FoundSurface:
    """A stretch of a track as a surface, fitted to the vertices about it.

    direction : kept where it is given, else found
    """
    origin, drift = track.line()
    middle = (stretch.low + stretch.high) / 2.0
    point = np.array([*(origin + middle * drift), middle]) @ view.rows
    radius = stretch.radius_at_zero + stretch.slope * middle
    along = view.direction if direction is None else direction
    guess = ConeFit(point, along, radius, stretch.slope, 0.0, 0.0)
    low, high = (float(point @ along) + end - middle for end in (stretch.low, stretch.high))
    pad = view.spacing / 2.0
    found = fit_surface(
        facets,
        guess,
        (low - pad, high + pad),
        tolerance,
        inward=inward,
        direction_free=direction is None,
    )
    return replace(found, low=low, high=high)


def _refuse_many_sided(found: FoundSurface) -> None:
    if found.is_many_sided:
        sides = round(2.0 * math.pi / found.facet_angle)
        raise NotTubular(
            f"a bore of {sides} flat sides, each {found.side:.2f} mm wide",
            "a round one: more than 12 sides, or sides under 3 mm",
            "a mesh with finer facets",
        )


def _refuse_out_of_round(found: FoundSurface, tolerance: float) -> None:
    most = max(_ROUGH_FIT, tolerance / 3.0)
    if found.cone.rms_residual > most:
        raise NotTubular(
            f"a bore of about {2.0 * found.cone.radius_at_point:.2f} mm that lies "
            f"{found.cone.rms_residual:.3f} mm rms off a round one",
            f"{most:.3f} mm at the most",
            "a part with a round bore, or a larger --max-move for a rough one",
        )


def _outsides(
    view: _View, facets: Facets, direction: FloatArray, tolerance: float
) -> tuple[tuple[FoundSurface, ...], str]:
    """The round outside, stretch by stretch; else what it is in place of round."""
    tracks = follow_outlines(view.sections, view.circles, largest_of_planes(view.sections))
    if not tracks:
        return (), "no round outside"
    stretches = profile_stretches(tracks[0], _LEAST_OUTSIDE, _LEAST_OUTSIDE_SHARE)
    round_length = sum(stretch.high - stretch.low + view.spacing for stretch in stretches)
    share = round_length / (float(np.ptp(view.sections.heights)) + view.spacing)
    if share < _LEAST_ROUND_SHARE:
        return (), f"round over {100.0 * share:.0f} % of its length"
    found = [
        _fit(view, facets, tracks[0], stretch, tolerance, inward=False, direction=direction)
        for stretch in stretches
    ]
    found = _finer(
        view,
        facets,
        tracks[0],
        found,
        _LEAST_OUTSIDE,
        _LEAST_OUTSIDE_SHARE,
        tolerance,
        inward=False,
    )
    main = max(found, key=lambda surface: surface.high - surface.low)
    if main.cone.rms_residual > max(_ROUGH_FIT, tolerance / 3.0):
        off = main.cone.rms_residual
        return (), f"it lies {off:.3f} mm rms off a round one along the bore"
    if main.is_many_sided:
        sides = round(2.0 * math.pi / main.facet_angle)
        return (), f"{sides} flat sides, each {main.side:.2f} mm wide"
    return _by_length([_about(surface, main) for surface in found]), ""


def _outline_middle(view: _View, bores: int) -> FloatArray:
    """The centroid of the outside's outlines, over the planes that cut it and the bores only."""
    sections = view.sections
    outer = sections.areas > 0.0
    planes = np.bincount(sections.plane, minlength=len(sections.heights))
    clean = outer & (planes[sections.plane] == bores + 1)
    chosen = clean if clean.any() else outer
    a, b = sections.starts, sections.ends
    turned = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    moments = [sections.sums((a[:, k] + b[:, k]) * turned) for k in range(2)]
    centroids = np.column_stack(moments)[chosen] / (6.0 * sections.areas[chosen, None])
    height = float(sections.heights[sections.plane[chosen]].mean())
    middle: FloatArray = np.array([*np.median(centroids, axis=0), height]) @ view.rows
    return middle
