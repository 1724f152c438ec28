"""Small tears in a surface, closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import BadMesh
from ..values import FloatArray, IntArray, Mesh
from .cracks import open_half_edges
from .ear_clipping import Triple, clip_ears
from .half_edges import next_side
from .places import bad_mesh, counted, where

MOST_EDGES = 64
"""A rim of more edges is no small tear."""

_MOST_OPEN = 20_000
"""Open edges past which the rims are not even followed."""

_FACING = 40.0
"""How many times their size two tears may lie apart and still be the two mouths of a
bore, or of a side hole, whose wall is missing. The longest bores are some 30 diameters."""


@dataclass(frozen=True, slots=True)
class Tear:
    """A hole in the surface that was closed.

    place : (x, y, z) mm, the middle of its rim
    size : mm, between the two points of its rim that lie farthest apart
    edges : of its rim
    flatness : mm, the farthest that a point of its rim lies off their plane
    """

    place: tuple[float, float, float]
    size: float
    edges: int
    flatness: float


@dataclass(frozen=True, slots=True, eq=False)
class _Rim:
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

    def tear(self) -> Tear:
        """What is told of it."""
        x, y, z = self.middle.tolist()
        flatness = float(np.abs((self.points - self.middle) @ self.normal).max())
        return Tear((x, y, z), self.size, len(self.vertices), flatness)


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
        raise _large([len(middles)], np.ptp(middles, axis=0).max(), middles)


def close_tears(mesh: Mesh) -> tuple[Mesh, IntArray, tuple[Tear, ...], tuple[str, ...]]:
    """The mesh with its small tears closed.

    Returns
    -------
    the mesh; (m,) int, the number of the tear that each triangle closes, else -1; the
    tears; and a remark

    Raises
    ------
    BadMesh : tears that are large, tangled, or may be mouths of a bore or hole whose
        wall is missing; with the places
    """
    open_edges = open_half_edges(mesh.triangles)
    fills = np.full(len(mesh.triangles), -1)
    if not len(open_edges):
        return mesh, fills, (), ()
    rims = _rims(mesh, open_edges)
    _check_apart(rims)
    edges = _edges_among(mesh, rims)
    lots = [_fill(rim, edges) for rim in rims]
    added = np.repeat(np.arange(len(lots)), [len(lot) for lot in lots])
    tears = tuple(rim.tear() for rim in rims)
    closed = Mesh(mesh.vertices, np.vstack((mesh.triangles, *lots)))
    return closed, np.concatenate((fills, added)), tears, (_remark(tears),)


def _remark(tears: tuple[Tear, ...]) -> str:
    edges = sorted({tear.edges for tear in tears})
    largest = max(tear.size for tear in tears)
    places = np.array([tear.place for tear in tears])
    if len(tears) == 1:
        return f"1 tear of {edges[0]} edges, {largest:.2f} mm across, was closed, {where(places)}."
    return (
        f"{len(tears)} tears of {edges[0]} to {edges[-1]} edges, {largest:.2f} mm across at the "
        f"most, were closed, {where(places)}."
    )


# Rims


def _rims(mesh: Mesh, open_edges: IntArray) -> list[_Rim]:
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


def _measured(vertices: FloatArray, loop: IntArray) -> _Rim:
    points = vertices[loop]
    arms = points - points[0]
    area = np.cross(arms, np.roll(arms, -1, axis=0)).sum(axis=0) / 2.0
    length = float(np.linalg.norm(area))
    return _Rim(loop, points, area / max(length, 1e-300))


def _check_apart(rims: list[_Rim]) -> None:
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


# Filling


def _edges_among(mesh: Mesh, rims: list[_Rim]) -> set[tuple[int, int]]:
    """The edges of the mesh that run between vertices of rims."""
    on_rim = np.zeros(len(mesh.vertices), bool)
    for rim in rims:
        on_rim[rim.vertices] = True
    start, end = mesh.triangles.ravel(), mesh.triangles[:, [1, 2, 0]].ravel()
    both = on_rim[start] & on_rim[end]
    low, high = np.minimum(start[both], end[both]), np.maximum(start[both], end[both])
    return set(zip(low.tolist(), high.tolist(), strict=True))


def _fill(rim: _Rim, edges: set[tuple[int, int]]) -> IntArray:
    """Triangles that close a tear without a third triangle on any edge."""
    flat = _in_plane(rim)
    vertices = rim.vertices.tolist()

    def taken(a: int, b: int) -> bool:
        return _edge(vertices[a], vertices[b]) in edges

    if _crosses_itself(flat):
        raise _tangled(rim)
    triples = clip_ears(flat, taken)
    cuts = _cuts(triples, len(vertices))
    new = {_edge(vertices[a], vertices[b]) for a, b in cuts}
    if (
        len(new) < len(vertices) - 3
        or new & edges
        or _least_area(flat, triples) < -1e-6 * rim.size**2
    ):
        raise _tangled(rim)
    edges |= new
    filled: IntArray = rim.vertices[np.array(triples)]
    return filled


def _tangled(rim: _Rim) -> BadMesh:
    return bad_mesh(
        f"a tear of {len(rim.vertices)} open edges, {rim.size:.2f} mm across, whose rim is tangled",
        rim.middle[None],
        "rims that a plain patch closes",
        "close the tear there and run again",
    )


def _edge(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _in_plane(rim: _Rim) -> FloatArray:
    """(k, 2) the rim's points along two axes of its plane, counter-clockwise from outside."""
    least = np.eye(3)[np.argmin(np.abs(rim.normal))]
    across = np.cross(rim.normal, least)
    norm = float(np.linalg.norm(across))
    across = across / norm if norm > 0.0 else least
    flat: FloatArray = (rim.points - rim.middle) @ np.column_stack(
        (across, np.cross(rim.normal, across))
    )
    return flat


def _cuts(triples: list[Triple], count: int) -> list[tuple[int, int]]:
    """The edges inside a triangulated polygon, each once."""
    sides = {_edge(triple[k], triple[k - 2]) for triple in triples for k in range(3)}
    rim = {_edge(k, (k + 1) % count) for k in range(count)}
    return sorted(sides - rim)


def _least_area(flat: FloatArray, triples: list[Triple]) -> float:
    a, b, c = (flat[[triple[k] for triple in triples]] for k in range(3))
    ab, ac = b - a, c - a
    return float((ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0]).min()) / 2.0


def _crosses_itself(flat: FloatArray) -> bool:
    """Do any two edges of the polygon run through each other?"""
    start, end = flat, np.roll(flat, -1, axis=0)

    def side(points: FloatArray) -> FloatArray:
        way = end - start
        turned: FloatArray = way[:, None, 0] * (points[None, :, 1] - start[:, None, 1]) - way[
            :, None, 1
        ] * (points[None, :, 0] - start[:, None, 0])
        return turned

    parts = side(start) * side(end) < 0.0
    return bool((parts & parts.T).any())
