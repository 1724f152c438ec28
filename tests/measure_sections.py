"""Measures a joint of any shape by level sections, with manifold3d only.

Distances are found by growing an outline until it reaches the other: no ray, no middle
and no roundness is assumed. Millimetres throughout; the pose is that of a `measure.Seat`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import trimesh
from manifold3d import CrossSection, JoinType, Manifold, OpType
from numpy.typing import NDArray

from tests.measure import Clearance, Seat

FloatArray = NDArray[np.float64]

SPECK = 1e-5
"""Area, mm2, of a section that counts as none."""

CLOSE = 2e-4
"""How closely, mm, a distance is found."""

ARCS = 720
"""Facets of a whole turn where an outline grows round a corner: 1e-5 of the distance off."""

BESIDE_KEY = 1.5
"""How far about the key, mm along the outline, a section is left out."""


@dataclass(frozen=True, slots=True)
class Level:
    """A joint at one height.

    tenon : the lower piece, what it surrounds filled
    room : what the upper piece leaves free about the joint's middle
    key : the places of the keys, left out where the plain outline is asked for
    """

    lower: CrossSection
    upper: CrossSection
    tenon: CrossSection
    room: CrossSection
    key: CrossSection


def level_of(at: Seat, height: float, key_half: float) -> Level:
    """The sections of a joint at a height in the pose of the lower piece's file.

    Parameters
    ----------
    key_half : mm along the outline, half of the key's width
    """
    lower, upper = (solid.slice(height) for solid in (at.lower, at.upper))
    room = _room(upper, at.centre)
    tenon = _filled(lower) ^ room.offset(0.5, JoinType.Round, 2.0, ARCS)
    half = key_half + BESIDE_KEY
    places = [_key_place(room, at, angle, half) for angle in at.key_angles]
    return Level(lower, upper, tenon, room, CrossSection.batch_boolean(places, OpType.Add))


def clearance(at: Seat, heights: list[float], key_half: float) -> Clearance:
    """Least and greatest distance between tenon and socket over heights, off the key."""
    least, greatest = math.inf, 0.0
    for height in heights:
        level = level_of(at, height, key_half)
        plain, wall = level.tenon, level.upper - level.key
        hollow = level.room - level.key
        least = min(least, _reach(plain, lambda grown, wall=wall: grown ^ wall))
        greatest = max(greatest, _reach(plain, lambda grown, room=hollow: room - grown, gone=True))
    return Clearance(least, greatest, heights[-1] - at.seam, math.nan)


def walls(at: Seat, tenon_heights: list[float], socket_heights: list[float]) -> tuple[float, float]:
    """Least distance through the tenon to its bores, and through the socket to the outside."""
    tenon, socket = math.inf, math.inf
    for height in tenon_heights:
        section = at.lower.slice(height)
        for bore in _voids(section):
            others = _without(section, bore)
            tenon = min(tenon, _reach(bore, lambda grown, solid=others: grown - solid))
    for height in socket_heights:
        section = at.upper.slice(height)
        room = _room(section, at.centre)
        others = _without(section, room)
        socket = min(socket, _reach(room, lambda grown, solid=others: grown - solid))
    return tenon, socket


def groove_lengths(at: Seat, centre: FloatArray, radius: float, count: int = 24) -> FloatArray:
    """(count,) mm, the gap left in a bore's wall, by columns 0.05 outside of its radius."""
    ends = at.seam + 0.5 * (at.tip - at.seam), at.tip + 30.0
    turns = 2.0 * math.pi * (np.arange(count) + 0.31) / count
    feet = centre + (radius + 0.05) * np.column_stack((np.cos(turns), np.sin(turns)))
    gaps = []
    for foot in feet:
        hits = [_column(solid, foot, *ends) for solid in (at.lower, at.upper)]
        gaps.append(hits[1].min() - hits[0].max())
    return np.array(gaps)


