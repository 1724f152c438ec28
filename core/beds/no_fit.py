"""Where a piece may not be moved to because of another, and the places beside all of these."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..values import BoolArray, FloatArray, IntArray
from .stance import Stance, crossings_of_lines, filled_angles, tangents

TOUCH = 1e-9
"""Rounding of a place computed as lying on a border, mm."""

CORNER_STEP = math.pi / 8.0
"""Radians between the sides that stand for a rounded corner."""


@dataclass(frozen=True, slots=True, eq=False)
class NoFit:
    """Moves of one stance, relative to another's, at which they are too near: the inside of this.

    A disc about one corner, without normals; or a convex polygon about the true region,
    whose own corners are rounded: corners in order, and the lines that its sides lie on.
    """

    corners: FloatArray
    radius: float
    normals: FloatArray
    reaches: FloatArray


NO_LINES = np.zeros((0, 2)), np.zeros(0)


def no_fit(still: Stance, moving: Stance, distance: float) -> NoFit:
    """The Minkowski sum of one stance and the other's mirror image, widened by a distance.

    Two convex outlines are a distance apart just when the move lies that far
    from this sum; its support in any direction is the sum of theirs. Of two
    discs it is a disc, exactly.
    """
    corners = (still.corners[:, None, :] - moving.corners[None, :, :]).reshape(-1, 2)
    radius = still.radius + moving.radius + distance
    if len(corners) == 1:
        return NoFit(corners, radius, *NO_LINES)
    angles = np.concatenate([still.angles, moving.angles + math.pi])
    normals, reaches = tangents(corners, radius, filled_angles(angles, CORNER_STEP))
    return NoFit(crossings_of_lines(normals, reaches), 0.0, normals, reaches)


@dataclass(frozen=True, slots=True, eq=False)
class Obstacles:
    """All no-fit regions on a bed, for one stance: discs, and polygons side by side.

    middles : (d, 2) and radii : (d,) of the discs
    starts, ends : (s, 2) of the sides of all polygons
    normals, reaches : (s, 2) and (s,), lines that they lie on; ends alone would not tell
        the direction of a very short one
    owners : (s,) number of the polygon; firsts : (p,) its first side
    """

    middles: FloatArray
    radii: FloatArray
    starts: FloatArray
    ends: FloatArray
    normals: FloatArray
    reaches: FloatArray
    owners: IntArray
    firsts: IntArray


def obstacles_of(regions: Sequence[NoFit], moves: FloatArray) -> Obstacles:
    """Regions where the pieces that they belong to have been moved; moves : (n, 2)."""
    is_disc = np.array([not len(region.normals) for region in regions], dtype=bool)
    discs = [region for region in regions if not len(region.normals)]
    polygons = [region for region in regions if len(region.normals)]
    sides = np.array([len(region.normals) for region in polygons], dtype=np.int64)
    side_moves = np.repeat(moves[~is_disc], sides, axis=0)
    firsts = np.cumsum(sides) - sides
    following = np.arange(len(side_moves)) + 1
    following[firsts + sides - 1] = firsts
    starts = _stacked([region.corners for region in polygons]) + side_moves
    normals = _stacked([region.normals for region in polygons])
    reaches = np.concatenate([NO_LINES[1], *(region.reaches for region in polygons)])
    return Obstacles(
        middles=_stacked([region.corners for region in discs]) + moves[is_disc],
        radii=np.array([region.radius for region in discs]),
        starts=starts,
        ends=starts[following],
        normals=normals,
        reaches=reaches + (normals * side_moves).sum(axis=1),
        owners=np.repeat(np.arange(len(sides)), sides),
        firsts=firsts,
    )


def _stacked(rows: list[FloatArray]) -> FloatArray:
    return np.concatenate([NO_LINES[0], *rows])


def are_free(places: FloatArray, obstacles: Obstacles) -> BoolArray:
    """Which of (n, 2) places lie inside no region."""
    free = np.ones(len(places), dtype=bool)
    if len(obstacles.radii):
        apart = np.hypot(
            places[:, None, 0] - obstacles.middles[:, 0],
            places[:, None, 1] - obstacles.middles[:, 1],
        )
        free &= (apart >= obstacles.radii - TOUCH).all(axis=1)
    if len(obstacles.firsts):
        beyond = places @ obstacles.normals.T - obstacles.reaches
        outside = np.maximum.reduceat(beyond, obstacles.firsts, axis=1)
        free &= (outside >= -TOUCH).all(axis=1)
    return free


def meeting_places(obstacles: Obstacles, low: FloatArray, high: FloatArray) -> FloatArray:
    """(n, 2) corners of what is left of the rectangle low to high, and others within it.

    They are the rectangle's corners and where its sides and the borders of
    the regions meet: every corner of the free space is one of these.
    """
    obstacles = _sides_within(obstacles, low, high)
    corners = np.array([[x, y] for y in (low[1], high[1]) for x in (low[0], high[0])])
    places = np.concatenate(
        [
            corners,
            _on_rectangle(obstacles, low, high),
            _disc_and_disc(obstacles),
            _disc_and_side(obstacles),
            _side_and_side(obstacles),
        ]
    )
    within = ((places >= low - TOUCH) & (places <= high + TOUCH)).all(axis=1)
    kept: FloatArray = np.clip(places[within], low, high)
    return kept


def _sides_within(obstacles: Obstacles, low: FloatArray, high: FloatArray) -> Obstacles:
    """Without the ends of sides that lie beyond the rectangle; no longer fit for `are_free`."""
    near = (np.minimum(obstacles.starts, obstacles.ends) <= high + TOUCH).all(axis=1)
    near &= (np.maximum(obstacles.starts, obstacles.ends) >= low - TOUCH).all(axis=1)
    return replace(
        obstacles,
        starts=obstacles.starts[near],
        ends=obstacles.ends[near],
        owners=obstacles.owners[near],
    )


def _on_rectangle(obstacles: Obstacles, low: FloatArray, high: FloatArray) -> FloatArray:
    found = []
    for axis in (0, 1):
        for level in (low[axis], high[axis]):
            others = np.concatenate(
                [_disc_crossings(obstacles, axis, level), _side_crossings(obstacles, axis, level)]
            )
            pair = [others, np.full(len(others), level)]
            found.append(np.column_stack(pair[::-1] if axis == 0 else pair))
    return np.concatenate(found)


def _disc_crossings(obstacles: Obstacles, axis: int, level: float) -> FloatArray:
    """The other coordinate where circles cross a level of one."""
    rest = obstacles.radii**2 - (level - obstacles.middles[:, axis]) ** 2
    half = np.sqrt(rest[rest >= 0.0])
    middles = obstacles.middles[rest >= 0.0, 1 - axis]
    return np.concatenate([middles - half, middles + half])


def _side_crossings(obstacles: Obstacles, axis: int, level: float) -> FloatArray:
    start, end = obstacles.starts[:, axis], obstacles.ends[:, axis]
    crossing = ((start <= level) & (end > level)) | ((end <= level) & (start > level))
    share = (level - start[crossing]) / (end[crossing] - start[crossing])
    begin, stop = obstacles.starts[crossing, 1 - axis], obstacles.ends[crossing, 1 - axis]
    crossed: FloatArray = begin + share * (stop - begin)
    return crossed


def _disc_and_disc(obstacles: Obstacles) -> FloatArray:
    first, second = np.triu_indices(len(obstacles.radii), 1)
    between = obstacles.middles[second] - obstacles.middles[first]
    apart = np.hypot(between[:, 0], between[:, 1])
    r, s = obstacles.radii[first], obstacles.radii[second]
    meet = (apart <= r + s) & (apart >= np.abs(r - s)) & (apart > TOUCH)
    between, apart, r, s = between[meet], apart[meet], r[meet], s[meet]
    along = (apart**2 + r**2 - s**2) / (2.0 * apart)
    across = np.sqrt(np.maximum(r**2 - along**2, 0.0))
    unit = between / apart[:, None]
    foot = obstacles.middles[first[meet]] + along[:, None] * unit
    aside = across[:, None] * np.column_stack([-unit[:, 1], unit[:, 0]])
    return np.concatenate([foot - aside, foot + aside])


def _disc_and_side(obstacles: Obstacles) -> FloatArray:
    disc, side = (
        index.ravel() for index in np.indices((len(obstacles.radii), len(obstacles.starts)))
    )
    start, run = obstacles.starts[side], obstacles.ends[side] - obstacles.starts[side]
    arm = obstacles.middles[disc] - start
    squared = np.maximum((run**2).sum(axis=1), 1e-24)
    foot = (arm * run).sum(axis=1) / squared
    rest = obstacles.radii[disc] ** 2 - ((arm - foot[:, None] * run) ** 2).sum(axis=1)
    half = np.sqrt(np.maximum(rest, 0.0) / squared)
    shares = np.concatenate([foot - half, foot + half])
    on_side = np.tile(rest >= 0.0, 2) & (shares >= 0.0) & (shares <= 1.0)
    places: FloatArray = (np.tile(start, (2, 1)) + shares[:, None] * np.tile(run, (2, 1)))[on_side]
    return places


def _side_and_side(obstacles: Obstacles) -> FloatArray:
    low = np.minimum(obstacles.starts, obstacles.ends)
    high = np.maximum(obstacles.starts, obstacles.ends) + TOUCH
    near = obstacles.owners[:, None] < obstacles.owners
    for axis in (0, 1):
        near &= low[:, None, axis] <= high[:, axis]
        near &= low[:, axis] <= high[:, None, axis]
    first, second = near.nonzero()
    run = obstacles.ends[first] - obstacles.starts[first]
    other = obstacles.ends[second] - obstacles.starts[second]
    gap = obstacles.starts[second] - obstacles.starts[first]
    spread = run[:, 0] * other[:, 1] - run[:, 1] * other[:, 0]
    level = np.abs(spread) <= 1e-9 * np.hypot(*run.T) * np.hypot(*other.T)
    spread = np.where(level, 1.0, spread)
    share = (gap[:, 0] * other[:, 1] - gap[:, 1] * other[:, 0]) / spread
    other_share = (gap[:, 0] * run[:, 1] - gap[:, 1] * run[:, 0]) / spread
    on_both = (np.abs(share - 0.5) <= 0.5 + TOUCH) & (np.abs(other_share - 0.5) <= 0.5 + TOUCH)
    meet = on_both & ~level
    places: FloatArray = obstacles.starts[first[meet]] + share[meet, None] * run[meet]
    return places
