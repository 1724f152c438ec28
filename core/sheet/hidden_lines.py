"""The edges of a mesh that can be seen from one direction.

Edges are those at which faces meet at an angle, and outlines, where one face is turned to the
eye and its neighbour away. What hides them is found from the depth of the nearest face at
every pixel of a fine grid, filled row by row (a depth buffer, as of Catmull 1974).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.half_edges import pair_edges
from ..meshes.mesh_checks import triangle_normals, weld
from ..values import BoolArray, FloatArray, IntArray, Mesh

_SHARP = math.cos(math.radians(28.0))
"""Cosine of the angle between two faces from which their edge is drawn."""

_BIAS = 0.5
"""Of a pixel's width: nearer to the nearest face than this, a point is on it."""


@dataclass(frozen=True, slots=True)
class Eye:
    """From where a part is seen, far away. Angles are radians.

    azimuth : about the axis, of the side that is seen
    elevation : over the horizon
    """

    azimuth: float
    elevation: float

    def seen(self, points: FloatArray) -> FloatArray:
        """(n, 3) mm: to the right, up, and toward the eye."""
        cosine, sine = math.cos(self.azimuth), math.sin(self.azimuth)
        rise, level = math.sin(self.elevation), math.cos(self.elevation)
        rows = np.array(
            [
                [-sine, cosine, 0.0],
                [-cosine * rise, -sine * rise, level],
                [cosine * level, sine * level, rise],
            ]
        )
        turned: FloatArray = points @ rows.T
        return turned


def visible_edges(mesh: Mesh, eye: Eye, pixel: float) -> FloatArray:
    """What is seen of a mesh's edges: (n, 2, 2) mm to the right and up, ends of straight runs.

    Parameters
    ----------
    pixel : mm, of the grid; ends and what hides them are known to about so much
    """
    sound = weld(mesh)
    seen = eye.seen(sound.vertices)
    facing, edges = _drawn_edges(seen, sound.triangles)
    corner = seen[:, :2].min(axis=0) - 2.0 * pixel
    grid = (seen - [*corner, 0.0]) / pixel
    depths = _depths(grid[sound.triangles[facing]], np.ceil(grid[:, :2].max(axis=0)) + 3.0)
    runs: FloatArray = _visible_runs(grid[edges], depths) * pixel + corner
    return runs


