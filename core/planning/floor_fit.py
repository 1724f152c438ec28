"""Does a section fit the envelope's floor, and how far must it be turned about the axis?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ..errors import TooWide
from ..jointing.collar_design import collar_width
from ..meshes.convex_hull import convex_hull
from ..values import FIT_SLACK, FloatArray, Joint, Mesh, Survey

_WAYS = np.array(
    [(math.cos(k * math.pi / 16.0), math.sin(k * math.pi / 16.0)) for k in range(16)]
).T
"""Directions of half a turn."""


def check_floor(survey: Survey, joints: Sequence[Joint], floor: tuple[float, float]) -> None:
    """Whether each piece of a plan fits the envelope's floor.

    A piece is wide where the part is: its tenon lies within the wall. Pieces are taken
    apart only where the whole part does not fit.

    Raises
    ------
    TooWide : a piece does not; the floor named is enough for all pieces
    """
    _check_collars(joints, floor)
    if _best_standing(survey.mesh.vertices[:, :2], floor).fits:
        return
    ends = [-math.inf, *(joint.station for joint in joints), math.inf]
    standing = [
        _best_standing(points_between(survey.mesh, low, high), floor)
        for low, high in pairwise(ends)
    ]
    number = min(range(len(standing)), key=lambda number: standing[number].room)
    if standing[number].fits:
        return
    whose = ""
    if joints:
        start, stop = max(ends[number], 0.0), min(ends[number + 1], survey.length)
        whose = f" of piece {number + 1}, stations {start:.2f} to {stop:.2f} mm,"
    raise _too_wide(standing, number, floor, whose)


def _check_collars(joints: Sequence[Joint], floor: tuple[float, float]) -> None:
    """A collar is a ring: it fits where it fits the narrower side."""
    for joint in joints:
        if joint.collar is None:
            continue
        width = collar_width(joint.collar, joint.station)
        if width > min(floor) + FIT_SLACK:
            raise TooWide(
                f"a collar {width:.2f} mm wide at the seam at {joint.station:.2f} mm on a floor of "
                f"{floor[0]:g} x {floor[1]:g} mm",
                f"a floor of {width:.2f} x {width:.2f} mm",
                "a larger --envelope",
            )


def points_between(mesh: Mesh, low: float, high: float) -> FloatArray:
    """(n, 2) x and y of vertices from one station to another, and of edges at those."""
    stations = mesh.vertices[:, 2]
    found = [mesh.vertices[(stations >= low) & (stations <= high)]]
    for station in (low, high):
        above = stations > station
        for first, second in ((0, 1), (1, 2), (2, 0)):
            starts, ends = mesh.triangles[:, first], mesh.triangles[:, second]
            crossing = above[starts] != above[ends]
            start, end = mesh.vertices[starts[crossing]], mesh.vertices[ends[crossing]]
            share = (station - start[:, 2]) / (end[:, 2] - start[:, 2])
            found.append(start + share[:, None] * (end - start))
    points: FloatArray = np.vstack(found)[:, :2]
    return points


def turn_to_fit(points_xy: FloatArray, floor: tuple[float, float]) -> float:
    """Angle by which to turn points about the axis so that their extents fit a floor.

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
    standing = _best_standing(points_xy, floor)
    if not standing.fits:
        raise _too_wide([standing], 0, floor, "")
    return standing.turn


def fits_floor(points_xy: FloatArray, floor: tuple[float, float]) -> bool:
    """Whether points fit a floor, turned as they need be; the floor's diagonal is asked first."""
    hull = convex_hull(points_xy)
    if float(np.ptp(hull @ _WAYS, axis=0).max()) > math.hypot(*floor) + 2.0 * FIT_SLACK:
        return False
    return _best_standing(hull, floor).fits


@dataclass(frozen=True, slots=True)
class _Standing:
    """Points as they stand on a floor best.

    turn : radians about the axis
    as_it_is, turned : mm, their extents along x and y before and after
    room : mm, left on the floor at the narrower side; negative: they pass it
    """

    turn: float
    as_it_is: tuple[float, float]
    turned: tuple[float, float]
    room: float

    @property
    def fits(self) -> bool:
        """Whether they fit the floor."""
        return self.room >= -FIT_SLACK


def _best_standing(points_xy: FloatArray, floor: tuple[float, float]) -> _Standing:
    """The turn that fits a floor, 0 if that does, else the roomiest.

    Turned counter-clockwise by the angle t, the extent along x is the width of
    the convex hull in the direction (cos t, -sin t). Between two directions
    square to hull edges it is one arc of a cosine, concave, so it passes the
    floor's size at no more than two angles, known in closed form. Those angles,
    the directions of the edges, and the middles between neighbours among all of
    them decide exactly whether any turn fits; the roomiest one is taken.
    """
    as_it_is = float(np.ptp(points_xy[:, 0])), float(np.ptp(points_xy[:, 1]))
    room = min(floor[0] - as_it_is[0], floor[1] - as_it_is[1])
    if room >= -FIT_SLACK:
        return _Standing(0.0, as_it_is, as_it_is, room)
    hull = convex_hull(points_xy)
    squared = _edge_turns(hull)
    widest = (floor[0] + FIT_SLACK, floor[1] + FIT_SLACK)
    marks = np.union1d(squared, _crossing_turns(hull, squared, widest))
    middles = (marks + np.append(marks[1:], marks[0] + math.pi)) / 2.0
    turns = np.sort(np.concatenate([marks, middles]) % math.pi)
    rooms = _least_room(hull, floor, turns)
    roomiest = int(rooms.argmax())
    turn = turns[[roomiest]]
    along_x, along_y = _extents(hull, turn)
    turned = float(along_x[0]), float(along_y[0])
    return _Standing(float(turn[0]), as_it_is, turned, float(rooms[roomiest]))


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
    standing: Sequence[_Standing], number: int, floor: tuple[float, float], whose: str
) -> TooWide:
    """The refusal for one of several pieces, with the floor that they all need."""
    worst = standing[number]
    needed = [
        max(
            floor[k],
            *(math.ceil(one.turned[k] * 100.0) / 100.0 for one in standing if not one.fits),
        )
        for k in (0, 1)
    ]
    return TooWide(
        f"a section{whose} of {worst.as_it_is[0]:.2f} x {worst.as_it_is[1]:.2f} mm; turned by "
        f"{math.degrees(worst.turn):.1f} degrees, the best for this floor, "
        f"{worst.turned[0]:.2f} x {worst.turned[1]:.2f} mm",
        f"at most {floor[0]:.2f} x {floor[1]:.2f} mm",
        f"an envelope of {needed[0]:.2f} x {needed[1]:.2f} mm on the floor",
    )
