"""Turning sections of one piece in those of another, whatever their shapes.

Points on the outlines of the one, moved into its material by a depth, are turned about the
middle and looked up in the other: in its material they collide. Between points nothing is
seen, so what collides may be told as free, never the other way round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .arcs import Outlines, outlines_of
from .overlaps import windings_at
from .section import band_of, cut_sections

_STEP = 0.25
"""Between points along an outline, mm."""

_FEW = (50, 7, 1)
"""One of so many points is turned first: at most turns it collides already."""

_AT_ONCE = 400_000
"""So many points are looked up at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Points just inside the outlines of what turns, about the middle.

    points : (n, 2) mm
    level : (n,) int
    """

    points: FloatArray
    level: IntArray

    def __post_init__(self) -> None:
        read_only(self.points)
        read_only(self.level)

    def __getitem__(self, chosen: BoolArray | slice) -> Body:
        return Body(self.points[chosen], self.level[chosen])

    def __len__(self) -> int:
        return len(self.level)


def sections_about(mesh: Mesh, middle: FloatArray, stations: FloatArray) -> Outlines:
    """The outlines of a mesh at stations, seen from a middle."""
    band = band_of(mesh, float(stations.min()), float(stations.max()))
    return outlines_of(cut_sections(band, stations), middle)


def body_of(outlines: Outlines, depth: float) -> Body:
    """Points along outlines, so deep in their material."""
    along = outlines.stops - outlines.starts
    length = np.hypot(along[:, 0], along[:, 1])
    parts = np.maximum(np.ceil(length / _STEP), 1.0).astype(np.int64)
    home = np.repeat(np.arange(len(parts)), parts)
    share = (np.arange(len(home)) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[home]
    points = outlines.starts[home] + share[:, None] * along[home]
    inward = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(length, 1e-12)[:, None]
    return Body(points + depth * inward[home], outlines.level[home])


def blocked_turns(body: Body, other: Outlines, turns: FloatArray) -> BoolArray:
    """(n,) whether a body, turned by each of n angles, radians, comes into another's material."""
    body = body[_may_meet(body, other)]
    blocked = np.zeros(len(turns), bool)
    for some in (body[::step] for step in _FEW):
        left = np.flatnonzero(~blocked)
        batch = max(1, _AT_ONCE // max(1, len(some)))
        for start in range(0, len(left), batch):
            chosen = left[start : start + batch]
            blocked[chosen] = _collides(some, other, turns[chosen])
    return blocked


def _collides(body: Body, other: Outlines, turns: FloatArray) -> BoolArray:
    """(n,) whether any of the body's points is in the other's material, by turns."""
    cos, sin = np.cos(turns)[:, None], np.sin(turns)[:, None]
    x, y = body.points.T
    turned = np.column_stack([(cos * x - sin * y).ravel(), (sin * x + cos * y).ravel()])
    inside = windings_at(turned, np.tile(body.level, len(turns)), other) > 0
    collides: BoolArray = inside.reshape(len(turns), len(body)).any(axis=1)
    return collides


def _may_meet(body: Body, other: Outlines) -> BoolArray:
    """(n,) whether points lie as far from the middle as any of the other's material there."""
    levels = int(max(body.level.max(initial=0), other.level.max(initial=0))) + 1
    inner, outer = other.reach_by_level(levels)
    middle = windings_at(np.full((levels, 2), 1e-9), np.arange(levels), other) > 0
    inner[middle] = 0.0
    radius = np.hypot(*body.points.T)
    met: BoolArray = (radius >= inner[body.level]) & (radius <= outer[body.level])
    return met


def free_until(body: Body, other: Outlines, most: float, sense: int) -> float:
    """The least turn, radians, at which a body comes into another's material; infinite past most.

    sense : 1 as angles grow, -1 the other way
    """
    steps = np.linspace(0.0, most, 101)
    blocked = np.flatnonzero(blocked_turns(body, other, sense * steps))
    if not len(blocked):
        return math.inf
    first = int(blocked[0])
    if first == 0:
        return 0.0
    fine = np.linspace(steps[first - 1], steps[first], 51)
    hit = blocked_turns(body, other, sense * fine)
    return float(fine[int(hit.argmax())])
