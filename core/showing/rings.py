"""Rings on the part's own surface: seams, ends of joints, outlines of side holes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..meshes.plane_sections import cut_sections
from ..values import BORE, HOLE, FloatArray, IntArray, Mesh, TruedPart

Segments = tuple[FloatArray, FloatArray]
"""Starts and ends, (n, 3) mm each."""


def section_rings(mesh: Mesh, stations: Sequence[float]) -> list[Segments]:
    """For each station the outer outlines of the part there, around in order.

    Parameters
    ----------
    mesh : closed, in the part frame
    """
    heights, place = np.unique(np.array(stations, np.float64), return_inverse=True)
    if not len(heights):
        return []
    columns = [np.ascontiguousarray(mesh.vertices[:, axis]) for axis in range(3)]
    sections = cut_sections(columns, mesh.triangles, heights)
    order = in_order(sections.following, sections.outline)
    outline = sections.outline[order]
    rings = []
    for number in place.reshape(-1):
        mine = (sections.plane[outline] == number) & (sections.areas[outline] > 0.0)
        chosen = order[mine]
        level = np.full((len(chosen), 1), heights[number])
        rings.append(
            (
                np.hstack([sections.starts[chosen], level]),
                np.hstack([sections.ends[chosen], level]),
            )
        )
    return rings


def in_order(following: IntArray, outline: IntArray) -> IntArray:
    """(p,) numbers of the segments, outline after outline, each followed by the one it leads to.

    By jumps of doubled length: after each, a segment knows how far it is from its outline's
    lowest-numbered segment, which is its first.
    """
    count = len(following)
    first = np.full(int(outline.max(initial=-1)) + 1, count)
    np.minimum.at(first, outline, np.arange(count))
    is_first = first[outline] == np.arange(count)
    distance = np.where(is_first, 0, 1)
    jump = np.where(is_first, np.arange(count), following)
    for _ in range(count.bit_length()):
        distance = distance + distance[jump]
        jump = jump[jump]
    order: IntArray = np.lexsort((-distance, ~is_first, outline))
    return order


def hole_outlines(trued: TruedPart) -> Segments:
    """The edges at which side holes meet the part's outer surfaces; those in bores are left out."""
    edges = _edges(trued, HOLE)
    count = len(trued.mesh.vertices)
    back = edges[:, 1] * count + edges[:, 0]
    beyond = np.concatenate([_edges(trued, HOLE), _edges(trued, BORE)])
    border = edges[~np.isin(back, beyond[:, 0] * count + beyond[:, 1])]
    points = trued.mesh.vertices
    return points[border[:, 0]].copy(), points[border[:, 1]].copy()


def _edges(trued: TruedPart, label: int) -> IntArray:
    """(n, 2) vertices of all edges of the triangles of a kind, as they run there."""
    corners = trued.mesh.triangles[trued.labels == label]
    edges: IntArray = np.concatenate([corners[:, [k, (k + 1) % 3]] for k in range(3)])
    return edges
