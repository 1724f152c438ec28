"""Small drilled bodies and their labels in closed form, for the tests of openings.

Built without any code of the core, about the z axis, low end at 0.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np
from numpy.typing import NDArray

from core.surveying.labelling import Regions
from core.surveying.openings import Openings, find_openings
from core.values import BORE, HIGH_END, LOW_END, OTHER, OUTSIDE, Mesh, RoundSurface

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Solid = manifold3d.Manifold

BAND = 0.1
LENGTH = 60.0
SIDES = 252


def circle(radius: float, sides: int = 96) -> FloatArray:
    turn = 2.0 * math.pi * (np.arange(sides) + 0.5) / sides
    return radius * np.column_stack([np.cos(turn), np.sin(turn)])


def oval(half_u: float, half_v: float, sides: int = 120) -> FloatArray:
    return circle(1.0, sides) * [half_u, half_v]


def slot(half_u: float, half_v: float, sides: int = 120) -> FloatArray:
    rounded = circle(half_v, sides)
    return rounded + np.sign(rounded[:, :1]) * [[half_u - half_v, 0.0]]


def rectangle(half_u: float, half_v: float) -> FloatArray:
    return np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([half_u, half_v])


def many_sided(sides: int, across_flats: float) -> FloatArray:
    return circle(across_flats / 2.0 / math.cos(math.pi / sides), sides)


def column(outline: FloatArray, low: float = 0.0, high: float = LENGTH) -> Solid:
    section = manifold3d.CrossSection([outline.tolist()])
    return Solid.extrude(section, high - low).translate((0.0, 0.0, low))


def cone(
    radii: tuple[float, float],
    low: float = 0.0,
    high: float = LENGTH,
    offset: tuple[float, float] = (0.0, 0.0),
) -> Solid:
    return Solid.cylinder(high - low, *radii, SIDES).translate((*offset, low))


def bore(diameter: float, offset: tuple[float, float] = (0.0, 0.0), low: float = -1.0) -> Solid:
    return cone((diameter / 2.0, diameter / 2.0), low, LENGTH + 1.0, offset)


def drill(
    outline: FloatArray,
    station: float,
    angle_deg: float,
    reach: float,
    *,
    offset: tuple[float, float] = (0.0, 0.0),
    along_deg: float = 0.0,
    depth: float | None = None,
    beyond: float = 8.0,
    growth: float = 1.0,
) -> Solid:
    """A prism through the point at `reach` from `offset`, `depth` deep and `beyond` high.

    outline : its u along the axis, its v across
    along_deg : how far it leans towards the high end, going outward
    growth : size at the far end by that at the near one
    """
    depth = reach if depth is None else depth
    angle, along = math.radians(angle_deg), math.radians(along_deg)
    out = np.array([math.cos(angle), math.sin(angle), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    w = math.cos(along) * out + math.sin(along) * up
    u = math.cos(along) * up - math.sin(along) * out
    point = reach * out + [*offset, station]
    section = manifold3d.CrossSection([outline.tolist()])
    tool = Solid.extrude(section, depth + beyond, scale_top=(growth, growth))
    placed = tool.translate((0.0, 0.0, -depth))
    return placed.transform(np.column_stack([u, np.cross(w, u), w, point]))


@dataclass(frozen=True, slots=True)
class Labelled:
    """A mesh whose triangles are marked with what they are known to lie on."""

    vertices: FloatArray
    triangles: IntArray
    labels: IntArray
    numbers: IntArray
    bores: tuple[RoundSurface, ...]
    outsides: tuple[RoundSurface, ...]

    def openings(self, band: float = BAND) -> Openings:
        return find_openings(
            Mesh(self.vertices, self.triangles),
            Regions(self.labels, self.numbers),
            self._of_several_surfaces(),
            self.bores,
            self.outsides,
            LENGTH,
            band,
        )

    def _of_several_surfaces(self) -> NDArray[np.bool_]:
        """(n,) vertices at which triangles of several stretches of bores and outsides meet."""
        kinds = [
            np.unique(self.triangles[(self.labels == label) & (self.numbers == number)])
            for label in (BORE, OUTSIDE)
            for number in range(max(len(self.bores), len(self.outsides)))
        ]
        counted: NDArray[np.bool_] = (
            np.bincount(np.concatenate(kinds), minlength=len(self.vertices)) > 1
        )
        return counted


def round_surface(
    diameter: float,
    offset: tuple[float, float] = (0.0, 0.0),
    *,
    far: float | None = None,
    start: float = 0.0,
    stop: float = LENGTH,
    rms: float = 0.0,
) -> RoundSurface:
    slope = ((diameter if far is None else far) - diameter) / 2.0 / LENGTH
    return RoundSurface(diameter / 2.0, slope, start, stop, offset, rms, 0.002)


def labelled(
    solid: Solid,
    bores: Sequence[RoundSurface],
    outsides: Sequence[RoundSurface] = (),
    *,
    near: float = 0.004,
) -> Labelled:
    """The solid's mesh, each triangle marked by the surface that all its corners lie on.

    near : mm, how far off; facets of ours are 0.002 mm inside their circle at most
    """
    raw = solid.to_mesh64()
    vertices = np.array(raw.vert_properties[:, :3], np.float64)
    triangles = np.array(raw.tri_verts, np.int64)
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    normals = np.cross(b - a, c - a)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    labels, numbers = np.full(len(triangles), OTHER), np.zeros(len(triangles), np.int64)
    for label, sign, surfaces in ((OUTSIDE, 1.0, outsides), (BORE, -1.0, bores)):
        for number, surface in enumerate(surfaces):
            arms = vertices[:, :2] - surface.offset
            off = np.abs(np.hypot(*arms.T) - surface.radii_at(vertices[:, 2]))
            off[
                (vertices[:, 2] < surface.start - near) | (vertices[:, 2] > surface.stop + near)
            ] = 1
            middle = arms[triangles].mean(axis=1)
            facing = (middle * normals[:, :2]).sum(axis=1) / np.linalg.norm(middle, axis=1)
            on_it = (off[triangles].max(axis=1) < near) & (sign * facing > 0.9)
            labels[on_it], numbers[on_it] = label, number
    for label, station in ((LOW_END, 0.0), (HIGH_END, LENGTH)):
        labels[(np.abs(vertices[:, 2] - station) < near)[triangles].all(axis=1)] = label
    return Labelled(vertices, triangles, labels, numbers, tuple(bores), tuple(outsides))


def finer(part: Labelled, most: float) -> Labelled:
    """Longest edges of OTHER triangles halved until none is longer; neighbours go along."""
    vertices, faces = part.vertices, part.triangles
    tags = np.column_stack([part.labels, part.numbers])
    while True:
        ends = np.stack([faces, np.roll(faces, -1, axis=1)], axis=-1)
        lengths = np.linalg.norm(vertices[ends[..., 0]] - vertices[ends[..., 1]], axis=2)
        longest = lengths >= lengths.max(axis=1, keepdims=True) - 1e-12
        marked = longest & (lengths > most) & (tags[:, :1] == OTHER)
        if not marked.any():
            return Labelled(vertices, faces, *tags.T.copy(), part.bores, part.outsides)
        codes = ends.min(axis=-1) * len(vertices) + ends.max(axis=-1)
        edges, which = np.unique(codes.ravel(), return_inverse=True)
        which = which.reshape(-1, 3)
        split = np.zeros(len(edges), bool)
        split[which[marked]] = True
        fresh = np.where(split, len(vertices) + np.cumsum(split) - 1, -1)[which]
        pair = np.divmod(edges[split], len(vertices))
        vertices = np.vstack([vertices, (vertices[pair[0]] + vertices[pair[1]]) / 2.0])
        faces, tags = _divided(faces, fresh, lengths, tags)


def _divided(
    faces: IntArray, fresh: IntArray, lengths: FloatArray, tags: IntArray
) -> tuple[IntArray, IntArray]:
    """Triangles with new vertices (or -1) on their edges, divided along the longest first."""
    first = np.argmax(np.where(fresh >= 0, lengths, -1.0), axis=1)
    order = (first[:, None] + np.arange(3)) % 3
    a, b, c = np.take_along_axis(faces, order, axis=1).T
    ab, bc, ca = np.take_along_axis(fresh, order, axis=1).T
    whole = ab < 0
    kinds = [
        (whole, (a, b, c)),
        (~whole & (ca < 0), (a, ab, c)),
        (~whole & (ca >= 0), (a, ab, ca)),
        (~whole & (ca >= 0), (ab, c, ca)),
        (~whole & (bc < 0), (ab, b, c)),
        (~whole & (bc >= 0), (ab, b, bc)),
        (~whole & (bc >= 0), (ab, bc, c)),
    ]
    parts = [np.column_stack(corners)[chosen] for chosen, corners in kinds]
    return np.vstack(parts), np.vstack([tags[chosen] for chosen, _ in kinds])


def rough(part: Labelled, sigma: float, seed: int) -> Labelled:
    """Every vertex moved by a normal deviate along each axis; the surfaces know it."""
    noise = np.random.default_rng(seed).normal(0.0, sigma, part.vertices.shape)

    def noisy(surface: RoundSurface) -> RoundSurface:
        return RoundSurface(
            surface.radius_at_zero,
            surface.slope,
            surface.start,
            surface.stop,
            surface.offset,
            sigma,
            surface.sagitta,
        )

    return Labelled(
        part.vertices + noise,
        part.triangles,
        part.labels,
        part.numbers,
        tuple(map(noisy, part.bores)),
        tuple(map(noisy, part.outsides)),
    )
