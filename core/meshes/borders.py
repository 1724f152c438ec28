"""Where regions of a closed mesh end: their loops, and their connected patches.

Only triangles at vertices that touch two regions are looked at, so that a mesh of
millions of triangles costs a few passes and its borders little more.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from ..values import BoolArray, IntArray, read_only
from .connected import connected_groups
from .in_blocks import in_blocks


@dataclass(frozen=True, slots=True, eq=False)
class RegionLoop:
    """A closed chain of edges along which one region ends, the region on its left.

    Edge k runs from vertices[k] to vertices[k + 1], the last one back to vertices[0].

    region : the region that ends here
    triangles, corners : (k,) the region's triangle at each edge, and the corner of it
        (0, 1 or 2) at which the edge starts
    vertices : (k,) the vertex at which each edge starts
    beyond_triangles, beyond_corners : (k,) the triangle across each edge, and the
        corner of it at which the same edge starts, run the other way
    beyond : (k,) the region across each edge
    """

    region: int
    triangles: IntArray
    corners: IntArray
    vertices: IntArray
    beyond_triangles: IntArray
    beyond_corners: IntArray
    beyond: IntArray

    def __post_init__(self) -> None:
        for array in (self.triangles, self.corners, self.vertices):
            read_only(array)
        for array in (self.beyond_triangles, self.beyond_corners, self.beyond):
            read_only(array)


def regions_at(triangles: IntArray, regions: IntArray, vertices_count: int) -> IntArray:
    """(n,) a region that each vertex has a triangle of; of one without triangles no region's.

    Nearly all vertices are some triangle's first: few are left to look for.

    Parameters
    ----------
    regions : (m,) int, which region each triangle belongs to; within 32 bits
    """
    kind = np.int32 if regions.dtype == np.int64 else regions.dtype
    some: IntArray = np.full(vertices_count, np.iinfo(kind).min, kind)
    some[triangles[:, 0]] = regions
    for k in (1, 2):
        missing = some == np.iinfo(kind).min
        if missing.any():
            rows = np.flatnonzero(missing[triangles[:, k]])
            some[triangles[rows, k]] = regions[rows]
    return some


def mixed_vertices(triangles: IntArray, regions: IntArray, vertices_count: int) -> BoolArray:
    """(n,) whether each vertex touches several regions.

    Parameters
    ----------
    regions : (m,) int, which region each triangle belongs to; within 32 bits
    """
    some = regions_at(triangles, regions, vertices_count)
    differ = _differ_at_corner(triangles, regions, some)
    corners, own = triangles[differ], regions[differ]
    mixed = np.zeros(vertices_count, bool)
    mixed[corners[some[corners] != own[:, None]]] = True
    return mixed


def _differ_at_corner(triangles: IntArray, regions: IntArray, some: IntArray) -> IntArray:
    """(k,) the triangles of another region than `some` has for one of their corners."""
    asked = partial(_differing, triangles, regions, some)
    return np.concatenate(in_blocks(asked, len(triangles)) or [np.empty(0, np.int64)])


def _differing(triangles: IntArray, regions: IntArray, some: IntArray, block: slice) -> IntArray:
    own = regions[block].astype(some.dtype, copy=False)
    a, b, c = some.take(triangles[block]).T
    return np.flatnonzero((a != own) | (b != own) | (c != own)) + int(block.start)


def region_loops(
    triangles: IntArray,
    regions: IntArray,
    vertices_count: int,
    among: IntArray | None = None,
) -> list[RegionLoop]:
    """Every loop along which a region ends, ordered by region.

    At a vertex that a region touches twice each fan of triangles keeps its own
    loop, so that every loop is simple in the surface.

    Parameters
    ----------
    triangles : (m, 3) int, a closed mesh, consistently oriented
    regions : (m,) int, which region each triangle belongs to; within 32 bits
    among : numbers of triangles, all of those at any border among them; else all are asked
    """
    if among is None:
        mixed = mixed_vertices(triangles, regions, vertices_count)
        return loops_through(triangles, regions, mixed, triangles_at(triangles, mixed))
    some = triangles[among]
    mixed = mixed_vertices(some, regions[among], vertices_count)
    return loops_through(triangles, regions, mixed, among[triangles_at(some, mixed)])


def loops_through(
    triangles: IntArray, regions: IntArray, mixed: BoolArray, near: IntArray
) -> list[RegionLoop]:
    """The same where the vertices that touch several regions are known already.

    Parameters
    ----------
    mixed : (n,) whether each vertex does
    near : (k,) numbers of the triangles with a corner at such a vertex
    """
    some, region = triangles[near], regions[near]
    twin = _twins_at(some, mixed)
    across = np.where(twin >= 0, region[twin // 3], region.repeat(3))
    edges = np.flatnonzero(across != region.repeat(3))
    after = _following(edges, twin, region)
    order, starts = _cycles(np.searchsorted(edges, after), region[edges // 3])
    return [
        _loop(half_edges, twin[half_edges], near, some, region)
        for half_edges in np.split(edges[order], starts[1:])
        if len(half_edges)
    ]


def triangles_at(triangles: IntArray, marked: BoolArray) -> IntArray:
    """(k,) the triangles with a corner at a marked vertex."""
    asked = partial(_touching, triangles, marked)
    return np.concatenate(in_blocks(asked, len(triangles)) or [np.empty(0, np.int64)])


def _touching(triangles: IntArray, marked: BoolArray, block: slice) -> IntArray:
    touched = np.flatnonzero(marked.take(triangles[block].ravel())) // 3
    return touched[np.diff(touched, prepend=-1) > 0] + int(block.start)


def inner_edges(triangles: IntArray) -> tuple[IntArray, IntArray]:
    """Edges that two of the given triangles share: half-edge 3 t + k of each, two arrays.

    Half-edge 3 t + k runs from corner k of triangle t to the next corner.
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    return _pairs(start, end)


