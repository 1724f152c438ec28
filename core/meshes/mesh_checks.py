"""Is the mesh a closed, outward, single body? If not: what is wrong, and where."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
from numpy.typing import NDArray

from ..errors import BadMesh
from ..values import FloatArray, IntArray, Mesh
from .equal_rows import coordinate_bits, first_equal
from .half_edges import edge_numbers, next_side, pair_edges
from .in_blocks import blocks, in_blocks
from .places import bad_mesh, counted

_AT_ONCE = 1 << 15
_FEW = 4
"""Of triangles few beside the vertices, this many times fewer, corners are picked by row."""


def weld(mesh: Mesh) -> Mesh:
    """Vertices at equal coordinates made one; triangles that collapse dropped.

    The order of the first mention of each vertex is kept.
    """
    joined = join_equal(compact(mesh.vertices, mesh.triangles))
    a, b, c = joined.triangles.T
    whole = (a != b) & (b != c) & (c != a)
    return joined if whole.all() else compact(joined.vertices, joined.triangles[whole])


def join_equal(mesh: Mesh) -> Mesh:
    """Vertices at equal coordinates made one, of a mesh that uses all of its vertices.

    The order of the first mention of each vertex is kept. Where nothing is to be
    done, nothing is copied.
    """
    first = first_equal(coordinate_bits(mesh.vertices))
    if np.array_equal(first, np.arange(len(first))):
        return mesh
    return compact(mesh.vertices, first[mesh.triangles])


def compact(vertices: FloatArray, triangles: IntArray) -> Mesh:
    """The mesh without vertices that no triangle uses; order kept."""
    used = np.zeros(len(vertices), bool)
    used[triangles.ravel()] = True
    if used.all():
        return Mesh(vertices, triangles)
    number = np.cumsum(used) - 1
    return Mesh(vertices[used], number[triangles])


def triangle_normals(mesh: Mesh) -> tuple[FloatArray, FloatArray]:
    """(m, 3) unit outward normals (zero where degenerate) and (m,) areas, mm2."""
    normals = np.empty((3, len(mesh.triangles)))
    areas = np.empty(len(mesh.triangles))
    for rows, (a, b, c) in _corner_columns(mesh):
        cross = _cross(_minus(b, a), _minus(c, a))
        length = _length(cross)
        areas[rows] = length / 2.0
        length[length == 0.0] = 1.0
        for normal, part in zip(normals, cross, strict=True):
            np.divide(part, length, out=normal[rows])
    return normals.T, areas


def enclosed_volume(mesh: Mesh) -> float:
    """Volume, mm3, by the divergence theorem; negative where turned inside out.

    Of the field (0, 0, z): the sum over the triangles of area as seen along z times mean z.
    """
    vertices, triangles = mesh.vertices, mesh.triangles
    if len(triangles) < len(vertices) // _FEW:
        used, corners = np.unique(triangles, return_inverse=True)
        vertices, triangles = vertices[used], corners.reshape(-1, 3)
    if not len(triangles):
        return 0.0
    x, y, z = vertices[triangles[0, 0]]
    flat = np.empty(len(vertices), np.complex128)
    flat.real, flat.imag = vertices[:, 0] - x, vertices[:, 1] - y
    heights = vertices[:, 2] - z
    share = partial(_share_of_volume, flat, heights, triangles)
    return sum(in_blocks(share, len(triangles)))


def _share_of_volume(
    flat: NDArray[np.complex128], heights: FloatArray, triangles: IntArray, block: slice
) -> float:
    corners = np.ascontiguousarray(triangles[block].T)
    a, b, c = (flat.take(corner) for corner in corners)
    b -= a
    c -= a
    doubled = b.real * c.imag
    doubled -= b.imag * c.real
    a, b, c = (heights.take(corner) for corner in corners)
    a += b
    a += c
    return float(np.einsum("i,i->", doubled, a)) / 6.0


def volume_shares(mesh: Mesh) -> FloatArray:
    """(m,) mm3, what each triangle adds to the volume: seen from the middle, signed."""
    shares = np.empty(len(mesh.triangles))
    for rows, (a, b, c) in _corner_columns(mesh):
        cross = _cross(b, c)
        shares[rows] = (a[0] * cross[0] + a[1] * cross[1] + a[2] * cross[2]) / 6.0
    return shares


def area_and_volume(mesh: Mesh) -> tuple[float, float]:
    """Area, mm2, and volume, mm3, as `enclosed_volume` has it."""
    area = volume = 0.0
    for _, (a, b, c) in _corner_columns(mesh):
        cross = _cross(_minus(b, a), _minus(c, a))
        area += float(_length(cross).sum()) / 2.0
        volume += _dot(a, cross) / 6.0  # a . (b x c): what else cross holds is square to a
    return area, volume


_Columns = list[FloatArray]


def _corner_columns(mesh: Mesh) -> Iterator[tuple[slice, tuple[_Columns, _Columns, _Columns]]]:
    """The x, y and z of the three corners of some triangles at a time, about the middle.

    Columns, and as many at a time as stay near the processor: gathered row by row the
    same takes ten times as long. Only of a few among many vertices are columns not worth it.
    """
    if len(mesh.triangles) < len(mesh.vertices) // _FEW:
        picked = [mesh.vertices[mesh.triangles[:, k]] for k in range(3)]
        middle = picked[0].mean(axis=0) if len(picked[0]) else np.zeros(3)
        a, b, c = (list(np.ascontiguousarray((corner - middle).T)) for corner in picked)
        yield slice(0, len(mesh.triangles)), (a, b, c)
        return
    middle = mesh.vertices.mean(axis=0) if len(mesh.vertices) else np.zeros(3)
    columns = [
        np.ascontiguousarray(column) - m for column, m in zip(mesh.vertices.T, middle, strict=True)
    ]
    for rows in blocks(len(mesh.triangles), _AT_ONCE):
        corners = [np.ascontiguousarray(corner) for corner in mesh.triangles[rows].T]
        a, b, c = ([column[corner] for column in columns] for corner in corners)
        yield rows, (a, b, c)


def _dot(a: _Columns, b: _Columns) -> float:
    return sum(float(np.einsum("i,i->", p, q)) for p, q in zip(a, b, strict=True))


def _length(a: _Columns) -> FloatArray:
    length: FloatArray = np.sqrt(a[0] ** 2 + a[1] ** 2 + a[2] ** 2)
    return length


def _minus(a: _Columns, b: _Columns) -> _Columns:
    return [p - q for p, q in zip(a, b, strict=True)]


def _cross(a: _Columns, b: _Columns) -> _Columns:
    return [a[k - 2] * b[k - 1] - a[k - 1] * b[k - 2] for k in range(3)]


def extent(mesh: Mesh) -> float:
    """The longest side, mm, of the box around a mesh."""
    return max(float(column.max() - column.min()) for column in mesh.vertices.T)


def check_triangles(mesh: Mesh) -> None:
    """There are triangles enough for a solid, between vertices that there are.

    Raises
    ------
    BadMesh
    """
    if len(mesh.triangles) < 4:
        raise BadMesh(
            f"{len(mesh.triangles)} triangles", "at least 4, closed", "another file or object"
        )
    if mesh.triangles.min() < 0 or mesh.triangles.max() >= len(mesh.vertices):
        raise BadMesh(
            f"triangles that name vertices outside 0 to {len(mesh.vertices) - 1}",
            "only vertices that the mesh has",
            "export the mesh again",
        )


def check_closed(mesh: Mesh) -> None:
    """Every edge is shared by exactly two triangles that run it in opposite ways.

    Raises
    ------
    BadMesh : open edges, edges of three or more triangles, or triangles turned
        against their neighbours; with the places
    """
    if pair_edges(mesh.triangles, len(mesh.vertices)) is not None:
        return
    numbers, counts = edge_numbers(mesh.triangles)
    open_edges = np.flatnonzero(counts[numbers.ravel()] == 1)
    if len(open_edges):
        raise _bad_edges(mesh, open_edges, "with one triangle only",
                         "close the tear")  # fmt: skip
    check_uncrowded(mesh)
    rises = (mesh.triangles < mesh.triangles[:, [1, 2, 0]]).ravel()
    balance = np.bincount(numbers.ravel(), np.where(rises, 1, -1))
    against = np.flatnonzero(rises & (balance[numbers.ravel()] != 0))
    raise _bad_edges(mesh, against, "between two triangles that face opposite ways",
                     "make the normals consistent")  # fmt: skip


def check_uncrowded(mesh: Mesh) -> None:
    """No edge has three triangles or more.

    Raises
    ------
    BadMesh : with the places
    """
    numbers, counts = edge_numbers(mesh.triangles)
    crowded = np.flatnonzero(counts[numbers.ravel()] > 2)
    if len(crowded):
        crowded = crowded[np.unique(numbers.ravel()[crowded], return_index=True)[1]]
        raise _bad_edges(
            mesh,
            crowded,
            "shared by three or more triangles, where the mesh touches itself",
            "part the surfaces that touch, or merge them into one",
        )


def _bad_edges(mesh: Mesh, half_edges: IntArray, what: str, remedy: str) -> BadMesh:
    flat = mesh.triangles.ravel()
    start, end = mesh.vertices[flat[half_edges]], mesh.vertices[flat[next_side(half_edges)]]
    length = float(np.linalg.norm(start - end, axis=1).sum())
    return bad_mesh(
        f"{counted(len(half_edges), 'edge', 'edges')} {what}, {length:.3f} mm long in all",
        (start + end) / 2.0,
        "0 such edges: a closed mesh",
        f"{remedy} there and run again",
    )
