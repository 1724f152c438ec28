"""The axis of a solid part: of its round outside, else the line of its sections' centroids."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass

import numpy as np

from ..errors import NotTubular
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .outline_tracks import ProfileStretch, Track
from .part_view import PartCut, PartView, cut_across, look_at
from .section_shapes import SectionShapes, section_shapes
from .straight_line import Line, fit_line
from .surface_fit import Facets, FoundSurface, measure_facets
from .track_fits import find_outsides, fit_stretch, not_round_words, outside_track

MOST_BEND, _MOST_BEND_SHARE = 0.2, 0.02
"""How far, mm or as a share of half the width, a section's centroid may lie off the axis."""

_LEAST_ON_LINE = 0.5
_MOST_HOLLOW = 0.5
"""Share of the length along which a solid part may show hollows."""

_LOCAL = 1.0 / 8.0
"""What is off the line over less than this share of the length is an ornament, no bend."""

_JUMP = 1.0 / 3.0
"""An ornament begins or ends in one step of this share of what it moves the centroid by."""

_LEAST_FILLED = 0.7
"""Share of its circle that a round section fills."""

_LEAST_WHOLE = 0.8
"""A section of less than this share of the usual area may be cut off by an end."""

_MOSTLY, _ALMOST_ALL = 0.75, 0.9
_LEAST_SLENDER = 1.25
_MOST_FLAT = 4.0
_MUCH_DRIFT = 1e-5
_MOST_LOOKS = 4


@dataclass(frozen=True, slots=True, eq=False)
class SolidAxis:
    """The axis of a solid part and its round outsides, as in `FoundPart`."""

    direction: FloatArray
    point: FloatArray
    outsides: tuple[FoundSurface, ...]
    outside_words: str

    def __post_init__(self) -> None:
        read_only(self.direction)
        read_only(self.point)


def find_solid(mesh: Mesh, views: Iterable[PartView], tolerance: float) -> SolidAxis:
    """The first of some views along which the part is one straight solid post.

    Raises
    ------
    NotTubular : along none; what was found of the first is told after "as a solid one"
    """
    refusal: NotTubular | None = None
    for view in views:
        try:
            return _round_post(mesh, view, tolerance) or _any_post(mesh, view, tolerance)
        except NotTubular as problem:
            refusal = refusal or problem
    assert refusal is not None
    raise refusal


def _round_post(mesh: Mesh, view: PartView, tolerance: float) -> SolidAxis | None:
    """The axis of a round outside; None where it is none."""
    shapes = section_shapes(view.sections)
    track, stretches, _ = outside_track(view)
    if track is None or not stretches:
        return None
    facets = measure_facets(mesh, view.sections)
    main = _longest_round(view, shapes, facets, track, stretches, tolerance)
    if main is None:
        return None
    direction = main.cone.direction
    outsides, words = find_outsides(view, facets, direction, tolerance)
    if not outsides:
        return None
    _check_solid(view, shapes)
    point = outsides[0].cone.point
    misses = seen_in(view, point, direction).misses(shapes.heights, shapes.centroids)
    worst = int(misses.argmax())
    if misses[worst] > _half_width(shapes):
        raise _bent(view, shapes, worst, float(misses[worst]))
    return SolidAxis(direction, point, outsides, words)


def _longest_round(
    view: PartView,
    shapes: SectionShapes,
    facets: Facets,
    track: Track,
    stretches: list[ProfileStretch],
    tolerance: float,
) -> FoundSurface | None:
    """The longest stretch of the outside that is round, its direction its own.

    One whose sections are much less than its circle is half a round: its centre line
    says little of the whole.
    """
    for stretch in sorted(stretches, key=lambda one: one.low - one.high):
        here = (shapes.heights >= stretch.low) & (shapes.heights <= stretch.high)
        radii = stretch.radius_at_zero + stretch.slope * shapes.heights[here]
        if np.median(shapes.areas[here] / (np.pi * radii**2)) < _LEAST_FILLED:
            continue
        with suppress(NotTubular):
            free = fit_stretch(
                view, facets, track, stretch, tolerance, inward=False, direction=None
            )
            if not not_round_words(free, tolerance):
                return free
    return None


