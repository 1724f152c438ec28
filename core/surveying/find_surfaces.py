"""Which round surfaces a part has: its bores, stretch by stretch, and its round outside."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from ..errors import NotTubular
from ..values import FloatArray, Mesh, read_only
from .axis_guess import axis_candidates
from .outline_tracks import LEAST_RADIUS, ProfileStretch, Track, follow_outlines, profile_stretches
from .part_view import PartView, look_along
from .section_shapes import is_inside
from .solid_axis import find_solid, seen_in
from .surface_fit import Facets, FoundSurface, measure_facets
from .track_fits import (
    ROUGH_FIT,
    about,
    by_length,
    find_outsides,
    finer,
    fit_each,
    fit_stretch,
    is_dented,
    not_round_words,
    outside_track,
)

_MUCH_DRIFT = 0.005
_SURE_SHARE = 0.5
_LEAST_BORE, _LEAST_BORE_SHARE = 3.0, 0.25
_LEAST_BESIDE = 0.5
"""A hollow beside the main bore is a bore if it is this share as long."""

_LEAST_PLANES = 3
_LEAST_BENT = 8
_NEARLY_ALL = 0.8
_MOST_POCKET = 0.5
"""Share of the length over which what is round inside a solid part may reach."""

_SHORT_BORE = 0.3
"""Share of a part's length under which a bore is met by few planes of some."""

_SHORT_WAY = 0.5
"""A bore of less than this share of the part's width is a hole across it."""

MOST_BEND = 0.2
"""How far, mm, a bore's centre line may lie off a straight one."""

MOST_LEAN_DEG = 0.1
"""How far a second bore may lean from the first and still be along it."""


@dataclass(frozen=True, slots=True, eq=False)
class FoundPart:
    """The round surfaces of a part, in the coordinates of its mesh, all along one direction.

    direction : (3,) unit, of the main bore's centre line; of a solid part's own axis
    point : (3,) mm, on the part's axis
    bores : the main one first; those of one line have one centre line; none of a solid part
    outsides : the main one first; none where the outside is not round
    outside_words : what the outside is where it is not round
    solid_at : (k,) mm along the direction from the point, where the axis was seen to run
        in the solid of a bored part
    gaps : (g,) mm likewise, where a round hollow lies all around a bore: between double walls
    """

    direction: FloatArray
    point: FloatArray
    bores: tuple[FoundSurface, ...]
    outsides: tuple[FoundSurface, ...]
    outside_words: str
    remarks: tuple[str, ...]
    solid_at: FloatArray = field(default_factory=lambda: np.empty(0))
    gaps: FloatArray = field(default_factory=lambda: np.empty(0))

    def __post_init__(self) -> None:
        read_only(self.gaps)
        read_only(self.solid_at)
        read_only(self.direction)
        read_only(self.point)


def find_surfaces(mesh: Mesh, tolerance: float) -> FoundPart:
    """The bores and the round outside of a closed mesh; of a solid one its axis and outside.

    tolerance : mm, how far from a surface a vertex may lie and still be of it

    Raises
    ------
    NotTubular : neither a round bore nor one straight solid; an axis that bends; a bore
        of flat sides
    """
    views = _views(mesh, tolerance)
    bored = [view for view in views if view.merit() >= _LEAST_PLANES]
    along = [view for view in bored if not _is_crosswise(view)]
    if along:
        return _bored_first(mesh, views, max(along, key=PartView.merit), tolerance)
    try:
        return _solid(mesh, views, tolerance)
    except NotTubular as refusal:
        if bored:
            return _bored(mesh, max(bored, key=PartView.merit), tolerance)
        raise _neither(max(views, key=PartView.merit), refusal) from refusal


def _bored_first(mesh: Mesh, views: list[PartView], best: PartView, tolerance: float) -> FoundPart:
    """The part as a bored one; as a solid one where what is round in it is a mere pocket."""
    try:
        return _bored(mesh, best, tolerance)
    except NotTubular as refusal:
        if _reach(best) > _MOST_POCKET * best.length:
            raise
        try:
            return _solid(mesh, views, tolerance)
        except NotTubular:
            raise refusal from None


