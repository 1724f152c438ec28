"""Small tears in a surface, closed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import BadMesh
from ..values import FloatArray, IntArray, Mesh
from .cracks import open_half_edges
from .ear_clipping import Triple, clip_ears
from .places import bad_mesh, where
from .polygon import doubled_areas, side_of
from .rims import Rim, check_apart, check_unfolded, find_rims


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
    rims = find_rims(mesh, open_edges)
    check_apart(rims)
    check_unfolded(mesh, open_edges, rims)
    edges = _edges_among(mesh, rims)
    lots = [_fill(rim, edges) for rim in rims]
    added = np.repeat(np.arange(len(lots)), [len(lot) for lot in lots])
    tears = tuple(_tear(rim) for rim in rims)
    closed = Mesh(mesh.vertices, np.vstack((mesh.triangles, *lots)))
    return closed, np.concatenate((fills, added)), tears, (_remark(tears),)


def _tear(rim: Rim) -> Tear:
    x, y, z = rim.middle.tolist()
    flatness = float(np.abs((rim.points - rim.middle) @ rim.normal).max())
    return Tear((x, y, z), rim.size, len(rim.vertices), flatness)


def _range(numbers: list[int]) -> str:
    """Ascending numbers by the first and the last, or by the one that all are."""
    return f"{numbers[0]} to {numbers[-1]}" if numbers[0] < numbers[-1] else f"{numbers[0]}"


def _remark(tears: tuple[Tear, ...]) -> str:
    edges = sorted({tear.edges for tear in tears})
    largest = max(tear.size for tear in tears)
    places = np.array([tear.place for tear in tears])
    if len(tears) == 1:
        return f"1 tear of {edges[0]} edges, {largest:.2f} mm across, was closed, {where(places)}."
    return (
        f"{len(tears)} tears of {_range(edges)} edges, {largest:.2f} mm across at the "
        f"most, were closed, {where(places)}."
    )


def _edges_among(mesh: Mesh, rims: list[Rim]) -> set[tuple[int, int]]:
    """The edges of the mesh that run between vertices of rims."""
    on_rim = np.zeros(len(mesh.vertices), bool)
    for rim in rims:
        on_rim[rim.vertices] = True
    start, end = mesh.triangles.ravel(), mesh.triangles[:, [1, 2, 0]].ravel()
    both = on_rim[start] & on_rim[end]
    low, high = np.minimum(start[both], end[both]), np.maximum(start[both], end[both])
    return set(zip(low.tolist(), high.tolist(), strict=True))


def _fill(rim: Rim, edges: set[tuple[int, int]]) -> IntArray:
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


def _tangled(rim: Rim) -> BadMesh:
    return bad_mesh(
        f"a tear of {len(rim.vertices)} open edges, {rim.size:.2f} mm across, whose rim is tangled",
        rim.middle[None],
        "rims that a plain patch closes",
        "close the tear there and run again",
    )


def _edge(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _in_plane(rim: Rim) -> FloatArray:
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
    return float(doubled_areas(flat, np.array(triples)).min()) / 2.0


def _crosses_itself(flat: FloatArray) -> bool:
    """Do any two edges of the polygon run through each other?"""
    start, end = flat[:, None], np.roll(flat, -1, axis=0)[:, None]
    parts = side_of(start, end, start[:, 0]) * side_of(start, end, end[:, 0]) < 0.0
    return bool((parts & parts.T).any())
