"""Outlines of sections and of side holes, with the true curve of every edge."""

from __future__ import annotations

import math

import numpy as np

from tests.families.surfaces import Outline, ellipse, line
from tests.families.truth import FloatArray

PHASE = 0.0123
"""Angle, radians, of the first point of every ring: nothing is in line with x by chance."""


def oval(half_u: float, half_v: float, sides: int) -> Outline:
    """An ellipse in even steps of its parameter; a circle where both halves are equal."""
    turn = PHASE + 2.0 * math.pi * np.arange(sides) / sides
    points = np.column_stack((half_u * np.cos(turn), half_v * np.sin(turn)))
    return Outline(points, (ellipse(half_u, half_v),), np.zeros(sides, np.int64))


def polygon(points: FloatArray) -> Outline:
    """Straight sides between corners given counter-clockwise."""
    along = np.roll(points, -1, axis=0) - points
    normals = np.column_stack((along[:, 1], -along[:, 0]))
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    offsets = np.einsum("ij,ij->i", normals, points)
    sides = tuple(
        line((float(x), float(y)), float(offset))
        for (x, y), offset in zip(normals, offsets, strict=True)
    )
    return Outline(points, sides, np.arange(len(points)))


def many_sided(sides: int, across_flats: float) -> Outline:
    """A regular polygon with sharp corners."""
    turn = PHASE + math.pi * (2.0 * np.arange(sides) - 1.0) / sides
    corner = across_flats / 2.0 / math.cos(math.pi / sides)
    return polygon(corner * np.column_stack((np.cos(turn), np.sin(turn))))


def rectangle(width_u: float, width_v: float) -> Outline:
    """Sides along the axes of the plane."""
    halves = np.array([width_u / 2.0, width_v / 2.0])
    return polygon(halves * [[1.0, -1.0], [1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0]])


def obround(long: float, wide: float, sides: int) -> Outline:
    """Two half circles and the lines between them, long along u."""
    radius, reach = wide / 2.0, (long - wide) / 2.0
    half = max(2, sides // 2)
    turn = -math.pi / 2.0 + math.pi * np.arange(half + 1) / half
    cap = radius * np.column_stack((np.cos(turn), np.sin(turn)))
    offset = np.array([reach, 0.0])
    points: FloatArray = np.vstack((cap + offset, -cap - offset))
    curves = (
        ellipse(radius, radius, (reach, 0.0)),
        line((0.0, 1.0), radius),
        ellipse(radius, radius, (-reach, 0.0)),
        line((0.0, -1.0), radius),
    )
    of_edge = np.repeat([0, 1, 2, 3], [half, 1, half, 1])
    return Outline(points, curves, of_edge)