def twins_among(triangles: IntArray) -> IntArray:
    """(3 k,) the opposite of each half-edge among the given triangles; -1 where it is not."""
    first, second = inner_edges(triangles)
    twin = np.full(3 * len(triangles), -1)
    twin[first], twin[second] = second, first
    return twin


def connected_patches(triangles: IntArray, chosen: IntArray) -> IntArray:
    """(k,) number of the patch that each chosen triangle belongs to.

    Triangles of one patch hang together by edges. Patches are numbered from 0 in the
    order of their first triangle in `chosen`.

    Parameters
    ----------
    chosen : (k,) int, distinct triangles
    """
    first, second = inner_edges(triangles[chosen])
    return connected_groups(len(chosen), first // 3, second // 3)


def _twins_at(triangles: IntArray, mixed: BoolArray) -> IntArray:
    """(3 k,) the opposite of each half-edge that touches a mixed vertex; -1 elsewhere.

    Each is its opposite's own, run the other way: so whoever turns about a vertex comes round.
    """
    start, end = triangles.ravel(), np.roll(triangles, -1, axis=1).ravel()
    near = np.flatnonzero(mixed[start] | mixed[end])
    first, second = _pairs(start[near], end[near])
    assert 2 * len(first) == len(near), "a mesh that is not closed"
    twin = np.full(len(start), -1)
    twin[near[first]] = near[second]
    twin[near[second]] = near[first]
    opposite = twin[near]
    assert (twin[opposite] == near).all(), "an edge of three triangles or more"
    assert (start[opposite] == end[near]).all(), "triangles that face different ways"
    return twin


def _pairs(start: IntArray, end: IntArray) -> tuple[IntArray, IntArray]:
    """Which directed edges are each other's opposite, as two arrays of places."""
    span = int(max(start.max(initial=0), end.max(initial=0))) + 1
    codes = np.minimum(start, end) * span + np.maximum(start, end)
    order = np.argsort(codes, kind="stable")
    ordered = codes[order]
    same = np.flatnonzero(ordered[1:] == ordered[:-1])
    return order[same], order[same + 1]


def _following(edges: IntArray, twin: IntArray, region: IntArray) -> IntArray:
    """(k,) the border edge that comes after each: found by turning through the fan."""
    after = _next_corner(edges)
    turning = np.arange(len(edges))
    while len(turning):
        beyond = twin[after[turning]]
        inside = region[beyond // 3] == region[edges[turning] // 3]
        turning = turning[inside]
        after[turning] = _next_corner(beyond[inside])
    return after


def _next_corner(half_edges: IntArray) -> IntArray:
    following: IntArray = half_edges - half_edges % 3 + (half_edges + 1) % 3
    return following


def _cycles(after: IntArray, region: IntArray) -> tuple[IntArray, IntArray]:
    """The places of a permutation cycle by cycle, and where each cycle starts.

    By pointer jumping: after k rounds every place knows the least of the 2^k places
    from it on; then, with each cycle cut before its least, how far its end is.
    """
    least, jump = np.arange(len(after)), after
    for _ in range(len(after).bit_length()):
        least = np.minimum(least, least[jump])
        jump = jump[jump]
    is_last = after == least
    left = np.where(is_last, 0, 1)
    jump = np.where(is_last, np.arange(len(after)), after)
    for _ in range(len(after).bit_length()):
        left = left + left[jump]
        jump = jump[jump]
    order = np.lexsort((-left, least, region))
    starts = np.flatnonzero(order == least[order])
    return order, starts


def _loop(
    half_edges: IntArray, across: IntArray, chosen: IntArray, some: IntArray, region: IntArray
) -> RegionLoop:
    triangle, corner = np.divmod(half_edges, 3)
    beyond, beyond_corner = np.divmod(across, 3)
    return RegionLoop(
        region=int(region[triangle[0]]),
        triangles=chosen[triangle],
        corners=corner,
        vertices=some[triangle, corner],
        beyond_triangles=chosen[beyond],
        beyond_corners=beyond_corner,
        beyond=region[beyond],
    )
