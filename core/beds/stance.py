"""An outline at each turn that packing tries, simplified so that it never gets smaller."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ..planning.floor_fit import turn_to_fit
from ..values import FIT_SLACK, FloatArray, read_only
from .bed import cosine_sine

ROUND_SHARE = 1.05
"""An outline is taken for a disc if the disc about it has at most this many times its area."""

MOST_SIDES = 16
"""An outline with more sides gets a polygon of fewer about it."""

LONG_SIDE = 0.05
"""Share of the perimeter from which a side keeps its direction there."""

WIDEST_STEP = math.pi / 8.0
"""Radians between the sides that stand for a rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Stance:
    """An outline at one turn about its file's origin.

    low, high : (2,) mm, what the outline itself takes along x and y
    corners : (k, 2) mm, convex, counter-clockwise; or one, the middle of a disc
    radius : mm, of the disc; 0 for a polygon. The outline lies within.
    angles : radians, directions that the polygon's sides face
    """

    turn: float
    low: FloatArray
    high: FloatArray
    corners: FloatArray
    radius: float
    angles: FloatArray

    def __post_init__(self) -> None:
        for array in (self.low, self.high, self.corners, self.angles):
            read_only(array)


def stances_on(outline: FloatArray, floor: tuple[float, float]) -> tuple[Stance, ...]:
    """All turns worth a try, as in the file first; each fits the floor by itself.

    Tried are no turn, the turn that lays the longest side along x, and from
    both the quarter turns. A disc is not turned. Where none of these fits,
    the turn that does is taken.

    Raises
    ------
    TooWide : no turn fits
    """
    disc = _disc_about(outline)
    turns = [0.0] if disc is not None else _turns(outline)
    stances = _distinct(_stance(outline, disc, turn) for turn in turns)
    fitting = tuple(stance for stance in stances if _fits(stance, floor))
    return fitting or (_stance(outline, disc, turn_to_fit(outline, floor)),)


def outline_area(outline: FloatArray) -> float:
    """Area of a convex outline, mm2."""
    arms = outline - outline[0]
    following = np.roll(arms, -1, axis=0)
    return float((arms[:, 0] * following[:, 1] - arms[:, 1] * following[:, 0]).sum()) / 2.0


def inner_radius(outline: FloatArray) -> float:
    """Of a disc within a convex outline, about the middle of its extents, mm."""
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2.0
    sides = np.roll(outline, -1, axis=0) - outline
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    sides, arms = sides[lengths > 0.0], (outline - middle)[lengths > 0.0]
    inward = (arms[:, 0] * sides[:, 1] - arms[:, 1] * sides[:, 0]) / lengths[lengths > 0.0]
    return max(float(inward.min(initial=math.inf)), 0.0)


def outer_radius(outline: FloatArray) -> float:
    """Of the disc about an outline, about the middle of its extents, mm."""
    arms = outline - (outline.min(axis=0) + outline.max(axis=0)) / 2.0
    return float(np.hypot(arms[:, 0], arms[:, 1]).max())


def turned(points: FloatArray, turn: float) -> FloatArray:
    """Points turned about the origin; by quarter turns exactly."""
    cosine, sine = cosine_sine(turn)
    moved: FloatArray = points @ np.array([[cosine, sine], [-sine, cosine]])
    return moved