def _column(solid: Manifold, foot: FloatArray, low: float, high: float) -> FloatArray:
    """Heights between low and high at which a plumb line enters or leaves a solid."""
    made = solid.to_mesh64()
    corners = np.asarray(made.vert_properties)[:, :3][np.asarray(made.tri_verts)]
    a, b, c = (corners[:, k] for k in range(3))
    u, v, w = b - a, c - a, foot - a[:, :2]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    u, v, w, a, area = (line[np.abs(area) > 1e-12] for line in (u, v, w, a, area))
    second = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / area
    third = (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]) / area
    inside = (second >= 0.0) & (third >= 0.0) & (second + third <= 1.0)
    heights = (a[:, 2] + second * u[:, 2] + third * v[:, 2])[inside]
    between: FloatArray = heights[(heights > low) & (heights < high)]
    return between


def flattest_underside_deg(at: Seat) -> float:
    """Least slope from the level, degrees, of downward faces that lie in the socket's room.

    Faces on the bed, on which the upper piece's seam lies, are left out.
    """
    room = _room(at.upper.slice(at.seam + 0.6), at.centre).offset(0.3, JoinType.Round, 2.0, ARCS)
    flattest = 90.0
    for solid in (at.lower, at.upper):
        made = solid.to_mesh64()
        mesh = trimesh.Trimesh(
            np.asarray(made.vert_properties)[:, :3], np.asarray(made.tri_verts), process=False
        )
        top = mesh.triangles[:, :, 2].max(axis=1)
        ours = (mesh.face_normals[:, 2] < -1e-3) & (mesh.area_faces > 1e-6)
        ours &= (top > at.seam + 1e-3) & (top < at.tip + 1.5)
        ours &= mesh.triangles[:, :, 2].min(axis=1) > at.seam - 1e-3
        for face in np.flatnonzero(ours):
            footprint = mesh.triangles[face][:, :2]
            if (CrossSection([footprint[::-1]]) - room).area() < SPECK:
                slope = math.degrees(math.acos(min(1.0, -mesh.face_normals[face, 2])))
                flattest = min(flattest, slope)
    return flattest


def _reach(
    outline: CrossSection, meets: Callable[[CrossSection], CrossSection], *, gone: bool = False
) -> float:
    """By how much an outline must grow to meet something, or until nothing is left."""
    low, high = 0.0, 8.0
    while high - low > CLOSE:
        middle = (low + high) / 2.0
        left = meets(outline.offset(middle, JoinType.Round, 2.0, ARCS)).area() > SPECK
        low, high = (low, middle) if left != gone else (middle, high)
    return (low + high) / 2.0


def _filled(section: CrossSection) -> CrossSection:
    """Everything within the outer outlines."""
    return CrossSection([line for line in section.to_polygons() if _area(line) > 0.0])


def _voids(section: CrossSection) -> list[CrossSection]:
    """Each void by itself."""
    return [CrossSection([line[::-1]]) for line in section.to_polygons() if _area(line) < 0.0]


def _room(section: CrossSection, middle: FloatArray) -> CrossSection:
    """The void in which a point lies."""
    near = CrossSection.circle(1e-3, 8).translate(tuple(middle))
    found = [void for void in _voids(section) if (void ^ near).area() > 0.0]
    assert len(found) == 1, f"{len(found)} voids about the joint's middle"
    return found[0]


def _without(section: CrossSection, void: CrossSection) -> CrossSection:
    """The section with one void filled, so that growing this void finds the next surface."""
    return section + void


def _key_place(room: CrossSection, at: Seat, angle: float, half: float) -> CrossSection:
    """A disc about where the ray at a key's angle leaves the room, wide enough for the key."""
    far = 200.0 * np.array([math.cos(angle), math.sin(angle)])
    aside = 1e-3 * np.array([-far[1], far[0]]) / 200.0
    ray = CrossSection(
        [np.array([at.centre - aside, at.centre + far - aside, at.centre + far + aside])]
    )
    corners = np.vstack((ray ^ room).to_polygons())
    place = corners[np.argmax(np.linalg.norm(corners - at.centre, axis=1))]
    return CrossSection.circle(half, 90).translate(tuple(place))


def _area(line: FloatArray) -> float:
    ahead = np.roll(line, -1, axis=0)
    return float((line[:, 0] * ahead[:, 1] - line[:, 1] * ahead[:, 0]).sum()) / 2.0
