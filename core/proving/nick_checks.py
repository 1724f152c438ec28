"""What a witness nick leaves between its floor and the joint below, measured on the piece."""

from __future__ import annotations

import numpy as np

from ..values import BoolArray, Check, FloatArray, Mesh, Settings
from .joint_checks import FinishedTenon
from .piece_checks import ROUNDING
from .verdicts import at_least

_UNDER_SHOULDER = 0.05
"""From how far under the seam, mm, a corner near the tenon's outline is one of a nick."""

_LOOKS_DOWN = 0.1
"""Least share of a normal that points down, of a face that is a roof or a level underside."""


def nick_checks(made: FinishedTenon, reached: float, settings: Settings) -> list[Check]:
    """The wall between the nicks in a shoulder and what is open below them.

    Parameters
    ----------
    reached : station up to which the joint below reaches, or the part's low end
    """
    if not made.tenon.marks:
        return []
    wall = _nearest(_nick_corners(made), _faces_down(made.lower, reached + ROUNDING))
    return [at_least("nick_floor", wall, settings.least_wall, joint=made.number)]


def _nick_corners(made: FinishedTenon) -> FloatArray:
    """(n, 3) mm, the corners of all nicks, but for those in the shoulder itself."""
    tenon, vertices = made.tenon, made.lower.vertices
    depth = max(mark.depth for mark in tenon.marks)
    z = vertices[:, 2]
    near = vertices[(z > tenon.station - depth - ROUNDING) & (z < tenon.station - _UNDER_SHOULDER)]
    u = made.shape.parameters(near[:, :2])
    beside: BoolArray = np.abs(u - tenon.tenon_radius - depth / 2.0) < depth / 2.0 + ROUNDING
    corners: FloatArray = near[beside]
    return corners


def _faces_down(mesh: Mesh, top: float) -> FloatArray:
    """(m, 3, 3) mm, the triangles that lie no higher than a station and look down."""
    low = (mesh.vertices[:, 2] <= top)[mesh.triangles].all(axis=1)
    corners = mesh.vertices[mesh.triangles[low]]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    down: FloatArray = corners[-normals[:, 2] > _LOOKS_DOWN * size]
    return down


def _nearest(points: FloatArray, triangles: FloatArray) -> float:
    """The least distance, mm, from points to triangles; infinite where there are none."""
    ends = [(triangles[:, k], triangles[:, (k + 1) % 3]) for k in range(3)]
    edges = min(_to_edges(points, *pair).min(initial=np.inf) for pair in ends)
    return float(min(edges, _to_planes(points, triangles).min(initial=np.inf)))


def _to_edges(points: FloatArray, starts: FloatArray, stops: FloatArray) -> FloatArray:
    """(n, m) mm, from each point to each edge."""
    along = stops - starts
    arms = points[:, None] - starts
    square = np.maximum((along**2).sum(axis=1), 1e-30)
    share = np.clip((arms * along).sum(axis=2) / square, 0.0, 1.0)
    distances: FloatArray = np.linalg.norm(arms - share[..., None] * along, axis=2)
    return distances


def _to_planes(points: FloatArray, triangles: FloatArray) -> FloatArray:
    """(n, m) mm, from each point to each triangle's plane; infinite where its foot lies outside."""
    first = triangles[:, 0]
    one, other = triangles[:, 1] - first, triangles[:, 2] - first
    normals = np.cross(one, other)
    square = np.maximum((normals**2).sum(axis=1), 1e-30)
    arms = points[:, None] - first
    shares = [
        (np.cross(arms, other) * normals).sum(axis=2) / square,
        (np.cross(one, arms) * normals).sum(axis=2) / square,
    ]
    inside = (shares[0] >= 0.0) & (shares[1] >= 0.0) & (shares[0] + shares[1] <= 1.0)
    heights = np.abs((arms * normals).sum(axis=2)) / np.sqrt(square)
    return np.where(inside, heights, np.inf)
