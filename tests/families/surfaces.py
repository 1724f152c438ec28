"""True surfaces as implicit functions: zero on the surface, with their gradients.

A `Curve` is in a plane what a `Surface` is in space. Values need not be distances, but
gradients must not vanish nearby.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tests.families.truth import FloatArray, IntArray, Surface

Curve = Callable[[FloatArray], tuple[FloatArray, FloatArray]]


def plane(normal: tuple[float, float, float], offset: float) -> Surface:
    """Points whose component along the unit normal is `offset`."""
    unit = np.asarray(normal, np.float64)

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        return points @ unit - offset, np.broadcast_to(unit, points.shape)

    return measure


def level(station: float) -> Surface:
    """The plane square to the axis at a station."""
    return plane((0.0, 0.0, 1.0), station)


def cone(radius_at_zero: float, slope: float, offset: tuple[float, float]) -> Surface:
    """A cone or cylinder about a line parallel to the axis."""

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        x, y = points[:, 0] - offset[0], points[:, 1] - offset[1]
        radius = np.hypot(x, y)
        gradient = np.column_stack((x / radius, y / radius, np.full_like(x, -slope)))
        return radius - radius_at_zero - slope * points[:, 2], gradient

    return measure


def sculpted(radius: Callable[[FloatArray, FloatArray], FloatArray]) -> Surface:
    """Radius as a function of angle and station; its gradient by central differences."""

    def value(points: FloatArray) -> FloatArray:
        x, y, z = points.T
        wanted: FloatArray = np.hypot(x, y) - radius(np.arctan2(y, x), z)
        return wanted

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        steps = 1e-5 * np.eye(3)
        columns = [(value(points + s) - value(points - s)) / 2e-5 for s in steps]
        return value(points), np.column_stack(columns)

    return measure


def bent_tube(radius: float, bend_radius: float, middle: float) -> Surface:
    """A torus whose circle leaves the z axis towards +x and touches it nowhere but at both ends.

    The circle of centres lies in y = 0 about (x, z) = (centre, middle).
    """
    centre = _bend_centre(bend_radius, middle)

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        x, y, z = points[:, 0] - centre, points[:, 1], points[:, 2] - middle
        arm = np.hypot(x, z)
        off = arm - bend_radius
        distance = np.hypot(off, y)
        gradient = np.column_stack(
            (off / distance * x / arm, y / distance, off / distance * z / arm)
        )
        return distance - radius, gradient

    return measure


def _bend_centre(bend_radius: float, middle: float) -> float:
    return -float(np.sqrt(bend_radius**2 - middle**2))


def line(normal: tuple[float, float], offset: float) -> Curve:
    """A straight line in the plane, given by its unit normal."""
    unit = np.asarray(normal, np.float64)

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        return points @ unit - offset, np.broadcast_to(unit, points.shape)

    return measure


def ellipse(half_u: float, half_v: float, centre: tuple[float, float] = (0.0, 0.0)) -> Curve:
    """An ellipse with its axes along those of the plane; a circle where they are equal."""
    scale = np.array([1.0 / half_u, 1.0 / half_v])
    least = min(half_u, half_v)

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        scaled = (points - centre) * scale
        size = np.hypot(*scaled.T)
        return least * (size - 1.0), least * scaled * scale / size[:, None]

    return measure


@dataclass(frozen=True, slots=True)
class Outline:
    """A closed outline in a plane, counter-clockwise and star-shaped about its middle.

    points : (n, 2), each on the true curves of both edges that meet there
    of_edge : (n,) which of `curves` the edge after each point follows
    """

    points: FloatArray
    curves: tuple[Curve, ...]
    of_edge: IntArray


@dataclass(frozen=True, slots=True)
class Direction:
    """A prism's own frame: outlines lie in (u, v) and are swept along w, right-handed."""

    origin: FloatArray
    u: FloatArray
    v: FloatArray
    w: FloatArray

    def points(self, outline: FloatArray, along: float) -> FloatArray:
        """(n, 3) of an outline's points at a distance along w."""
        swept: FloatArray = self.origin + outline @ np.vstack((self.u, self.v)) + along * self.w
        return swept


UPRIGHT = Direction(np.zeros(3), *np.eye(3))
"""Outlines in (x, y), swept along the axis."""


def swept(curve: Curve, frame: Direction) -> Surface:
    """The surface that a curve leaves when it moves along w."""
    across = np.vstack((frame.u, frame.v))

    def measure(points: FloatArray) -> tuple[FloatArray, FloatArray]:
        value, gradient = curve((points - frame.origin) @ across.T)
        return value, gradient @ across

    return measure


def end_plane(frame: Direction, along: float) -> Surface:
    """The plane that closes a prism at a distance along w."""
    return plane(tuple(frame.w.tolist()), float(frame.origin @ frame.w) + along)