def seen_in(view: PartView, point: FloatArray, direction: FloatArray) -> Line:
    """A line of the part in the view's own coordinates."""
    turned, place = view.rows @ direction, view.rows @ point
    drift = turned[:2] / turned[2]
    return Line(place[:2] - drift * place[2], drift)


def _any_post(mesh: Mesh, view: PartView, tolerance: float) -> SolidAxis:
    """The axis through the centroids of the sections, across which they are taken."""
    cut, shapes, line = _along_centroids(mesh, view)
    _check_solid(cut, shapes)
    _check_slender(shapes, cut, _MOSTLY)
    _check_straight(cut, shapes, line, view)
    _check_even(cut, shapes, line, view)
    _check_slender(shapes, cut, _ALMOST_ALL)
    _check_not_flat(shapes)
    if cut is not view:
        view = look_at(cut, tolerance)
    facets = measure_facets(mesh, view.sections)
    outsides, words = find_outsides(view, facets, view.direction, tolerance)
    height = float(shapes.heights.mean())
    x, y = line.at(np.array([height]))[0].tolist()
    point = np.array(view.place(x, y, height))
    return SolidAxis(view.direction.copy(), point, outsides, words)


def _along_centroids(mesh: Mesh, cut: PartCut) -> tuple[PartCut, SectionShapes, Line]:
    """The part cut across the line of its own centroids.

    Of a prism those of any sections are along it; of a taper they come to be.
    """
    for look in range(_MOST_LOOKS):
        shapes = section_shapes(cut.sections)
        line = fit_line(shapes.heights, shapes.centroids, shapes.spans, _gate(shapes))
        last = look == _MOST_LOOKS - 1
        if last or float(np.hypot(*line.drift)) < _MUCH_DRIFT:
            break
        cut = cut_across(mesh, np.array([*line.drift, 1.0]) @ cut.rows)
    return cut, shapes, line


def _gate(shapes: SectionShapes) -> float:
    """How far, mm, a centroid may lie off the axis."""
    return max(MOST_BEND, _MOST_BEND_SHARE * _half_width(shapes))


def _half_width(shapes: SectionShapes) -> float:
    return shapes.middle(shapes.thicknesses) / 2.0


def _check_straight(cut: PartCut, shapes: SectionShapes, line: Line, given: PartCut) -> None:
    """Most centroids lie on the line; the others leave it in jumps, and not far.

    What stands out to one side moves the centroid where it begins and ends; an axis
    that bends moves it bit by bit.

    given : the part before it was turned along the line, which of a bend is that of a part
    """
    misses = line.misses(shapes.heights, shapes.centroids)
    off = misses > _gate(shapes)
    if shapes.spans[~off].sum() < _LEAST_ON_LINE * shapes.spans.sum():
        raise _bent_bit_by_bit(given)
    for run in _runs(off):
        most = run[int(misses[run].argmax())]
        if misses[most] > _half_width(shapes):
            raise _bent(cut, shapes, int(most), float(misses[most]))
        if _leaves_slowly(shapes, misses, run):
            raise _bent_bit_by_bit(given)


def _runs(off: BoolArray) -> list[IntArray]:
    """Numbers of the planes off the line, those that follow each other together."""
    numbers = np.flatnonzero(off)
    return np.split(numbers, np.flatnonzero(np.diff(numbers) > 1) + 1) if len(numbers) else []


