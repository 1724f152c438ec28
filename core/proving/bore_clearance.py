"""How far anything stands into the bore."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ..meshes.mesh_checks import compact
from ..values import FloatArray, IntArray, Mesh, RoundSurface
from .section import cut_segments

Value = TypeVar("Value", np.float64, np.int16)

Counts = NDArray[np.int16]
"""Of windows: small numbers are gathered sooner."""

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
    windows = _merged(stretches)
    if not len(windows):
        return -np.inf
    near = near_bore(mesh, bore, stretches)
    points = near.vertices - np.array([*bore.offset, 0.0])
    return max(
        -float(bore.radii_at(windows.ravel()).max()),
        _depth_on_centre_line(points[near.triangles], bore, windows),
        _depth_on_edges(points, near.triangles, bore, windows),
        _depth_in_planes(Mesh(points, near.triangles), bore, windows),
    )


def near_bore(mesh: Mesh, bore: RoundSurface, stretches: list[Stretch]) -> Mesh:
    """The triangles that could stand into the bore in a stretch, others left out.

    In few passes over the whole mesh, however many stretches there are.
    """
    windows = _merged(stretches)
    corners = [np.ascontiguousarray(mesh.triangles[:, k]) for k in range(3)]
    begun, ended = _windows_passed(windows, mesh.vertices[:, 2])
    most = _folded(np.maximum, [begun[corner] for corner in corners])
    least = _folded(np.minimum, [ended[corner] for corner in corners])
    reached = np.flatnonzero(most > least)
    square = np.zeros(len(reached))
    for axis in range(2):
        line = mesh.vertices[:, axis] - bore.offset[axis]
        ends = [line[corner[reached]] for corner in corners]
        outside = np.maximum(_folded(np.minimum, ends), -_folded(np.maximum, ends))
        square += np.maximum(outside, 0.0) ** 2
    widest = bore.radii_at(windows.ravel()).max(initial=0.0)
    return compact(mesh.vertices, mesh.triangles[reached[square < widest**2]])


def _merged(stretches: list[Stretch]) -> FloatArray:
    """(w, 2) stretches that overlap made one, ascending."""
    windows: list[list[float]] = []
    for low, high in sorted(stretches):
        if windows and low <= windows[-1][1]:
            windows[-1][1] = max(windows[-1][1], high)
        else:
            windows.append([low, high])
    return np.array(windows).reshape(-1, 2)


def _folded(of_two: np.ufunc, three: list[NDArray[Value]]) -> NDArray[Value]:
    """(m,) least or greatest of three columns; a reduction would copy them together first."""
    folded: NDArray[Value] = of_two(of_two(three[0], three[1]), three[2])
    return folded


def _windows_passed(windows: FloatArray, stations: FloatArray) -> tuple[Counts, Counts]:
    """(n,), (n,) how many windows have begun at each station, and how many ended before it."""
    assert len(windows) < np.iinfo(np.int16).max
    begun = np.searchsorted(windows[:, 0], stations, "right").astype(np.int16)
    return begun, np.searchsorted(windows[:, 1], stations, "left").astype(np.int16)


def _depth_on_centre_line(corners: FloatArray, bore: RoundSurface, windows: FloatArray) -> float:
    """Greatest depth where the centre line meets triangles, (k, 3, 3)."""
    ahead = np.roll(corners, -1, axis=1)
    turns = corners[:, :, 0] * ahead[:, :, 1] - corners[:, :, 1] * ahead[:, :, 0]
    met = ((turns >= 0.0).all(axis=1) | (turns <= 0.0).all(axis=1)) & (turns.sum(axis=1) != 0.0)
    opposite = np.roll(corners[met, :, 2], 1, axis=1)
    stations = (turns[met] * opposite).sum(axis=1) / turns[met].sum(axis=1)
    begun, ended = _windows_passed(windows, stations)
    within = stations[begun > ended]
    return float(bore.radii_at(within).max(initial=-np.inf))


def _depth_in_planes(mesh: Mesh, bore: RoundSurface, windows: FloatArray) -> float:
    """Greatest depth in the planes at the windows' ends."""
    stations = windows.ravel()
    cut = cut_segments(mesh, stations)
    along = cut.stops - cut.starts
    square = np.maximum((along**2).sum(axis=1), 1e-30)
    share = np.clip(-(cut.starts * along).sum(axis=1) / square, 0.0, 1.0)
    nearest = cut.starts + share[:, None] * along
    depths = bore.radii_at(stations)[cut.level] - np.hypot(nearest[:, 0], nearest[:, 1])
    return float(depths.max(initial=-np.inf))


def _depth_on_edges(
    points: FloatArray, triangles: IntArray, bore: RoundSurface, windows: FloatArray
) -> float:
    """Greatest depth on the triangles' edges, each clipped to the windows that it passes.

    Along an edge p + t d with the nearest point to the centre line at t0, c away,
    r(t) = sqrt(c^2 + (t - t0)^2 |d|^2) in the plane, and r less the bore's radius
    is least at t0 + c k / (|d| sqrt(1 - k^2)), k = slope dz / |d|.
    """
    edges = np.stack([triangles, np.roll(triangles, -1, axis=1)], axis=2).reshape(-1, 2)
    edges = edges[edges[:, 0] < edges[:, 1]]  # the neighbour runs it the other way
    heights = points[edges, 2]
    begun = _windows_passed(windows, np.maximum(*heights.T))[0]
    ended = _windows_passed(windows, np.minimum(*heights.T))[1]
    count = np.maximum(begun.astype(np.int64) - ended, 0)
    edges = np.repeat(edges, count, axis=0)
    window = np.arange(len(edges)) + np.repeat(ended - (np.cumsum(count) - count), count)
    start, along = points[edges[:, 0]], points[edges[:, 1]] - points[edges[:, 0]]
    first, last = _clipped(start[:, 2], along[:, 2], *windows[window].T)
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
    start: FloatArray, rise: FloatArray, low: FloatArray, high: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Shares of each edge between which it lies in its window."""
    level = rise == 0.0
    slope = np.where(level, 1.0, rise)
    to_low = np.where(level, 0.0, (low - start) / slope)
    to_high = np.where(level, 1.0, (high - start) / slope)
    first, last = np.minimum(to_low, to_high), np.maximum(to_low, to_high)
    return np.clip(first, 0.0, 1.0), np.clip(last, 0.0, 1.0)
