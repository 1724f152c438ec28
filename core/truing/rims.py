"""Rims of round side holes: where a hole's cylinder meets a cylinder or cone, in closed form."""

from __future__ import annotations

import math

import numpy as np

from ..meshes.angles import short_way
from ..values import FloatArray, HoleWall, RoundSurface


def across_and_along(points: FloatArray, wall: HoleWall) -> tuple[FloatArray, FloatArray]:
    """(n, 2) mm from a hole's centre line, in two directions square to it, and (n,) along it."""
    arms = points - np.array(wall.point)
    return arms @ _rows(wall).T, arms @ np.array(wall.direction)


def rim_points(surface: RoundSurface, wall: HoleWall, angles: FloatArray) -> FloatArray:
    """Where straight lines along a hole's cylinder leave the space within a round surface.

    A line point + t direction is at distance R(z) from the surface's centre line
    where t solves a quadratic; its greater root lies outward. Not a number where a
    line misses the surface.

    Parameters
    ----------
    angles : (n,) about the hole's centre line

    Returns
    -------
    (n, 3) mm
    """
    round_ = np.column_stack([np.cos(angles), np.sin(angles)])
    starts = np.array(wall.point) + wall.radius * round_ @ _rows(wall)
    along = np.array(wall.direction)
    arms = starts[:, :2] - np.array(surface.offset)
    radii = surface.radii_at(starts[:, 2])
    growth = surface.slope * along[2]
    a = float(along[:2] @ along[:2]) - growth * growth
    b = arms @ along[:2] - radii * growth
    c = (arms**2).sum(axis=1) - radii**2
    inside = b * b - a * c
    if a < 1e-3:
        return np.full((len(angles), 3), np.nan)
    reach = (-b + np.sqrt(np.where(inside >= 0.0, inside, np.nan))) / a
    points: FloatArray = starts + reach[:, None] * along
    return points


def rim_stations(
    surface: RoundSurface, wall: HoleWall, angles: FloatArray, middles: FloatArray, half: float
) -> FloatArray:
    """Stations at which lines along a round surface cross a stretch of a hole's rim.

    On a line foot + z rise, the distance from the hole's centre line is its radius
    where z solves a quadratic.

    Parameters
    ----------
    angles : (n,) of the lines, about the surface's own centre line
    middles : (n,) angle about the hole's centre line of the middle of each stretch
    half : radians about the hole's centre line that a stretch reaches to either side

    Returns
    -------
    (n,) mm; not a number where the line misses its stretch
    """
    rows = _rows(wall)
    out = np.column_stack([np.cos(angles), np.sin(angles)])
    foot = np.column_stack([surface.offset + surface.radius_at_zero * out, np.zeros(len(out))])
    rise = np.column_stack([surface.slope * out, np.ones(len(out))]) @ rows.T
    arms = (foot - np.array(wall.point)) @ rows.T
    a = np.maximum((rise**2).sum(axis=1), 1e-300)
    b = (rise * arms).sum(axis=1)
    inside = b * b - a * ((arms**2).sum(axis=1) - wall.radius**2)
    root = np.sqrt(np.where(inside >= 0.0, inside, np.nan))
    best = np.full(len(angles), np.nan)
    off = np.full(len(angles), half)
    for stations in ((-b - root) / a, (-b + root) / a):
        there = arms + stations[:, None] * rise
        away = np.abs(short_way(np.arctan2(there[:, 1], there[:, 0]) - middles))
        nearer = away <= off
        best, off = np.where(nearer, stations, best), np.where(nearer, away, off)
    return best


def _rows(wall: HoleWall) -> FloatArray:
    """(2, 3) unit vectors square to a hole's direction; with it they make a right-handed set."""
    x, y, z = wall.direction
    level = math.hypot(x, y)
    if level < 1e-9:
        return np.array([[1.0, 0.0, 0.0], [0.0, math.copysign(1.0, z), 0.0]])
    x, y = x / level, y / level
    return np.array([[-y, x, 0.0], [-z * x, -z * y, level]])
