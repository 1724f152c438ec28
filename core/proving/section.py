"""Slices of a closed mesh: the segments of a section, its loops, and radii along rays.

All of it works on the part frame: a section lies in a plane of constant z, and
rays leave the z axis. Every segment has the material on its left, so that a ray
that meets it knows whether it enters the material or leaves it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.connected import connected_groups
from ..meshes.mesh_checks import compact
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only

_OFF_VERTICES = (math.sqrt(5.0) - 1.0) / 2.0
"""Where in its step each ray lies: no fraction of a turn that a facet could have."""


NARROWEST_VOID = 0.05
"""A void this narrow, mm, is roughness of one wall, not a gap between two: it prints shut."""


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """Where the plane z = station cuts a mesh.

    ends : (k, 2, 2) mm, x and y of both ends of each segment, material on the left
    edges : (k, 2) int, number of the mesh edge on which each end lies
    """

    station: float
    ends: FloatArray
    edges: IntArray

    def __post_init__(self) -> None:
        assert self.ends.shape == (len(self.edges), 2, 2)
        read_only(self.ends)
        read_only(self.edges)


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Where rays from the axis meet a section, sorted by ray, then by radius.

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

    def thinnest(self) -> FloatArray:
        """(count,) mm, shortest stretch of material on each ray; infinite without any.

        Material is where more surfaces were entered than left, so that a fold of a
        rough surface is no wall; stretches a `NARROWEST_VOID` apart are one.
        """
        filled = np.cumsum(self.enters) > 0
        before = np.concatenate([[False], filled[:-1]])
        starts, stops = np.flatnonzero(filled & ~before), np.flatnonzero(before & ~filled)
        near = self.radius[starts[1:]] - self.radius[stops[:-1]] < NARROWEST_VOID
        apart = ~(near & (self.ray[starts[1:]] == self.ray[stops[:-1]]))
        starts = starts[np.concatenate([[True], apart])[: len(starts)]]
        stops = stops[np.concatenate([apart, [True]])[: len(stops)]]
        thickness = np.full(self.count, np.inf)
        np.minimum.at(thickness, self.ray[starts], self.radius[stops] - self.radius[starts])
        return thickness


def ray_angles(count: int) -> FloatArray:
    """(count,) ascending angles in (-pi, pi), evenly round, off every likely vertex."""
    angles: FloatArray = (np.arange(count) + _OFF_VERTICES) * (2.0 * np.pi / count) - np.pi
    return angles


def band_of(mesh: Mesh, low: float, high: float) -> Mesh:
    """The triangles that reach into the stations from low to high, others left out."""
    heights = mesh.vertices[:, 2]
    under, over = (heights <= high), (heights >= low)
    kept = any_corner(under, mesh.triangles) & any_corner(over, mesh.triangles)
    return compact(mesh.vertices, mesh.triangles[kept])


def any_corner(marked: BoolArray, triangles: IntArray) -> BoolArray:
    """(m,) whether any corner of each triangle is marked; three passes beat one by rows."""
    found: BoolArray = marked[triangles[:, 0]] | marked[triangles[:, 1]] | marked[triangles[:, 2]]
    return found


def cut_section(mesh: Mesh, station: float) -> Section:
    """Section of a mesh by the plane z = station.

    A vertex in the plane counts as above it, so a closed mesh always gives
    closed loops. Both triangles at an edge compute its crossing alike, to the bit.
    """
    above = mesh.vertices[:, 2] >= station
    crossing = any_corner(above, mesh.triangles) & any_corner(~above, mesh.triangles)
    triangles = mesh.triangles[crossing]
    sides = above[triangles]
    raised = sides.sum(axis=1)
    lone = np.argmax(sides == (raised == 1)[:, None], axis=1)
    row = np.arange(len(lone))
    apex, following = triangles[row, lone], triangles[row, (lone + 1) % 3]
    preceding = triangles[row, (lone + 2) % 3]
    upward = raised == 1
    starts = np.where(upward, following, preceding)
    stops = np.where(upward, preceding, following)
    pairs = np.stack([apex, starts, apex, stops], axis=1).reshape(-1, 2)
    lower = np.where(above[pairs[:, 0]], pairs[:, 1], pairs[:, 0])
    upper = np.where(above[pairs[:, 0]], pairs[:, 0], pairs[:, 1])
    bottom, top = mesh.vertices[lower], mesh.vertices[upper]
    share = (station - bottom[:, 2]) / (top[:, 2] - bottom[:, 2])
    points = bottom[:, :2] + share[:, None] * (top[:, :2] - bottom[:, :2])
    codes = lower * len(mesh.vertices) + upper
    return Section(station, points.reshape(-1, 2, 2), codes.reshape(-1, 2))


def loop_areas(section: Section) -> FloatArray:
    """Area, mm2, of each closed loop of a section; negative round a void."""
    names, ends = np.unique(section.edges, return_inverse=True)
    ends = ends.reshape(-1, 2)
    groups = connected_groups(len(names), ends[:, 0], ends[:, 1])
    p, q = section.ends[:, 0], section.ends[:, 1]
    doubled = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    areas: FloatArray = np.bincount(groups[ends[:, 0]], weights=doubled) / 2.0
    return areas


def cross_rays(section: Section, count: int) -> Crossings:
    """Meet a section with `count` rays from the axis, at `ray_angles(count)`."""
    angles = ray_angles(count)
    polar = np.arctan2(section.ends[:, :, 1], section.ends[:, :, 0])
    places = np.searchsorted(angles, polar)
    turn = polar[:, 1] - polar[:, 0]
    wraps = np.abs(turn) > np.pi
    onward = (turn > 0.0) != wraps
    first = np.where(onward, places[:, 0], places[:, 1])
    last = np.where(onward, places[:, 1], places[:, 0])
    numbers = last - first + count * wraps
    segment = np.repeat(np.arange(len(numbers)), numbers)
    within = np.arange(len(segment)) - np.repeat(np.cumsum(numbers) - numbers, numbers)
    ray = (first[segment] + within) % count
    radius = _radii_on_segments(section.ends[segment], angles[ray])
    return _sorted_crossings(count, ray, radius, np.where(onward[segment], -1, 1))


def _sorted_crossings(count: int, ray: IntArray, radius: FloatArray, enters: IntArray) -> Crossings:
    """Crossings in order; a ray that starts in material enters it at the axis."""
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


def _radii_on_segments(ends: FloatArray, angles: FloatArray) -> FloatArray:
    """Distance from the axis at which the ray at each angle meets its segment."""
    x, y = np.cos(angles), np.sin(angles)
    p, q = ends[:, 0], ends[:, 1]
    off_p = x * p[:, 1] - y * p[:, 0]
    off_q = x * q[:, 1] - y * q[:, 0]
    share = np.clip(off_p / (off_p - off_q), 0.0, 1.0)
    point = p + share[:, None] * (q - p)
    radii: FloatArray = point[:, 0] * x + point[:, 1] * y
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
