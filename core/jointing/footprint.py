"""The outlines of tenon and socket, seen along the axis, and the heights over them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..truing.unroll import strip_count
from ..values import FloatArray, Joint, read_only
from .joint_design import FLANK_LEAN

_APART = 0.15
"""Least distance, mm along the arc, from a key's corner to any other corner."""


@dataclass(frozen=True, slots=True, eq=False)
class Footprint:
    """An outline about the axis as ascending angles with a radius each.

    closed : it runs once around; else it is an arc that ends at a notch's flanks
    """

    angles: FloatArray
    radii: FloatArray
    closed: bool

    def __post_init__(self) -> None:
        assert (np.diff(self.angles) > 0.0).all()
        read_only(self.angles)
        read_only(self.radii)

    def points(self, radii: FloatArray, stations: FloatArray) -> FloatArray:
        """(n, 3) points at the outline's angles, at other radii and at stations."""
        return np.column_stack([radii * np.cos(self.angles), radii * np.sin(self.angles), stations])


def tenon_footprint(joint: Joint, generators: FloatArray) -> Footprint:
    """The tenon's outline: corners on its circle, so that facets lie inside it."""
    return _footprint(joint, generators, joint.tenon_radius, 0.0)


def socket_footprint(joint: Joint, generators: FloatArray) -> Footprint:
    """The socket's outline: facets touch its circle, so that the least gap is the clearance."""
    plain = _footprint(joint, generators, joint.socket_radius, joint.key.side_gap)
    return Footprint(plain.angles, _circumscribed(plain), plain.closed)


def _footprint(joint: Joint, generators: FloatArray, radius: float, gap: float) -> Footprint:
    """Generators give the angles, so that roof and bore share their facets.

    gap : radians by which a rib's groove is wider than the rib, on each flank;
        a lug is narrower than its notch by as much
    """
    base = _base_angles(generators, joint.socket_radius)
    key = joint.key
    if key.kind == "notch":
        half = key.half_width - gap
        turned = np.mod(base - key.angle, 2.0 * math.pi)
        near = half + _APART / radius
        inner = turned[(turned > near) & (turned < 2.0 * math.pi - near)]
        angles = np.concatenate([[half], np.sort(inner), [2.0 * math.pi - half]]) + key.angle
        return Footprint(angles, np.full(len(angles), radius), closed=False)
    half, flank = key.half_width + gap, FLANK_LEAN / radius
    corners = np.array([-half, -half + flank, half - flank, half])
    turned = np.angle(np.exp(1j * (base - key.angle)))
    distance = np.abs(turned[:, None] - corners[None]).min(axis=1)
    on_flank = (np.abs(turned) < half) & (np.abs(turned) > half - flank)
    kept = turned[(distance > _APART / radius) & ~on_flank]
    angles = np.sort(np.concatenate([kept, corners]))
    out = np.abs(angles) <= half - flank + 1e-12
    return Footprint(angles + key.angle, radius + np.where(out, key.relief, 0.0), closed=True)


def _base_angles(generators: FloatArray, radius: float) -> FloatArray:
    """All generators, and more between them where the chord error at a radius asks for it."""
    count = strip_count(radius)
    if not len(generators):
        regular: FloatArray = -math.pi + (np.arange(count) + 0.5) * 2.0 * math.pi / count
        return regular
    gaps = np.diff(generators, append=generators[0] + 2.0 * math.pi)
    parts = np.ceil(gaps * count / (2.0 * math.pi) - 1e-6).astype(np.int64)
    parts = np.maximum(parts, 1)
    number = np.repeat(np.arange(len(gaps)), parts)
    step = np.arange(len(number)) - np.repeat(np.cumsum(parts) - parts, parts)
    angles: FloatArray = generators[number] + step * (gaps / parts)[number]
    return angles


def _circumscribed(plain: Footprint) -> FloatArray:
    """Radii of corners such that edges between corners of one circle touch it."""
    angles, radii = plain.angles, plain.radii
    steps = np.diff(angles, append=angles[0] + 2.0 * math.pi)
    level = np.append(np.diff(radii), radii[0] - radii[-1]) == 0.0
    if not plain.closed:
        level[-1] = False
    wide = np.where(level, steps, 0.0)
    widest = np.maximum(wide, np.roll(wide, 1))
    grown: FloatArray = radii / np.cos(widest / 2.0)
    return grown
