"""Cylinders and cones along the straight stretches of a round outline's track."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace

import numpy as np

from ..errors import NotTubular
from ..values import FloatArray
from .cylinder_fit import ConeFit
from .outline_tracks import (
    ProfileStretch,
    Track,
    fine_tolerance,
    follow_outlines,
    largest_of_planes,
    profile_stretches,
)
from .part_view import PartView
from .surface_fit import Facets, FoundSurface, fit_surface, measure_facets

LEAST_OUTSIDE, LEAST_OUTSIDE_SHARE = 10.0, 0.35

ROUGH_FIT = 0.03
"""rms, mm, that a scan's noise may have and a round surface's vertices must not pass."""

_GOOD_FIT = 0.004
"""rms, mm, of a surface whose vertices leave no doubt: they are of one cylinder or cone."""

_LEAST_ROUND_SHARE = 0.4
"""Of a part's length its outside must be round for it to count as a round one."""

_MOST_CENTRES = 0.75
"""Share of the length of a stretch along which its centre must lie on its centre line."""

_AS_SEEN = 0.05
"""How far, as a share of it, a surface's radius may lie off that of its outlines."""

_SHORT = 0.25
"""Of the main stretch's length: so long is what a dent makes of it at the most."""

_ENOUGH_PLANES = 3
"""Of those that cut a fine mesh's facets a stretch is met by as many, or it has its own."""

_ONE_LINE = 0.02
"""Centre lines this near, mm, are one."""


def by_length(surfaces: list[FoundSurface]) -> tuple[FoundSurface, ...]:
    """The surfaces, the longest first."""
    return tuple(sorted(surfaces, key=lambda surface: surface.low - surface.high))


def fit_stretch(
    view: PartView,
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

    Raises
    ------
    NotTubular : too few triangles follow it
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
        _facets_of(view, facets, stretch),
        guess,
        (low - pad, high + pad),
        tolerance,
        inward=inward,
        direction_free=direction is None,
    )
    return replace(found, low=low, high=high)


def _facets_of(view: PartView, facets: Facets, stretch: ProfileStretch) -> Facets:
    """Those given; of a fine mesh those in a stretch's own planes, where too few others meet it."""
    met = (facets.planes >= stretch.low) & (facets.planes <= stretch.high)
    if not len(facets.planes) or np.count_nonzero(met) >= _ENOUGH_PLANES:
        return facets
    return measure_facets(facets.whole, view.sections, stretch.low, stretch.high)


def fit_each(
    view: PartView,
    facets: Facets,
    track: Track,
    stretches: list[ProfileStretch],
    tolerance: float,
    *,
    inward: bool,
    direction: FloatArray,
) -> list[FoundSurface]:
    """The stretches of a track as surfaces, but for those with too few facets near one.

    Left out as well is what has no centre line of this direction: a thread, a dent; and what
    is not what the outlines show: the side of a dent, which is of another circle.
    """
    found = []
    for stretch in stretches:
        if not _is_steady(view, track, stretch, direction, tolerance):
            continue
        with suppress(NotTubular):
            fitted = fit_stretch(
                view, facets, track, stretch, tolerance, inward=inward, direction=direction
            )
            if _is_as_seen(fitted, stretch):
                found.append(fitted)
    return found


def _is_as_seen(fitted: FoundSurface, stretch: ProfileStretch) -> bool:
    """Whether a surface has about the radius that its outlines had."""
    middle = (stretch.low + stretch.high) / 2.0
    seen = stretch.radius_at_zero + stretch.slope * middle
    cone = fitted.cone
    along = (fitted.low + fitted.high) / 2.0 - float(cone.point @ cone.direction)
    return abs(cone.radius_at_point + cone.slope * along - seen) <= _AS_SEEN * seen


def _is_steady(
    view: PartView,
    track: Track,
    stretch: ProfileStretch,
    direction: FloatArray,
    tolerance: float,
) -> bool:
    """Whether most centres of a stretch lie on one line of a direction; holes move a few."""
    here = (track.heights >= stretch.low) & (track.heights <= stretch.high)
    x, y, along = view.rows @ direction
    feet = track.centres[here] - track.heights[here, None] * (np.array([x, y]) / along)
    lengths = track.lengths[here]
    apart = np.linalg.norm(feet[:, None] - feet, axis=2) <= tolerance
    return bool((apart @ lengths).max() >= _MOST_CENTRES * lengths.sum())