def _bored(mesh: Mesh, view: PartView, tolerance: float) -> FoundPart:
    """The part as one that is bored along the view."""
    _check_straight(view)
    facets = measure_facets(mesh, view.sections)
    lines, remarks = _bore_lines(mesh, view, facets, tolerance)
    bores = by_length([surface for line in lines for surface in line])
    direction = bores[0].cone.direction
    outsides, words = find_outsides(view, facets, direction, tolerance)
    point = bores[0].cone.point if len(lines) == 1 else _outline_middle(view, len(lines))
    solid_at = _solid_at(view, bores, point)
    gaps = _along(view, view.gaps, direction, point)
    return FoundPart(direction, point, bores, outsides, words, remarks, solid_at, gaps)


def _solid(mesh: Mesh, views: list[PartView], tolerance: float) -> FoundPart:
    """The part as a solid one."""
    solid = find_solid(mesh, views, tolerance)
    return FoundPart(solid.direction, solid.point, (), solid.outsides, solid.outside_words, ())


def _neither(best: PartView, solid: NotTubular) -> NotTubular:
    """Why a part is neither bored nor solid.

    solid : why it is no solid one
    """
    seen = f"{best.merit():.0f} of {len(best.sections.heights)} sections across the part"
    return NotTubular(
        f"{_hollow_words(best)}a round bore in {seen}; as a solid part it is {solid.found}",
        f"a bore in at least {_LEAST_PLANES}, about one straight line, or {solid.needed}",
        f"a part with a straight, round bore, or {solid.remedy}",
        solid.places,
    )


def _hollow_words(view: PartView) -> str:
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


def _views(mesh: Mesh, tolerance: float) -> list[PartView]:
    """The part across each direction it may run along, up to one that shows a bore for sure."""
    views: list[PartView] = []
    for direction in axis_candidates(mesh):
        view = _straightened(mesh, look_along(mesh, direction, tolerance), tolerance)
        views.append(view)
        sure = view.merit() >= _SURE_SHARE * len(view.sections.heights)
        if sure and not _is_crosswise(view):
            break
    return views


def _reach(view: PartView) -> float:
    """How long, mm, the bore is seen."""
    return float(np.ptp(view.hollows[0].heights)) + view.spacing if view.hollows else 0.0


def _is_crosswise(view: PartView) -> bool:
    """Whether its bore runs the short way through something much wider that is not round."""
    return 0.0 < _reach(view) < _SHORT_WAY * view.width and not outside_track(view)[1]


def _solid_at(view: PartView, bores: tuple[FoundSurface, ...], point: FloatArray) -> FloatArray:
    """(k,) mm along the axis from its point, of the planes in which the axis is in the solid.

    bores : between the ends of which no plane is asked; the axis is along the first
    """
    sections, direction = view.sections, bores[0].cone.direction
    heights = sections.heights
    beyond = np.ones(len(heights), bool)
    for bore in bores:
        pad = view.spacing / 2.0
        beyond &= (heights < bore.low - pad) | (heights > bore.high + pad)
    if not beyond.any():
        return np.empty(0)
    line = seen_in(view, point, direction)
    inside = beyond & is_inside(sections, line.at(heights))
    return _along(view, heights[inside], direction, point)


def _along(
    view: PartView, heights: FloatArray, direction: FloatArray, point: FloatArray
) -> FloatArray:
    """Heights in a view as mm along a direction from a point."""
    found: FloatArray = (heights - float(point @ view.direction)) / float(
        direction @ view.direction
    )
    return found


