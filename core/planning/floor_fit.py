"""Does a section fit the envelope's floor, and how far must it be turned about the axis?"""

from __future__ import annotations

import math

import numpy as np

from ..errors import TooWide
from ..values import FIT_SLACK, FloatArray


def turn_to_fit(points_xy: FloatArray, floor: tuple[float, float]) -> float:
    """Angle by which to turn points about the axis so that their extents fit a floor.

    Turned counter-clockwise by the angle t, the extent along x is the width of
    the convex hull in the direction (cos t, -sin t). Between two directions
    square to hull edges it is one arc of a cosine, concave, so it passes the
    floor's size at no more than two angles, known in closed form. Those angles,
    the directions of the edges, and the middles between neighbours among all of
    them decide exactly whether any turn fits; the roomiest one is taken.

    Parameters
    ----------
    points_xy : (n, 2) mm, of the whole piece
    floor : mm, the envelope's x and y; passed by at most `FIT_SLACK`

    Returns
    -------
    float : radians in [0, pi); 0.0 where the piece fits as it is

    Raises
    ------
    TooWide : no turn fits
    """
    if _least_room(points_xy, floor, np.zeros(1))[0] >= -FIT_SLACK:
        return 0.0
    hull = convex_hull(points_xy)
    squared = _edge_turns(hull)
    widest = (floor[0] + FIT_SLACK, floor[1] + FIT_SLACK)
    marks = np.union1d(squared, _crossing_turns(hull, squared, widest))
    middles = (marks + np.append(marks[1:], marks[0] + math.pi)) / 2.0
    turns = np.sort(np.concatenate([marks, middles]) % math.pi)
    room = _least_room(hull, floor, turns)
    roomiest = int(room.argmax())
    if room[roomiest] < -FIT_SLACK:
        raise _too_wide(points_xy, hull, floor, float(turns[roomiest]))
    return float(turns[roomiest])


def convex_hull(points: FloatArray) -> FloatArray:
    """Corners of the convex hull, counter-clockwise, for (n, 2) points.

    The points are put in order about their middle; then, all at once, those
    are dropped that lie in the triangle of the middle and their neighbours,
    until none does.
    """
    middle = points.mean(axis=0)
    arms = points - middle
    angles = np.arctan2(arms[:, 1], arms[:, 0])
    order = np.lexsort((np.hypot(arms[:, 0], arms[:, 1]), angles))
    last_of_angle = np.append(angles[order][1:] != angles[order][:-1], True)
    ring: FloatArray = arms[order][last_of_angle]
    while len(ring) > 3:
        to_next = np.roll(ring, -1, axis=0) - ring
        from_last = ring - np.roll(ring, 1, axis=0)
        kept = from_last[:, 0] * to_next[:, 1] - from_last[:, 1] * to_next[:, 0] > 0.0
        if kept.all() or not kept.any():
            break
        ring = ring[kept]
    hull: FloatArray = ring + middle
    return hull


def _extents(points: FloatArray, turns: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Along x and y, of the points turned by each of the angles."""
    cosines, sines = np.cos(turns)[:, None], np.sin(turns)[:, None]
    x = cosines * points[:, 0] - sines * points[:, 1]
    y = sines * points[:, 0] + cosines * points[:, 1]
    return np.ptp(x, axis=1), np.ptp(y, axis=1)


def _least_room(points: FloatArray, floor: tuple[float, float], turns: FloatArray) -> FloatArray:
    along_x, along_y = _extents(points, turns)
    room: FloatArray = np.minimum(floor[0] - along_x, floor[1] - along_y)
    return room


def _edge_turns(hull: FloatArray) -> FloatArray:
    """Turns in [0, pi) that lay an edge of the hull along x or y."""
    edges = np.roll(hull, -1, axis=0) - hull
    along = -np.arctan2(edges[:, 1], edges[:, 0])
    turns: FloatArray = np.unique(np.concatenate([along, along + math.pi / 2.0]) % math.pi)
    return turns


def _crossing_turns(
    hull: FloatArray, squared: FloatArray, floor: tuple[float, float]
) -> FloatArray:
    """Turns in [0, pi) at which an extent of the hull is just that of the floor."""
    next_turns = np.append(squared[1:], squared[0] + math.pi)
    inside = (squared + next_turns) / 2.0
    found = []
    for size, quarter in zip(floor, (0.0, math.pi / 2.0), strict=True):
        # y of the turn t is x of the turn t - pi / 2
        direction = inside - quarter
        across = hull @ np.array([np.cos(direction), -np.sin(direction)])
        diagonal = hull[across.argmax(axis=0)] - hull[across.argmin(axis=0)]
        reach = np.hypot(diagonal[:, 0], diagonal[:, 1])
        middle = -np.arctan2(diagonal[:, 1], diagonal[:, 0]) + quarter
        swing = np.arccos(np.minimum(size / reach, 1.0))
        for turn in (middle - swing, middle + swing):
            within = (turn - squared) % math.pi <= next_turns - squared
            found.append((turn % math.pi)[within & (size < reach)])
    return np.concatenate(found)


def _too_wide(
    points: FloatArray, hull: FloatArray, floor: tuple[float, float], turn: float
) -> TooWide:
    as_it_is = _extents(points, np.zeros(1))
    turned = _extents(hull, np.array([turn]))
    needed_x, needed_y = (math.ceil(float(extent[0]) * 100.0) / 100.0 for extent in turned)
    return TooWide(
        f"a section of {as_it_is[0][0]:.2f} x {as_it_is[1][0]:.2f} mm; turned by "
        f"{math.degrees(turn):.1f} degrees, the best for this floor, "
        f"{turned[0][0]:.2f} x {turned[1][0]:.2f} mm",
        f"at most {floor[0]:.2f} x {floor[1]:.2f} mm",
        f"an envelope of {max(needed_x, floor[0]):.2f} x {max(needed_y, floor[1]):.2f} mm "
        "on the floor",
    )
