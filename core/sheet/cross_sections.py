"""Sections of finished pieces in their places, the lines that hatch them, and what a window shows.

A section along the axis has its points at (across, station), one across it at (x, y) of the
part frame. Outlines are closed, (n, 2) mm each.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..meshes.plane_sections import cut_sections
from ..values import FloatArray, Mesh

Loops = tuple[FloatArray, ...]

_STRAIGHT = 1e-3
"""mm, by which a point may lie off the line of its neighbours to be left out."""


@dataclass(frozen=True, slots=True)
class Plane:
    """An upright plane. Across is counted along it from where it is nearest to the axis.

    angle : radians, of the side at +across
    offset : mm, by which the axis lies to the right of it, seen along that angle
    """

    angle: float
    offset: float = 0.0

    def across(self, x: float, y: float) -> float:
        """How far along the plane a point lies, mm."""
        return x * math.cos(self.angle) + y * math.sin(self.angle)

    def beyond(self, x: float, y: float) -> float:
        """How far a point lies behind the plane, to its left along the angle, mm."""
        return y * math.cos(self.angle) - x * math.sin(self.angle) - self.offset


@dataclass(frozen=True, slots=True)
class Window:
    """A rectangle of a section: nothing outside of it is drawn. mm of the part."""

    left: float
    right: float
    low: float
    high: float


def section_along(mesh: Mesh, plane: Plane) -> Loops:
    """Outlines in an upright plane, (n, 2) across and station each, seen from its right."""
    cosine, sine = math.cos(plane.angle), math.sin(plane.angle)
    x, y, z = (np.ascontiguousarray(column) for column in mesh.vertices.T)
    columns = [z, cosine * x + sine * y, cosine * y - sine * x - plane.offset]
    return tuple(np.ascontiguousarray(loop[:, ::-1]) for loop in _loops(columns, mesh))


def section_across(mesh: Mesh, station: float) -> Loops:
    """Outlines in the plane across the axis at a station."""
    x, y, z = (np.ascontiguousarray(column) for column in mesh.vertices.T)
    return _loops([x, y, z - station], mesh)


def _loops(columns: list[FloatArray], mesh: Mesh) -> Loops:
    cut = cut_sections(columns, mesh.triangles, np.zeros(1))
    following, starts = cut.following.tolist(), cut.starts
    loops = []
    for first in np.unique(cut.outline, return_index=True)[1].tolist():
        order = [first]
        while (ahead := following[order[-1]]) != first:
            order.append(ahead)
        loops.append(_without_straight(starts[order]))
    return tuple(loop for loop in loops if len(loop) > 2)


def _without_straight(loop: FloatArray) -> FloatArray:
    """The loop without points that lie on the line between their neighbours."""
    apart = np.hypot(*(loop - np.roll(loop, 1, axis=0)).T) > _STRAIGHT
    loop = loop[apart]
    while len(loop) > 2:
        before, ahead = loop - np.roll(loop, 1, axis=0), np.roll(loop, -1, axis=0) - loop
        turned = np.abs(before[:, 0] * ahead[:, 1] - before[:, 1] * ahead[:, 0])
        chord = np.maximum(np.hypot(*(before + ahead).T), _STRAIGHT)
        straight = turned / chord < _STRAIGHT
        straight[1:] &= ~straight[:-1]  # of two neighbours one stays, to be judged anew
        if not straight.any():
            break
        loop = loop[~straight]
    return loop


def hatch_lines(loops: Sequence[FloatArray], spacing: float, lean: float) -> FloatArray:
    """Parallel lines at 45 degrees within outlines, what is void in them left out.

    Parameters
    ----------
    spacing : mm, between the lines
    lean : 1 for lines that rise to the right, -1 for lines that fall

    Returns
    -------
    (n, 2, 2) mm, their ends
    """
    if not loops:
        return np.empty((0, 2, 2))
    starts = np.concatenate(loops)
    ends = np.concatenate([np.roll(loop, -1, axis=0) for loop in loops])
    step = spacing * math.sqrt(2.0)
    first, last = ((p[:, 1] - lean * p[:, 0]) / step for p in (starts, ends))
    low, high = np.ceil(np.minimum(first, last)), np.ceil(np.maximum(first, last))
    counts = (high - low).astype(np.int64)  # levels met: from the lower end, not the upper
    side = np.repeat(np.arange(len(starts)), counts)
    within = np.arange(len(side)) - np.repeat(np.cumsum(counts) - counts, counts)
    level = low[side] + within
    share = (level - first[side]) / (last - first)[side]
    points = starts[side] + share[:, None] * (ends - starts)[side]
    order = np.lexsort((points[:, 0], level))
    hatched: FloatArray = points[order].reshape(-1, 2, 2)
    return hatched


def sides_of(loop: FloatArray) -> FloatArray:
    """(n, 2, 2), the sides of an outline."""
    sides: FloatArray = np.stack([loop, np.roll(loop, -1, axis=0)], axis=1)
    return sides


def clipped(segments: FloatArray, window: Window) -> FloatArray:
    """What of segments, (n, 2, 2), lies in a window; after Liang and Barsky (1984)."""
    start, run = segments[:, 0], segments[:, 1] - segments[:, 0]
    enter, leave = np.zeros(len(run)), np.ones(len(run))
    kept = np.ones(len(run), bool)
    for axis, low, high in ((0, window.left, window.right), (1, window.low, window.high)):
        level = run[:, axis] == 0.0
        safe = np.where(level, 1.0, run[:, axis])
        shares = np.sort(np.stack([low - start[:, axis], high - start[:, axis]]) / safe, axis=0)
        enter = np.where(level, enter, np.maximum(enter, shares[0]))
        leave = np.where(level, leave, np.minimum(leave, shares[1]))
        kept &= ~level | ((start[:, axis] >= low) & (start[:, axis] <= high))
    kept &= enter < leave
    shares = np.stack([enter, leave], axis=1)[kept]
    inside: FloatArray = start[kept, None] + shares[:, :, None] * run[kept, None]
    return inside


def enclosed_area(loops: Sequence[FloatArray]) -> float:
    """Area, mm2, within outlines less what is void in them."""
    ahead = [np.roll(loop, -1, axis=0) for loop in loops]
    doubled = [p[:, 0] @ q[:, 1] - p[:, 1] @ q[:, 0] for p, q in zip(loops, ahead, strict=True)]
    return abs(float(sum(doubled))) / 2.0