def _straightened(mesh: Mesh, view: PartView, tolerance: float) -> PartView:
    """The view along the bore's centre line, if that drifts across this one."""
    if not view.hollows or len(view.hollows[0].heights) < _LEAST_PLANES:
        return view
    drift = view.hollows[0].line()[1]
    if np.hypot(*drift) < _MUCH_DRIFT:
        return view
    return look_along(mesh, np.array([*drift, 1.0]) @ view.rows, tolerance)


def _check_straight(view: PartView) -> None:
    """The centres of the hollow, round or not, must lie on a straight line.

    Where a round one is seen along nearly all of it, others are where a branch or a slot
    joins it: their middles tell nothing. An arc's rise over the planes seen is told for the
    whole length: it grows as its square.
    """
    hollow = (view.sections.areas < 0.0) & (view.circles.radii > LEAST_RADIUS)
    every = follow_outlines(view.sections, view.circles, hollow, 0.0)[0]
    seen = [view.hollows[0]]
    if np.ptp(seen[0].heights) < _NEARLY_ALL * np.ptp(every.heights):
        seen.append(every)
    long = [t for t in seen if len(t.heights) >= _LEAST_BENT and not t.is_straight()]
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


def _facets_along(mesh: Mesh, view: PartView, facets: Facets, bore: ProfileStretch) -> Facets:
    """Those of a fine mesh in a short bore's own planes: few of the others may meet it."""
    low, high = bore.low, bore.high
    if not len(facets.planes) or high - low > _SHORT_BORE * view.length:
        return facets
    return measure_facets(mesh, view.sections, low - view.spacing, high + view.spacing)


def _bore_lines(
    mesh: Mesh, view: PartView, facets: Facets, tolerance: float
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
            near = _facets_along(mesh, view, facets, main)
            free = fit_stretch(view, near, track, main, tolerance, inward=True, direction=None)
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
        if free.cone.direction is not direction:
            free = fit_stretch(
                view, facets, track, main, tolerance, inward=True, direction=direction
            )
        found = _with_others(view, facets, track, stretches, main, free, tolerance)
        main_one = max(found, key=lambda surface: surface.high - surface.low)
        lines.append([about(surface, main_one) for surface in found])
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


def _with_others(
    view: PartView,
    facets: Facets,
    track: Track,
    stretches: list[ProfileStretch],
    main: ProfileStretch,
    fitted: FoundSurface,
    tolerance: float,
) -> list[FoundSurface]:
    """The main stretch of a bore, as it was fitted, and those others along it that are round.

    A socket for a nut, whose corners lie on a circle, is none, nor is the main one with a dent.
    """
    others = [stretch for stretch in stretches if stretch is not main]
    direction = fitted.cone.direction
    more = fit_each(view, facets, track, others, tolerance, inward=True, direction=direction)
    found = finer(view, facets, track, [fitted, *more], _LEAST_BORE, _LEAST_BORE_SHARE, tolerance)
    main_one = max(found, key=lambda surface: surface.high - surface.low)
    told = [
        one is main_one
        or not (not_round_words(one, tolerance) or is_dented(one, main_one, tolerance))
        for one in found
    ]
    return [one for one, is_told in zip(found, told, strict=True) if is_told]


def _refuse_many_sided(found: FoundSurface) -> None:
    if found.is_many_sided:
        sides = round(2.0 * math.pi / found.facet_angle)
        raise NotTubular(
            f"a bore of {sides} flat sides, each {found.side:.2f} mm wide",
            "a round one: more than 12 sides, or sides under 3 mm",
            "a mesh with finer facets",
        )


def _refuse_out_of_round(found: FoundSurface, tolerance: float) -> None:
    most = max(ROUGH_FIT, tolerance / 3.0)
    if found.cone.rms_residual > most:
        raise NotTubular(
            f"a bore of about {2.0 * found.cone.radius_at_point:.2f} mm that lies "
            f"{found.cone.rms_residual:.3f} mm rms off a round one",
            f"{most:.3f} mm at the most",
            "a part with a round bore, or a larger --max-move for a rough one",
        )


def _outline_middle(view: PartView, bores: int) -> FloatArray:
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