def finer(
    view: PartView,
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
        fitted = [
            fit_stretch(view, facets, track, stretch, tolerance, inward=inward, direction=direction)
            for stretch in stretches
        ]
    except NotTubular:
        return found
    seen = [
        one for one, stretch in zip(fitted, stretches, strict=True) if _is_as_seen(one, stretch)
    ]
    return seen or found


def about(surface: FoundSurface, main: FoundSurface) -> FoundSurface:
    """The surface with the main one's centre line, where it has that line in the main."""
    along, apart = _from_line(surface, main)
    if apart > _ONE_LINE:
        return surface
    line = main.cone
    return replace(surface, cone=replace(surface.cone, point=line.point + along * line.direction))


def is_dented(surface: FoundSurface, main: FoundSurface, tolerance: float) -> bool:
    """Whether a short stretch beside the main one's centre line is the main one with a dent.

    A chamber beside the line lies all around the main surface; this one crosses it.
    """
    along, apart = _from_line(surface, main)
    if apart <= _ONE_LINE or surface.high - surface.low > _SHORT * (main.high - main.low):
        return False
    wider = surface.cone.radius_at_point - main.cone.radius_at_point - main.cone.slope * along
    return abs(wider) <= apart + tolerance


def _from_line(surface: FoundSurface, main: FoundSurface) -> tuple[float, float]:
    """Where along and how far beside the main one's centre line a surface's own is, mm."""
    line, point = main.cone, surface.cone.point
    along = float((point - line.point) @ line.direction)
    return along, float(np.linalg.norm(point - line.point - along * line.direction))


def outside_track(view: PartView) -> tuple[Track | None, list[ProfileStretch], str]:
    """The round outline around the most, its straight stretches, or why the outside is none."""
    tracks = follow_outlines(view.sections, view.circles, largest_of_planes(view.sections))
    if not tracks:
        return None, [], "no round outside"
    stretches = profile_stretches(tracks[0], LEAST_OUTSIDE, LEAST_OUTSIDE_SHARE)
    share = _share(view, [(stretch.low, stretch.high) for stretch in stretches])
    if share < _LEAST_ROUND_SHARE:
        return tracks[0], [], _share_words(share)
    return tracks[0], stretches, ""


def find_outsides(
    view: PartView, facets: Facets, direction: FloatArray, tolerance: float
) -> tuple[tuple[FoundSurface, ...], str]:
    """The round outside, stretch by stretch; else what it is in place of round.

    direction : of the part's axis
    """
    track, stretches, words = outside_track(view)
    if track is None or not stretches:
        return (), words
    found = fit_each(view, facets, track, stretches, tolerance, inward=False, direction=direction)
    if not found:
        return (), "its corners lie on a circle, its sides do not"
    found = finer(
        view,
        facets,
        track,
        found,
        LEAST_OUTSIDE,
        LEAST_OUTSIDE_SHARE,
        tolerance,
        inward=False,
    )
    told = [not_round_words(surface, tolerance) for surface in found]
    real = by_length([surface for surface, why in zip(found, told, strict=True) if not why])
    share = _share(view, [(surface.low, surface.high) for surface in real])
    if share < _LEAST_ROUND_SHARE:
        return (), next((why for why in told if why), _share_words(share))
    return tuple(about(surface, real[0]) for surface in real), ""


def _share(view: PartView, stretches: list[tuple[float, float]]) -> float:
    """Of the part's length, which some stretches cover."""
    return sum(high - low + view.spacing for low, high in stretches) / view.length


def _share_words(share: float) -> str:
    return f"round over {100.0 * share:.0f} % of its length"


def not_round_words(outside: FoundSurface, tolerance: float) -> str:
    """What a surface is, if its vertices or facets tell that it is not round."""
    if outside.cone.rms_residual > max(ROUGH_FIT, tolerance / 3.0):
        off = outside.cone.rms_residual
        return f"it lies {off:.3f} mm rms off a round one along the axis"
    if outside.is_many_sided:
        return f"flat sides, {outside.side:.2f} mm wide"
    return ""
