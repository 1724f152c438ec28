"""How far anything stands into the bore."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray, IntArray, Mesh, RoundSurface
from .section import band_of, cut_section

Stretch = tuple[float, float]
"""Stations from low to high."""


def stretches_outside(low: float, high: float, windows: list[Stretch]) -> list[Stretch]:
    """What windows leave of the stations from low to high."""
    left: list[Stretch] = []
    for start, stop in sorted(windows):
        if start > low:
            left.append((low, min(start, high)))
        low = max(low, stop)
    left.append((low, high))
    return [(start, stop) for start, stop in left if start < stop]


def stretches_inside(low: float, high: float, windows: list[Stretch]) -> list[Stretch]:
    """What windows take of the stations from low to high."""
    taken = [(max(start, low), min(stop, high)) for start, stop in windows]
    return [(start, stop) for start, stop in taken if start < stop]


def bore_intrusion(mesh: Mesh, bore: RoundSurface, stretches: list[Stretch]) -> float:
    """Greatest depth, mm, of any surface inside the bore's radius at its station.

    On a triangle the depth is greatest on an edge, where a plane clips it at the end of
    a stretch, or where the bore's centre line meets it. Without any surface near: minus
    the bore's radius.

    Parameters
    ----------
    mesh : in the part frame
    stretches : stations between which surfaces are looked for
    """
    return max((_intrusion_between(mesh, bore, *stretch) for stretch in stretches), default=-np.inf)


def _intrusion_between(mesh: Mesh, bore: RoundSurface, low: float, high: float) -> float:
    near = band_of(mesh, low, high)
    widest = max(bore.radius_at(low), bore.radius_at(high))
    points = near.vertices - np.array([*bore.offset, 0.0])
    a, b, c = (points[near.triangles[:, k], :2] for k in range(3))
    least, most = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    box = np.maximum(np.maximum(least, -most), 0.0)
    chosen = near.triangles[np.hypot(box[:, 0], box[:, 1]) < widest]
    return max(
        -widest,
        _depth_on_centre_line(points[chosen], bore, low, high),
        _depth_on_edges(points, chosen, bore, low, high),
        *(_depth_in_plane(Mesh(points, chosen), bore, station) for station in (low, high)),
    )


def _depth_on_centre_line(
    corners: FloatArray, bore: RoundSurface, low: float, high: float
) -> float:
    """Greatest depth where the centre line meets triangles, (k, 3, 3)."""
    ahead = np.roll(corners, -1, axis=1)
    turns = corners[:, :, 0] * ahead[:, :, 1] - corners[:, :, 1] * ahead[:, :, 0]
    met = ((turns >= 0.0).all(axis=1) | (turns <= 0.0).all(axis=1)) & (turns.sum(axis=1) != 0.0)
    opposite = np.roll(corners[met, :, 2], 1, axis=1)
    stations = (turns[met] * opposite).sum(axis=1) / turns[met].sum(axis=1)
    within = stations[(stations >= low) & (stations <= high)]
    return float(bore.radii_at(within).max(initial=-np.inf))


def _depth_in_plane(mesh: Mesh, bore: RoundSurface, station: float) -> float:
    """Greatest depth in the plane z = station."""
    ends = cut_section(mesh, station).ends
    along = ends[:, 1] - ends[:, 0]
    square = np.maximum((along**2).sum(axis=1), 1e-30)
    share = np.clip(-(ends[:, 0] * along).sum(axis=1) / square, 0.0, 1.0)
    nearest = ends[:, 0] + share[:, None] * along
    return bore.radius_at(station) - float(np.hypot(*nearest.T).min(initial=np.inf))


def _depth_on_edges(
    points: FloatArray, triangles: IntArray, bore: RoundSurface, low: float, high: float
) -> float:
    """Greatest depth on the triangles' edges, each clipped to the stretch.

    Along an edge p + t d with the nearest point to the centre line at t0, c away,
    r(t) = sqrt(c^2 + (t - t0)^2 |d|^2) in the plane, and r less the bore's radius
    is least at t0 + c k / (|d| sqrt(1 - k^2)), k = slope dz / |d|.
    """
    edges = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2).reshape(-1, 2)
    edges = edges[edges[:, 0] < edges[:, 1]]  # the neighbour runs it the other way
    heights = points[edges, 2]
    edges = edges[(np.maximum(*heights.T) >= low) & (np.minimum(*heights.T) <= high)]
    start, along = points[edges[:, 0]], points[edges[:, 1]] - points[edges[:, 0]]
    first, last = _clipped(start[:, 2], along[:, 2], low, high)
    square = np.maximum((along[:, :2] ** 2).sum(axis=1), 1e-30)
    nearest = -(start[:, :2] * along[:, :2]).sum(axis=1) / square
    closest = start[:, :2] + nearest[:, None] * along[:, :2]
    lean = np.clip(bore.slope * along[:, 2] / np.sqrt(square), -0.999, 0.999)
    shift = np.hypot(closest[:, 0], closest[:, 1]) * lean / np.sqrt((1.0 - lean**2) * square)
    depths = [-np.inf]
    for share in (first, last, np.clip(nearest + shift, first, last)):
        at = start + share[:, None] * along
        depth = bore.radii_at(at[:, 2]) - np.hypot(at[:, 0], at[:, 1])
        depths.append(float(depth.max(initial=-np.inf)))
    return max(depths)


def _clipped(
    start: FloatArray, rise: FloatArray, low: float, high: float
) -> tuple[FloatArray, FloatArray]:
    """Shares of each edge between which it lies in the stretch."""
    level = rise == 0.0
    slope = np.where(level, 1.0, rise)
    to_low = np.where(level, 0.0, (low - start) / slope)
    to_high = np.where(level, 1.0, (high - start) / slope)
    first, last = np.minimum(to_low, to_high), np.maximum(to_low, to_high)
    return np.clip(first, 0.0, 1.0), np.clip(last, 0.0, 1.0)
