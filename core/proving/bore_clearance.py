"""How far anything stands into the bore."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ..meshes.angles import plane_lengths
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

    See `bore_intrusions`.
    """
    return bore_intrusions(mesh, bore, [stretches])[0]


def bore_intrusions(
    mesh: Mesh, bore: RoundSurface, kinds: Sequence[list[Stretch]]
) -> tuple[float, ...]:
    """Greatest depth, mm, of any surface inside the bore's radius at its station, by kind.

    On a triangle the depth is greatest on an edge, where a plane clips it at the end of
    a stretch, or where the bore's centre line meets it. Without any surface near: minus
    the bore's radius; without stretches of a kind, minus infinity.

    Parameters
    ----------
    mesh : in the part frame
    kinds : stations between which surfaces are looked for; of different kinds they may
        touch, and not overlap
    """
    windows, kind = _of_kinds(kinds)
    if not len(windows):
        return (-np.inf,) * len(kinds)
    near = _near_windows(mesh, bore, windows)
    points = near.vertices - np.array([*bore.offset, 0.0])
    found = [
        (-bore.radii_at(windows.ravel()), kind.repeat(2)),
        _depth_on_centre_line(points[near.triangles], bore, windows, kind),
        _depth_on_edges(points, near.triangles, bore, windows, kind),
        _depth_in_planes(Mesh(points, near.triangles), bore, windows, kind),
    ]
    depths, kind = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return tuple(float(depths[kind == k].max(initial=-np.inf)) for k in range(len(kinds)))


def _of_kinds(kinds: Sequence[list[Stretch]]) -> tuple[FloatArray, IntArray]:
    """(w, 2) the windows of all kinds, ascending, and (w,) the kind of each."""
    each = [_merged(stretches) for stretches in kinds]
    windows, kind = np.vstack(each), np.arange(len(kinds)).repeat([len(one) for one in each])
    order = np.lexsort((windows[:, 1], windows[:, 0]))
    windows, kind = windows[order], kind[order]
    assert (windows[1:, 0] >= windows[:-1, 1]).all()
    return windows, kind


def near_bore(mesh: Mesh, bore: RoundSurface, stretches: list[Stretch]) -> Mesh:
    """The triangles that could stand into the bore in a stretch, others left out.

    In few passes over the whole mesh, however many stretches there are.
    """
    return _near_windows(mesh, bore, _merged(stretches))


def _near_windows(mesh: Mesh, bore: RoundSurface, windows: FloatArray) -> Mesh:
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


_Depths = tuple[FloatArray, IntArray]
"""(d,) mm, and which kind of window each is of."""


def _depth_on_centre_line(
    corners: FloatArray, bore: RoundSurface, windows: FloatArray, kind: IntArray
) -> _Depths:
    """Depths where the centre line meets triangles, (k, 3, 3)."""
    x, y, z = corners.T
    turns = np.stack([x[k] * y[k - 2] - y[k] * x[k - 2] for k in range(3)])
    met = ((turns >= 0.0).all(axis=0) | (turns <= 0.0).all(axis=0)) & (turns.sum(axis=0) != 0.0)
    turns = turns[:, met]
    stations = (turns * z[:, met][[2, 0, 1]]).sum(axis=0) / turns.sum(axis=0)
    begun, ended = _windows_passed(windows, stations)
    which, window = _each_window(begun, ended)
    return bore.radii_at(stations[which]), kind[window]


def _each_window(begun: Counts, ended: Counts) -> tuple[IntArray, IntArray]:
    """Every window that each stretch of stations meets, one after another: which, and window.

    begun, ended : windows that have begun at its high end, and ended before its low one
    """
    count = np.maximum(begun.astype(np.int64) - ended, 0)
    which = np.arange(len(count)).repeat(count)
    return which, np.arange(len(which)) + (ended - (np.cumsum(count) - count)).repeat(count)


def _depth_in_planes(
    mesh: Mesh, bore: RoundSurface, windows: FloatArray, kind: IntArray
) -> _Depths:
    """Depths in the planes at the windows' ends."""
    stations = windows.ravel()
    cut = cut_segments(mesh, stations)
    (x, y), (dx, dy) = cut.starts.T, (cut.stops - cut.starts).T
    square = np.maximum(dx * dx + dy * dy, 1e-30)
    share = np.clip(-(x * dx + y * dy) / square, 0.0, 1.0)
    nearest = plane_lengths(x + share * dx, y + share * dy)
    return bore.radii_at(stations)[cut.level] - nearest, kind.repeat(2)[cut.level]


def _depth_on_edges(
    points: FloatArray, triangles: IntArray, bore: RoundSurface, windows: FloatArray, kind: IntArray
) -> _Depths:
    """Depths on the triangles' edges, each clipped to the windows that it passes.

    Along an edge p + t d with the nearest point to the centre line at t0, c away,
    r(t) = sqrt(c^2 + (t - t0)^2 |d|^2) in the plane, and r less the bore's radius
    is least at t0 + c k / (|d| sqrt(1 - k^2)), k = slope dz / |d|.
    """
    start, end = triangles.ravel(), triangles[:, [1, 2, 0]].ravel()
    once = np.flatnonzero(start < end)  # the neighbour runs it the other way
    first, last = (points.take(ends.take(once), axis=0).T for ends in (start, end))
    begun = _windows_passed(windows, np.maximum(first[2], last[2]))[0]
    ended = _windows_passed(windows, np.minimum(first[2], last[2]))[1]
    which, window = _each_window(begun, ended)
    x, y, z = first.take(which, axis=1)
    dx, dy, dz = (last - first).take(which, axis=1)
    low, high = _clipped(z, dz, *windows.T.take(window, axis=1))
    square = np.maximum(dx * dx + dy * dy, 1e-30)
    nearest = -(x * dx + y * dy) / square
    lean = np.clip(bore.slope * dz / np.sqrt(square), -0.999, 0.999)
    apart = plane_lengths(x + nearest * dx, y + nearest * dy)
    shift = apart * lean / np.sqrt((1.0 - lean**2) * square)
    depths = []
    for share in (low, high, np.clip(nearest + shift, low, high)):
        out = plane_lengths(x + share * dx, y + share * dy)
        depths.append(bore.radii_at(z + share * dz) - out)
    return np.maximum.reduce(depths), kind[window]


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
