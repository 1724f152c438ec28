"""Round outlines followed from plane to plane: centre lines, and their straight stretches."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.plane_sections import Sections
from ..values import BoolArray, FloatArray, IntArray, read_only
from .outline_circles import OutlineCircles

LEAST_SHARE = 0.5
"""Of an outline, at the least, must lie on a circle for it to be round."""

LEAST_TOLERANCE, PROFILE_TOLERANCE = 0.01, 0.04
"""How far the radius of one plane may lie off a straight stretch, mm, at the least and most."""

_OVER_NOISE = 8.0

_CENTRE_SHARE = 0.15
_CENTRE_STEP = 0.3
_LEAST_PLANES = 3
_MOST_SLOPE = 1.0
_BEND_PARTS = 24
_MOSTLY, _STRAIGHT = 0.75, 0.05
LEAST_RADIUS = 0.5
"""No bore is narrower, mm: what is are pores of a rough mesh."""

_LEAST_FILLED, _MOST_FILLED = 0.75, 1.4
"""Area of a bore's outline over its circle's: a hexagon has 0.83, a square 0.64; a keyway adds."""


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One round outline in planes that follow each other.

    heights, radii : (k,) mm, ascending heights
    centres : (k, 2) mm
    plugged : (k,) whether solid lies between a plane and the one before
    """

    heights: FloatArray
    centres: FloatArray
    radii: FloatArray
    plugged: BoolArray

    def __post_init__(self) -> None:
        read_only(self.heights)
        read_only(self.centres)
        read_only(self.radii)
        read_only(self.plugged)

    @property
    def lengths(self) -> FloatArray:
        """(k,) mm, how much of the length each plane stands for."""
        lengths: FloatArray = np.gradient(self.heights)
        return lengths

    def line(self) -> tuple[FloatArray, FloatArray]:
        """Centre at height 0 and drift a mm of height, (2,) each, by least squares."""
        system = np.column_stack([np.ones(len(self.heights)), self.heights])
        origin, drift = np.linalg.lstsq(system, self.centres, rcond=None)[0]
        return origin, drift

    def is_straight(self) -> bool:
        """Whether most centres lie on one line: others are where a thread or a branch opens it.

        Lines through two centres half a track apart are asked. Of an arc that rises by
        over 0.18 mm no three quarters lie within `_STRAIGHT` of a line.
        """
        z, half = self.heights[:, None], len(self.heights) // 2
        first, second = slice(0, len(z) - half), slice(half, None)
        share = (z.T - z[first]) / (z[second] - z[first])
        chords = self.centres[second] - self.centres[first]
        lines = self.centres[first, None] + share[:, :, None] * chords[:, None]
        near = np.linalg.norm(self.centres - lines, axis=2) <= _STRAIGHT
        return bool((near @ self.lengths).max() >= _MOSTLY * self.lengths.sum())

    def bend(self) -> tuple[float, float]:
        """How far the centres lie off the straight line from end to end, mm, and where most.

        What lies off over a short length by itself, as where a hole breaks the outline, is
        no bend: of every three parts in a row, of equal lengths, the middle one counts.
        """
        ends = self.centres[[0, -1]]
        share = (self.heights - self.heights[0]) / float(np.ptp(self.heights))
        line = ends[0] + share[:, None] * (ends[1] - ends[0])
        misses = np.linalg.norm(self.centres - line, axis=1)
        part = (share * _BEND_PARTS).astype(np.int64).clip(0, _BEND_PARTS - 1)
        parts = np.unique(part)
        middles = np.array([np.median(misses[part == k]) for k in parts])
        rows = np.lib.stride_tricks.sliding_window_view(middles, min(3, len(parts)))
        steady = np.median(rows, axis=1)
        worst = int(steady.argmax())
        place = parts[min(worst + 1, len(parts) - 1)]
        return float(steady[worst]), float(np.median(self.heights[part == place]))


