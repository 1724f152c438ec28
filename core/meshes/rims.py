"""The rims of tears: closed walks along the open edges of a surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import BadMesh
from ..values import FloatArray, IntArray, Mesh
from .cracks import open_half_edges
from .half_edges import next_side
from .places import bad_mesh, counted

MOST_EDGES = 64
"""A rim of more edges is no small tear."""

_MOST_OPEN = 20_000
"""Open edges past which the rims are not even followed."""

_FACING = 40.0
"""How many times their size two tears may lie apart and still be the two mouths of a
bore, or of a side hole, whose wall is missing. The longest bores are some 30 diameters."""


_AGAINST = -0.9
"""Cosine under which a face looks the other way than a patch."""


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """The edge of a tear, in the sense that the triangles which close it run it.

    vertices : (k,) int
    points : (k, 3) mm
    normal : unit, of its plane, outward
    """

    vertices: IntArray
    points: FloatArray
    normal: FloatArray

    @property
    def middle(self) -> FloatArray:
        """Mean of its points."""
        mean: FloatArray = self.points.mean(axis=0)
        return mean

    @property
    def size(self) -> float:
        """The greatest distance, mm, of two of its points."""
        return float(np.linalg.norm(self.points[:, None] - self.points[None], axis=2).max())


def check_few_open(mesh: Mesh) -> None:
    """There are no more open edges than it makes sense to follow.

    Raises
    ------
    BadMesh : with places
    """
    flat, half_edges = mesh.triangles.ravel(), open_half_edges(mesh.triangles)
    if len(half_edges) > _MOST_OPEN:
        start, end = mesh.vertices[flat[half_edges]], mesh.vertices[flat[next_side(half_edges)]]
        middles = (start + end) / 2.0
        raise bad_mesh(
            f"{len(middles)} open edges",
            middles,
            f"{_MOST_OPEN} at the most, around small tears: a closed mesh",
            "close the surface there and run again",
        )


def find_rims(mesh: Mesh, open_edges: IntArray) -> list[Rim]:
    """The rims of all tears, each passing any vertex once; refused where one is large."""
    flat = mesh.triangles.ravel()
    start = flat[open_edges]
    end = flat[next_side(open_edges)]
    rim = np.unique(start)
    rim = rim[np.lexsort(mesh.vertices[rim].T[::-1])]
    rank = np.empty(len(mesh.vertices), np.int64)
    rank[rim] = np.arange(len(rim))
    loops = [rim[loop] for loop in _loops(rank[end], rank[start])]
    large = [mesh.vertices[loop] for loop in loops if len(loop) > MOST_EDGES]
    if large:
        across = max(float(np.linalg.norm(np.ptp(points, axis=0))) for points in large)
        middles = np.array([points.mean(axis=0) for points in large])
        raise _large([len(points) for points in large], across, middles)
    return [_measured(mesh.vertices, loop) for loop in loops]


def _large(edges: list[int], across: float, places: FloatArray) -> BadMesh:
    return bad_mesh(
        f"{counted(len(edges), 'tear', 'tears')} of "
        f"{', '.join(map(str, edges[:5]))} open edges, {across:.2f} mm across",
        places,
        f"tears of at most {MOST_EDGES} edges: a closed mesh",
        "close the tear there and run again",
    )


def _loops(start: IntArray, end: IntArray) -> list[list[int]]:
    """Closed walks along the edges that pass no vertex twice, each from its least vertex."""
    onward: dict[int, list[int]] = {}
    for a, b in sorted(zip(start.tolist(), end.tolist(), strict=True), reverse=True):
        onward.setdefault(a, []).append(b)
    loops = []
    for first in sorted(onward):
        walk, at = [first], {first: 0}
        while onward[walk[-1]]:
            vertex = onward[walk[-1]].pop()
            if vertex in at:
                loop = walk[at[vertex] :]
                least = loop.index(min(loop))
                loops.append(loop[least:] + loop[:least])
                for passed in loop[1:]:
                    del at[passed]
                walk = walk[: at[vertex] + 1]
            else:
                at[vertex] = len(walk)
                walk.append(vertex)
    return sorted(loops)


def _measured(vertices: FloatArray, loop: IntArray) -> Rim:
    points = vertices[loop]
    arms = points - points[0]
    area = np.cross(arms, np.roll(arms, -1, axis=0)).sum(axis=0) / 2.0
    length = float(np.linalg.norm(area))
    return Rim(loop, points, area / max(length, 1e-300))


def check_apart(rims: list[Rim]) -> None:
    """No two tears may be the mouths of a bore or hole whose wall is missing.

    Two such face away from each other with the solid between, or lie within one
    another, on one line. A triangle alone is no mouth.
    """
    rims = [rim for rim in rims if len(rim.vertices) > 3]
    if not rims:
        return
    middles = np.array([rim.middle for rim in rims])
    normals = np.array([rim.normal for rim in rims])
    sizes = np.array([rim.size for rim in rims])
    for k in range(len(rims)):
        way = middles - middles[k]
        along = way @ normals[k]
        aside = np.linalg.norm(way - along[:, None] * normals[k], axis=1)
        reach = (sizes + sizes[k]) / 2.0
        distance = np.linalg.norm(way, axis=1)
        facing = (normals @ normals[k] < -0.3) & (aside < reach) & (distance < _FACING * reach)
        facing &= (along < 0.0) | (distance < reach)
        if facing.any():
            chosen = np.append(np.flatnonzero(facing), k)
            raise bad_mesh(
                f"{len(chosen)} tears of up to {sizes[chosen].max():.2f} mm across that face "
                "away from each other; the wall of a bore or hole between them may be missing",
                middles[chosen],
                "tears that lie apart",
                "close the tears there and run again",
            )


def check_unfolded(mesh: Mesh, open_edges: IntArray, rims: list[Rim]) -> None:
    """No tear may be closed by a patch that lies on the faces around it.

    Where the wall between two ends is missing, their faces look the other way than a
    patch over them would: together they would be a fold, and the part another one.
    """
    flat = mesh.triangles.ravel()
    start, end = flat[open_edges], flat[next_side(open_edges)]
    order = np.argsort(start * len(mesh.vertices) + end)
    keys = (start * len(mesh.vertices) + end)[order]
    faces = mesh.vertices[mesh.triangles[open_edges[order] // 3]]
    normals = np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0])
    normals /= np.maximum(np.linalg.norm(normals, axis=1), 1e-300)[:, None]
    folded = [rim for rim in rims if _is_fold(rim, normals, keys, len(mesh.vertices))]
    if folded:
        raise bad_mesh(
            f"{counted(len(folded), 'tear', 'tears')} of up to "
            f"{max(rim.size for rim in folded):.2f} mm across, which a patch would close by a fold "
            "onto the faces beside it; the wall between may be missing",
            np.array([rim.middle for rim in folded]),
            "tears within one surface",
            "close the tears there and run again",
        )


def _is_fold(rim: Rim, normals: FloatArray, keys: IntArray, count: int) -> bool:
    """Whether along most of a rim the faces look the other way than its patch."""
    onward = np.roll(rim.vertices, -1)
    found = np.searchsorted(keys, onward * count + rim.vertices)
    lengths = np.linalg.norm(np.roll(rim.points, -1, axis=0) - rim.points, axis=1)
    against = normals[found] @ rim.normal < _AGAINST
    return bool(lengths[against].sum() > lengths.sum() / 2.0)