def _leaves_slowly(shapes: SectionShapes, misses: FloatArray, run: IntArray) -> bool:
    """Whether a long run of planes off the line leaves it, and comes back, bit by bit."""
    if shapes.spans[run].sum() < _LOCAL * shapes.spans.sum():
        return False
    steps = np.linalg.norm(np.diff(shapes.centroids, axis=0), axis=1)
    leaving = steps[run[0] - 1 : run[0] + 1] if run[0] else steps[:0]
    coming = steps[run[-1] - 1 : run[-1] + 1] if run[-1] < len(steps) else steps[:0]
    greatest = float(np.concatenate([leaving, coming]).max(initial=0.0))
    return greatest < _JUMP * float(misses[run].max())


def _check_even(cut: PartCut, shapes: SectionShapes, line: Line, given: PartCut) -> None:
    """The centroids on the line follow no arc: their parabola rises by less than the bound."""
    gate = _gate(shapes)
    on_it = line.misses(shapes.heights, shapes.centroids) <= gate
    heights = shapes.heights - float(shapes.heights.mean())
    system = np.column_stack([np.ones(len(heights)), heights, heights**2])
    root = np.sqrt(shapes.spans * on_it)[:, None]
    curve = np.linalg.lstsq(root * system, root * shapes.centroids, rcond=None)[0][2]
    if float(np.hypot(*curve)) * cut.length**2 / 4.0 > gate:
        raise _bent_bit_by_bit(given)


def _bent_bit_by_bit(cut: PartCut) -> NotTubular:
    """How far the centroids lie off the line from end to end, told for the whole length."""
    shapes = section_shapes(cut.sections)
    whole = shapes.areas >= _LEAST_WHOLE * shapes.middle(shapes.areas)
    heights, radii = shapes.heights[whole], shapes.widths[whole] / 2.0
    track = Track(heights, shapes.centroids[whole], radii, np.zeros(len(heights), bool))
    bend, height = track.bend()
    bend *= (cut.length / float(np.ptp(heights))) ** 2
    return _bent(cut, shapes, int(np.abs(shapes.heights - height).argmin()), bend)


def _bent(cut: PartCut, shapes: SectionShapes, plane: int, bend: float) -> NotTubular:
    x, y = shapes.centroids[plane].tolist()
    place = cut.place(x, y, float(shapes.heights[plane]))
    told = ", ".join(f"{value:.2f}" for value in place)
    return NotTubular(
        f"one with an axis that bends: it lies up to {bend:.2f} mm off a straight line, most at "
        f"({told}), over {cut.length:.1f} mm",
        f"a straight solid, its sections' centroids within {_gate(shapes):.2f} mm of a line",
        "a straight solid one, or only its straight stretch",
        (place,),
    )


def _check_solid(cut: PartCut, shapes: SectionShapes) -> None:
    hollow = float(shapes.spans[shapes.hollow].sum())
    if hollow > _MOST_HOLLOW * float(shapes.spans.sum()):
        raise NotTubular(
            f"hollow along {hollow:.1f} of {cut.length:.1f} mm",
            f"one solid along {100.0 * (1.0 - _MOST_HOLLOW):.0f} % of its length",
            "a solid one",
        )


def _check_slender(shapes: SectionShapes, cut: PartCut, share: float) -> None:
    """Longer than wide, over a share of its length: else nothing tells which way the part runs."""
    width = shapes.middle(shapes.widths, share)
    if cut.length < _LEAST_SLENDER * width:
        raise NotTubular(
            f"{cut.length:.1f} mm long and {width:.1f} mm wide, with no long round stretch",
            f"one at least {_LEAST_SLENDER:.2f} times as long as wide, or a round one",
            "a solid one that runs along one axis",
        )


def _check_not_flat(shapes: SectionShapes) -> None:
    flat = shapes.middle(shapes.widths / shapes.thicknesses)
    if flat > _MOST_FLAT:
        width, thickness = shapes.middle(shapes.widths), shapes.middle(shapes.thicknesses)
        raise NotTubular(
            f"flat, {width:.1f} mm wide and {thickness:.1f} mm thick",
            f"one at most {_MOST_FLAT:.0f} times as wide as thick",
            "a solid post, rod or rail",
        )