def _drawn_edges(seen: FloatArray, triangles: IntArray) -> tuple[BoolArray, IntArray]:
    """(m,) which triangles face the eye, and (e, 2) the edges drawn where nothing hides them."""
    x, y, z = triangle_normals(Mesh(seen, triangles))[0].T
    facing: BoolArray = z > 0.0
    paired = pair_edges(triangles, len(seen))
    if paired is None:
        return facing, np.empty((0, 2), np.int64)
    twins = paired.twins()
    half = np.flatnonzero(twins > np.arange(len(twins)))
    half = half[facing[half // 3] | facing[twins[half] // 3]]
    one, other = half // 3, twins[half] // 3
    folded = x[one] * x[other] + y[one] * y[other] + z[one] * z[other] < _SHARP
    drawn = half[folded | (facing[one] != facing[other])]
    ahead = np.roll(triangles, -1, axis=1)
    return facing, np.column_stack([triangles.ravel()[drawn], ahead.ravel()[drawn]])


def _depths(corners: FloatArray, size: FloatArray) -> FloatArray:
    """The depth of the nearest triangle at the middle of every pixel; -inf where there is none.

    Parameters
    ----------
    corners : (m, 3, 3) of triangles that face the eye; x and y in pixels
    size : (2,) of the grid
    """
    width, height = (int(length) for length in size)
    depths = np.full(width * height, -np.inf)
    triangle, row, left, right = _row_spans(corners)
    span, column = _counted(left, right)
    zero, across, up = _slopes(corners)
    start = zero[triangle] + up[triangle] * (row + 0.5)
    depth = start[span] + across[triangle][span] * (column + 0.5)
    np.maximum.at(depths, (row * width)[span] + column, depth)
    return depths.reshape(height, width)


def _counted(low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray]:
    """For each pixel whose middle lies between two bounds: whose bounds, and which pixel."""
    first = np.ceil(low - 0.5).astype(np.int64)
    counts = np.maximum(np.ceil(high - 0.5).astype(np.int64) - first, 0)
    owner = np.repeat(np.arange(len(low)), counts)
    ahead = first - (np.cumsum(counts) - counts)
    return owner, np.arange(len(owner)) + ahead[owner]


def _row_spans(corners: FloatArray) -> tuple[IntArray, IntArray, FloatArray, FloatArray]:
    """Whose span, on which row, from where to where: along the level middles of all rows.

    A triangle's long side goes up from its lowest corner to its highest, two short ones by the
    third; each row meets the long one and, under the third corner or over it, one of the short.
    """
    order = corners[..., 1].argsort(axis=1)[..., None]
    (x, y), count = np.take_along_axis(corners, order, axis=1)[..., :2].T, len(corners)
    starts, stops = [0, 0, 1], [2, 1, 2]
    rise = y[stops] - y[starts]
    slopes = (x[stops] - x[starts]) / np.where(rise > 0.0, rise, np.inf)
    owner, row = _counted(y[0], y[2])
    middle = row + 0.5
    long = x[0, owner] + (middle - y[0, owner]) * slopes[0, owner]
    side = owner + np.where(middle < y[1, owner], 0, count)
    short = x[:2].ravel()[side] + (middle - y[:2].ravel()[side]) * slopes[1:].ravel()[side]
    return owner, row, np.minimum(long, short), np.maximum(long, short)


def _slopes(corners: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Depth of each triangle's plane at zero, and by how much it grows to the right and up."""
    x, y, z = corners[:, 0].T
    (right, up, near), (right_2, up_2, near_2) = (corners[:, k].T - corners[:, 0].T for k in (1, 2))
    turned = right * up_2 - up * right_2
    turned = np.where(turned == 0.0, np.inf, turned)
    across = (near * up_2 - up * near_2) / turned
    upward = (right * near_2 - near * right_2) / turned
    return z - across * x - upward * y, across, upward


def _visible_runs(ends: FloatArray, depths: FloatArray) -> FloatArray:
    """(n, 2, 2) pixels, the runs of edges, (e, 2, 3), that nothing lies before."""
    lengths = np.hypot(*(ends[:, 1, :2] - ends[:, 0, :2]).T)
    counts = np.ceil(lengths).astype(np.int64) + 1
    edge = np.repeat(np.arange(len(ends)), counts)
    within = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (within + 0.5) / counts[edge]
    points = ends[edge, 0] + share[:, None] * (ends[edge, 1] - ends[edge, 0])
    seen = np.concatenate([[False], _is_seen(points, depths), [False]])
    fresh = np.concatenate([[True], edge[1:] != edge[:-1], [True]])
    begins = seen[1:] & (~seen[:-1] | fresh)
    stops = seen[:-1] & (~seen[1:] | fresh)
    first, last = np.flatnonzero(begins[:-1]), np.flatnonzero(stops[1:])
    steps = counts[edge[first]]
    low, high = within[first] / steps, (within[last] + 1) / steps
    start, run = ends[edge[first], 0, :2], (ends[edge[first], 1] - ends[edge[first], 0])[:, :2]
    runs: FloatArray = start[:, None] + np.stack([low, high], axis=1)[..., None] * run[:, None]
    return runs


def _is_seen(points: FloatArray, depths: FloatArray) -> BoolArray:
    """Whether points are as near as the farthest of the nearest faces about them."""
    column, row = points[:, 0].astype(np.int64), points[:, 1].astype(np.int64)
    around = [depths[row + down, column + over] for down in (-1, 0, 1) for over in (-1, 0, 1)]
    seen: BoolArray = points[:, 2] >= np.min(around, axis=0) - _BIAS
    return seen