@dataclass(frozen=True, slots=True)
class ProfileStretch:
    """Heights along which a track's radius follows one line: radius_at_zero + slope z."""

    low: float
    high: float
    radius_at_zero: float
    slope: float


def fills_circle(sections: Sections, circles: OutlineCircles) -> BoolArray:
    """(q,) hollows that are about as large as their circle: a slit's corners lie on one too."""
    filled = -sections.areas / np.maximum(np.pi * circles.radii**2, 1e-300)
    alike: BoolArray = (filled > _LEAST_FILLED) & (filled < _MOST_FILLED)
    return alike & (circles.radii > LEAST_RADIUS)


def hold_another(sections: Sections, circles: OutlineCircles, chosen: BoolArray) -> BoolArray:
    """(q,) chosen outlines around another chosen one: the gap in a double wall is no bore."""
    numbers = np.flatnonzero(chosen)
    numbers = numbers[np.argsort(sections.plane[numbers], kind="stable")]
    held = np.zeros(sections.count, bool)
    for here in np.split(numbers, np.flatnonzero(np.diff(sections.plane[numbers])) + 1):
        apart = np.linalg.norm(circles.centres[here, None] - circles.centres[here], axis=2)
        within = apart + circles.radii[here] < circles.radii[here, None]
        held[here] = within.any(axis=1)
    return held


def largest_of_planes(sections: Sections) -> BoolArray:
    """(q,) the outline around the most in each plane."""
    order = np.lexsort((sections.areas, sections.plane))
    last = np.diff(sections.plane[order], append=len(sections.heights)) > 0
    largest = np.zeros(sections.count, bool)
    largest[order[last]] = True
    around: BoolArray = largest & (sections.areas > 0.0)
    return around


def follow_outlines(
    sections: Sections,
    circles: OutlineCircles,
    chosen: BoolArray,
    least_share: float = LEAST_SHARE,
) -> list[Track]:
    """The chosen outlines linked into tracks, those of most planes first.

    least_share : of each outline, on a circle

    An outline goes on the track whose last centre is nearest; where one plane has
    several about one centre, the radius tells them apart.
    """
    tracks: list[list[int]] = []
    numbers = np.flatnonzero(chosen & (circles.shares >= least_share))
    numbers = numbers[np.argsort(sections.plane[numbers], kind="stable")]
    for number in numbers.tolist():
        best, least = None, np.inf
        for track in tracks:
            last = track[-1]
            if sections.plane[last] == sections.plane[number]:
                continue
            apart = float(np.hypot(*(circles.centres[number] - circles.centres[last])))
            rise = sections.heights[sections.plane[number]] - sections.heights[sections.plane[last]]
            reach = _CENTRE_STEP + 0.1 * rise + _CENTRE_SHARE * circles.radii[number]
            cost = apart + 0.1 * abs(float(circles.radii[number] - circles.radii[last]))
            if apart <= reach and cost < least:
                best, least = track, cost
        if best is None:
            tracks.append([number])
        else:
            best.append(number)
    tracks.sort(key=len, reverse=True)
    return [_track(sections, circles, np.array(track)) for track in tracks]


def _track(sections: Sections, circles: OutlineCircles, numbers: IntArray) -> Track:
    planes, centres = sections.plane[numbers], circles.centres[numbers]
    return Track(
        sections.heights[planes],
        centres,
        circles.radii[numbers],
        _plugged(sections, planes, centres),
    )


def _plugged(sections: Sections, planes: IntArray, centres: FloatArray) -> BoolArray:
    """(k,) whether in a plane left out before one the hollow's middle lies in the solid."""
    plugged = np.zeros(len(planes), bool)
    gaps = np.flatnonzero(np.diff(planes) > 1) + 1
    if not len(gaps):
        return plugged
    after = np.searchsorted(planes, np.arange(len(sections.heights)))
    within = np.isin(after, gaps)
    within[planes] = False
    plane = sections.plane[sections.outline]
    here = np.flatnonzero(within[plane])
    plane = plane[here]
    middle = (centres[after[plane] - 1] + centres[after[plane]]) / 2.0
    a, b = sections.starts[here] - middle, sections.ends[here] - middle
    turned = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
    about = np.bincount(plane, turned, len(within)) > np.pi
    plugged[after[about & within]] = True
    return plugged


