"""What stays of the source: triangles of all regions that are not made anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ..meshes.ear_clipping import clip_ears
from ..values import BoolArray, FloatArray, IntArray, Mesh, read_only
from .chains import interleaved
from .outlines import Outlines
from .source import Source


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """Triangles that are kept whole, and the parts of those that are divided.

    whole : (k,) numbers of triangles of the source
    origin, parts : (p,) the triangle that each part comes from, and (p, 3) the parts
    """

    whole: IntArray
    origin: IntArray
    parts: IntArray

    def __post_init__(self) -> None:
        for array in (self.whole, self.origin, self.parts):
            read_only(array)


def kept_triangles(outlines: Outlines, rebuilt: set[int]) -> Kept:
    """Triangles of all other regions; those with new vertices on their edges are divided."""
    source = outlines.source
    ids, borders = source.regions.ids, source.borders
    is_kept = np.ones(int(ids.max(initial=0)) + 1, bool)
    is_kept[[region for region in rebuilt if region < len(is_kept)]] = False
    kept = source.rest[is_kept[ids[source.rest]]]
    edges = np.flatnonzero(is_kept[ids[borders.triangle]])
    vertices, _, counts = outlines.along(edges)
    edges, counts = edges[counts > 0], counts[counts > 0]
    whole = np.ones(len(kept), bool)
    whole[np.searchsorted(kept, borders.triangle[edges])] = False
    parts = list(_divide_all(source, edges, counts, vertices))
    empty = np.empty((0, 3), np.int64)
    return Kept(
        whole=kept[whole],
        origin=np.concatenate([np.empty(0, np.int64), *(origin for origin, _ in parts)]),
        parts=np.vstack([empty, *(part for _, part in parts)]),
    )


def _divide_all(
    source: Source, edges: IntArray, counts: IntArray, vertices: IntArray
) -> Iterator[tuple[IntArray, IntArray]]:
    """Triangles with vertices added on their edges, as parts, and where each comes from."""
    triangle, corner = source.borders.triangle[edges], source.borders.corner[edges]
    stops = np.cumsum(counts)
    times = np.bincount(np.searchsorted(np.unique(triangle), triangle))
    alone = times[np.searchsorted(np.unique(triangle), triangle)] == 1
    yield _fans(source.mesh, triangle, corner, counts, vertices, alone)
    several: dict[int, dict[int, list[int]]] = {}
    for k in np.flatnonzero(~alone).tolist():
        added = vertices[stops[k] - counts[k] : stops[k]].tolist()
        several.setdefault(int(triangle[k]), {})[int(corner[k])] = added
    for number, added in several.items():
        parts = np.array(_divide(source.mesh.triangles[number].tolist(), added))
        yield np.full(len(parts), number), parts


def _fans(
    mesh: Mesh,
    triangle: IntArray,
    corner: IntArray,
    counts: IntArray,
    vertices: IntArray,
    chosen: BoolArray,
) -> tuple[IntArray, IntArray]:
    """Triangles with one edge cut, as fans about the corner across from it."""
    triangle, corner, added = triangle[chosen], corner[chosen], vertices[chosen.repeat(counts)]
    counts = counts[chosen]
    a, b, c = (mesh.triangles[triangle, (corner + k) % 3] for k in range(3))
    start, _ = interleaved(a, counts, added, added)
    end = np.roll(start, -1)
    end[np.cumsum(counts + 1) - 1] = b
    parts = np.column_stack([start, end, c.repeat(counts + 1)])
    return triangle.repeat(counts + 1), parts


def _divide(corners: list[int], added: dict[int, list[int]]) -> list[list[int]]:
    """A triangle with vertices on its edges, as triangles.

    It is laid out as a flat triangle whose edges bulge a little, so that it is
    convex and no three of its vertices lie in line.
    """
    shape = 100.0 * np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    outward = np.array([[0.0, -1.0], [1.0, 1.0], [-1.0, 0.0]])
    numbers: list[int] = []
    layout: list[FloatArray] = []
    for k in range(3):
        new = added.get(k, [])
        numbers += [corners[k], *new]
        shares = np.arange(len(new) + 1)[:, None] / (len(new) + 1)
        line = shape[k] + shares * (shape[(k + 1) % 3] - shape[k])
        layout.append(line + 10.0 * shares * (1.0 - shares) * outward[k])
    return [[numbers[a], numbers[b], numbers[c]] for a, b, c in clip_ears(np.vstack(layout))]