def tangents(
    corners: FloatArray, radius: float, angles: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Lines that touch a convex polygon widened by a radius from outside.

    Returns
    -------
    normals : (k, 2), outwards, at the angles
    reaches : (k,) mm, so that normal . point = reach
    """
    normals = np.column_stack([np.cos(angles), np.sin(angles)])
    reaches: FloatArray = (corners @ normals.T).max(axis=0) + radius
    return normals, reaches


def crossings_of_lines(normals: FloatArray, reaches: FloatArray) -> FloatArray:
    """(k, 2) where each line normal . point = reach crosses the next."""
    next_normals = np.concatenate([normals[1:], normals[:1]])
    next_reaches = np.concatenate([reaches[1:], reaches[:1]])
    spread = normals[:, 0] * next_normals[:, 1] - normals[:, 1] * next_normals[:, 0]
    x = reaches * next_normals[:, 1] - next_reaches * normals[:, 1]
    y = next_reaches * normals[:, 0] - reaches * next_normals[:, 0]
    crossings: FloatArray = np.column_stack([x, y]) / spread[:, None]
    return crossings


def side_angles(corners: FloatArray) -> FloatArray:
    """Directions that the sides of a convex polygon face, radians in [0, 2 pi); none for a disc."""
    sides = np.roll(corners, -1, axis=0) - corners
    sides = sides[np.hypot(sides[:, 0], sides[:, 1]) > 1e-9]
    angles: FloatArray = np.arctan2(-sides[:, 0], sides[:, 1]) % (2.0 * math.pi)
    return angles


def filled_angles(angles: FloatArray, step: float) -> FloatArray:
    """Angles in order, each once, with evenly more between neighbours wider apart than a step."""
    ring = np.sort(angles % (2.0 * math.pi)) if len(angles) else np.zeros(1)
    ring = ring[_gaps(ring) > 1e-8]
    gaps = _gaps(ring)
    parts = np.maximum(np.ceil(gaps / step - 1e-6).astype(int), 1)
    within = np.arange(parts.sum()) - np.repeat(np.cumsum(parts) - parts, parts)
    filled: FloatArray = np.repeat(ring, parts) + within * np.repeat(gaps / parts, parts)
    return filled


def _distinct(stances: Iterable[Stance]) -> list[Stance]:
    """The first of those that cover the same, moved."""
    kept: dict[bytes, Stance] = {}
    for stance in stances:
        shape = np.round(np.vstack([stance.corners - stance.low, stance.high - stance.low]), 4)
        kept.setdefault((shape[np.lexsort(shape.T)] + 0.0).tobytes(), stance)
    return list(kept.values())


def _gaps(ring: FloatArray) -> FloatArray:
    gaps: FloatArray = np.concatenate([ring[1:], ring[:1] + 2.0 * math.pi]) - ring
    return gaps


def _stance(outline: FloatArray, disc: tuple[FloatArray, float] | None, turn: float) -> Stance:
    points = turned(outline, turn)
    if disc is None:
        corners, radius = turned(_few_sides(outline), turn), 0.0
    else:
        corners, radius = turned(disc[0][None, :], turn), disc[1]
    low, high = points.min(axis=0), points.max(axis=0)
    return Stance(turn, low, high, corners, radius, side_angles(corners))


def _fits(stance: Stance, floor: tuple[float, float]) -> bool:
    return bool((stance.high - stance.low <= np.array(floor) + FIT_SLACK).all())


def _disc_about(outline: FloatArray) -> tuple[FloatArray, float] | None:
    """Middle and radius of a disc about the outline, if it is not much larger."""
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2.0
    radius = outer_radius(outline)
    if math.pi * radius**2 > ROUND_SHARE * outline_area(outline):
        return None
    return middle, radius


def _few_sides(outline: FloatArray) -> FloatArray:
    """The outline, or a polygon about it whose sides lie on its long ones and few others."""
    if len(outline) <= MOST_SIDES:
        return outline
    sides = np.roll(outline, -1, axis=0) - outline
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    long = lengths >= LONG_SIDE * lengths.sum()
    angles = np.arctan2(-sides[long, 0], sides[long, 1])
    return crossings_of_lines(*tangents(outline, 0.0, filled_angles(angles, WIDEST_STEP)))


def _turns(outline: FloatArray) -> list[float]:
    sides = np.roll(outline, -1, axis=0) - outline
    longest = sides[np.hypot(sides[:, 0], sides[:, 1]).argmax()]
    laid = -math.atan2(longest[1], longest[0])
    firsts = [0.0, laid % (math.pi / 2.0)]
    return [first + quarter * (math.pi / 2.0) for first in firsts for quarter in range(4)]
