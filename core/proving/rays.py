"""Radii of outlines along rays from a middle, evenly round, and the area that two share."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, IntArray, read_only

_OFF_VERTICES = (math.sqrt(5.0) - 1.0) / 2.0
"""Where in its step each ray lies: no fraction of a turn that a facet could have."""


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Where rays from the middle meet an outline, sorted by ray, then by radius.

    count : number of rays, evenly round
    ray : (c,) int
    radius : (c,) mm
    enters : (c,) int, 1 into the material, -1 out of it
    """

    count: int
    ray: IntArray
    radius: FloatArray
    enters: IntArray

    def __post_init__(self) -> None:
        read_only(self.ray)
        read_only(self.radius)
        read_only(self.enters)

    def innermost(self) -> FloatArray:
        """(count,) mm, first crossing of each ray; infinite where there is none."""
        return self._pick(first=True, missing=math.inf)

    def outermost(self) -> FloatArray:
        """(count,) mm, last crossing of each ray; 0 where there is none."""
        return self._pick(first=False, missing=0.0)

    def _pick(self, *, first: bool, missing: float) -> FloatArray:
        numbers = np.bincount(self.ray, minlength=self.count)
        after = np.cumsum(numbers)
        met = numbers > 0
        radii = np.full(self.count, missing)
        radii[met] = self.radius[(after - numbers if first else after - 1)[met]]
        return radii


def ray_angles(count: int) -> FloatArray:
    """(count,) ascending angles in (-pi, pi), evenly round, off every likely vertex."""
    angles: FloatArray = (np.arange(count) + _OFF_VERTICES) * (2.0 * np.pi / count) - np.pi
    return angles


def cross_rays(starts: FloatArray, stops: FloatArray, count: int) -> Crossings:
    """Meet the segments of one section with `count` rays, at `ray_angles(count)`.

    Parameters
    ----------
    starts, stops : (k, 2) mm, from the middle; material on the left of each segment
    """
    angles = ray_angles(count)
    polar = [np.arctan2(ends[:, 1], ends[:, 0]) for ends in (starts, stops)]
    places = [np.searchsorted(angles, ends) for ends in polar]
    turn = polar[1] - polar[0]
    wraps = np.abs(turn) > np.pi
    onward = (turn > 0.0) != wraps
    first = np.where(onward, places[0], places[1])
    last = np.where(onward, places[1], places[0])
    numbers = last - first + count * wraps
    segment = np.repeat(np.arange(len(numbers)), numbers)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(numbers) - numbers, numbers)
    ray = (first[segment] + within) % count
    radius = radii_on_segments(starts[segment], stops[segment], angles[ray])
    return _sorted_crossings(count, ray, radius, np.where(onward[segment], -1, 1))


def _sorted_crossings(count: int, ray: IntArray, radius: FloatArray, enters: IntArray) -> Crossings:
    """Crossings in order; a ray that starts in material enters it at the middle."""
    balance = np.bincount(ray, weights=enters, minlength=count)
    solid = np.flatnonzero(balance < 0)
    ray = np.concatenate([ray, solid])
    radius = np.concatenate([radius, np.zeros(len(solid))])
    enters = np.concatenate([enters, np.ones(len(solid), np.int64)])
    order = _by_ray_and_radius(ray, radius)
    return Crossings(count, ray[order], radius[order], enters[order])


def _by_ray_and_radius(ray: IntArray, radius: FloatArray) -> IntArray:
    """Order by ray, then by radius, in one sort: the radius is the fraction of a ray."""
    order: IntArray = np.argsort(ray + 0.5 * radius / radius.max(initial=1.0), kind="stable")
    return order


def radii_on_segments(p: FloatArray, q: FloatArray, angles: FloatArray) -> FloatArray:
    """Distance from the middle at which the ray at each angle meets its segment p to q."""
    x, y = np.cos(angles), np.sin(angles)
    off_p = x * p[:, 1] - y * p[:, 0]
    off_q = x * q[:, 1] - y * q[:, 0]
    apart = off_p - off_q
    share = np.clip(off_p / np.where(apart == 0.0, 1.0, apart), 0.0, 1.0)
    along_p, along_q = p[:, 0] * x + p[:, 1] * y, q[:, 0] * x + q[:, 1] * y
    radii: FloatArray = along_p + share * (along_q - along_p)
    return radii


def overlap_area(one: Crossings, other: Crossings) -> float:
    """Area, mm2, that two sections share: r dr summed over the rays."""
    assert one.count == other.count
    ray = np.concatenate([one.ray, other.ray])
    radius = np.concatenate([one.radius, other.radius])
    inside_one = np.concatenate([one.enters, np.zeros_like(other.enters)])
    inside_other = np.concatenate([np.zeros_like(one.enters), other.enters])
    order = _by_ray_and_radius(ray, radius)
    both = (np.cumsum(inside_one[order]) > 0) & (np.cumsum(inside_other[order]) > 0)
    square = radius[order] ** 2
    shared = float((square[1:] - square[:-1])[both[:-1]].sum())
    return shared / 2.0 * (2.0 * math.pi / one.count)