def profile_stretches(
    track: Track, least: float, share: float, tolerance: float = PROFILE_TOLERANCE
) -> list[ProfileStretch]:
    """Straight stretches of a track's radius, by height: lines that most planes follow.

    The line through two planes that holds most others is taken out, then the next of
    what is left, while it holds three. What is short is a mere feature and does not
    count; a line that another interrupts is two stretches.

    least, share : shortest stretch in mm, and as a share of its own diameter
    tolerance : mm, how far a plane's radius may lie off a line
    """
    z, r = track.heights, track.radii
    owner = np.full(len(z), -1)
    lines: list[tuple[float, float]] = []
    while (owner < 0).sum() >= _LEAST_PLANES:
        found = _best_line(z, r, owner < 0, tolerance)
        if found is None:
            break
        base, slope, on_it = found
        owner[on_it] = len(lines)
        lines.append((base, slope))
    for run in _runs(owner, track.plugged):
        length = float(z[run[-1]] - z[run[0]])
        if len(run) < _LEAST_PLANES or length < max(least, 2.0 * share * float(r[run].mean())):
            owner[run] = -1
    return [
        ProfileStretch(float(z[run[0]]), float(z[run[-1]]), *lines[int(owner[run[0]])])
        for run in _runs(owner, track.plugged)
    ]


def fine_tolerance(track: Track) -> float:
    """How far a plane's radius may lie off a line, mm: by how much neighbours differ.

    Of three planes in a row the middle one lies off the line through the others by
    its noise, at most of the places.
    """
    z, r = track.heights, track.radii
    if len(z) < _LEAST_PLANES + 1:
        return PROFILE_TOLERANCE
    share = (z[1:-1] - z[:-2]) / (z[2:] - z[:-2])
    off = np.abs(r[1:-1] - r[:-2] - share * (r[2:] - r[:-2]))
    return float(np.clip(_OVER_NOISE * np.median(off), LEAST_TOLERANCE, PROFILE_TOLERANCE))


def _runs(owner: IntArray, plugged: BoolArray) -> list[IntArray]:
    """Planes of one owner that follow each other, those of none left out.

    plugged : (k,) planes before which the hollow is filled
    """
    known = np.flatnonzero(owner >= 0)
    if not len(known):
        return []
    filled = np.diff(np.cumsum(plugged)[known]) > 0
    return np.split(known, np.flatnonzero((np.diff(owner[known]) != 0) | filled) + 1)


def _best_line(
    z: FloatArray, r: FloatArray, free: BoolArray, tolerance: float
) -> tuple[float, float, IntArray] | None:
    """The line through two free planes that most free planes lie on, fitted to them."""
    left = np.flatnonzero(free)
    first, second = (left[k] for k in np.triu_indices(len(left), 1))
    slopes = (r[second] - r[first]) / (z[second] - z[first])
    usable = np.abs(slopes) < _MOST_SLOPE
    first, slopes = first[usable], slopes[usable]
    if not len(first):
        return None
    bases = r[first] - slopes * z[first]
    misses = np.abs(bases[:, None] + slopes[:, None] * z[left] - r[left])
    votes = (1.0 - misses / tolerance).clip(0.0).sum(axis=1)
    best = int(votes.argmax())
    on_it = left[misses[best] <= tolerance]
    if len(on_it) < _LEAST_PLANES:
        return None
    slope, base = np.polyfit(z[on_it], r[on_it], 1)
    on_it = left[np.abs(base + slope * z[left] - r[left]) <= tolerance]
    if len(on_it) < _LEAST_PLANES:
        return None
    return float(base), float(slope), on_it
