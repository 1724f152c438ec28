"""Is the mesh a closed, outward, single body? If not: what is wrong, and where."""

from __future__ import annotations

import numpy as np

from ..errors import BadMesh
from ..values import FloatArray, IntArray, Mesh
from .connected import connected_groups
from .equal_rows import coordinate_bits, first_equal

_MOST_PLACES = 20


def weld(mesh: Mesh) -> Mesh:
    """Vertices at equal coordinates made one; triangles that collapse dropped.

    The order of the first mention of each vertex is kept.
    """
    joined = join_equal(mesh)
    a, b, c = joined.triangles.T
    whole = (a != b) & (b != c) & (c != a)
    return joined if whole.all() else compact(joined.vertices, joined.triangles[whole])


def join_equal(mesh: Mesh) -> Mesh:
    """Vertices at equal coordinates made one, those that no triangle uses left out.

    The order of the first mention of each vertex is kept. Where nothing is to be
    done, nothing is copied.
    """
    first = first_equal(coordinate_bits(mesh.vertices))
    if np.array_equal(first, np.arange(len(first))):
        return compact(mesh.vertices, mesh.triangles)
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
    a, b, c = (mesh.vertices[mesh.triangles[:, k]] for k in range(3))
    cross = np.cross(b - a, c - a)
    length = np.linalg.norm(cross, axis=1)
    normals = cross / np.where(length > 0.0, length, 1.0)[:, None]
    return normals, length / 2.0


def enclosed_volume(mesh: Mesh) -> float:
    """Volume, mm3, by the divergence theorem; negative where turned inside out."""
    centred = mesh.vertices - mesh.vertices.mean(axis=0)
    a, b, c = (centred[mesh.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)


def neighbours(triangles: IntArray) -> IntArray:
    """(3 m,) for half-edge 3 t + k (from corner k to k + 1): the opposite half-edge.

    The mesh must be closed (`check_closed`).
    """
    start = triangles.ravel()
    end = np.roll(triangles, -1, axis=1).ravel()
    span = int(triangles.max()) + 1
    forward = np.argsort(start * span + end, kind="stable")
    backward = np.argsort(end * span + start, kind="stable")
    twin = np.empty(len(start), np.int64)
    twin[forward] = backward
    return twin


def check_closed(mesh: Mesh) -> None:
    """Every edge is shared by exactly two triangles that run it in opposite ways.

    Raises
    ------
    BadMesh : open edges, edges of three or more triangles, or triangles turned
        against their neighbours; with the places
    """
    start = mesh.triangles.ravel()
    end = np.roll(mesh.triangles, -1, axis=1).ravel()
    span = len(mesh.vertices)
    codes, which, counts = np.unique(
        np.minimum(start, end) * span + np.maximum(start, end),
        return_inverse=True,
        return_counts=True,
    )
    balance = np.zeros(len(codes), np.int64)
    np.add.at(balance, which.reshape(-1), np.where(start < end, 1, -1))
    middles = (mesh.vertices[codes // span] + mesh.vertices[codes % span]) / 2.0
    _refuse_edges(middles[counts == 1], "open edges, each with one triangle only", "close the tear")
    _refuse_edges(
        middles[counts > 2],
        "edges shared by three or more triangles, where the mesh touches itself",
        "part the surfaces that touch, or merge them into one",
    )
    _refuse_edges(
        middles[(counts == 2) & (balance != 0)],
        "edges whose two triangles face opposite ways",
        "make the normals consistent",
    )


def _refuse_edges(middles: FloatArray, what: str, remedy: str) -> None:
    if not len(middles):
        return
    low, high = middles.min(axis=0), middles.max(axis=0)
    first = middles[0]
    raise BadMesh(
        f"{len(middles)} {what}, the first at ({_point(first)}), all within "
        f"({_point(low)}) to ({_point(high)})",
        "0 such edges: a closed mesh",
        f"{remedy} there and run again",
        _places(middles),
    )


def check_touching(mesh: Mesh) -> None:
    """No two sheets of a closed mesh meet in a single vertex.

    Raises
    ------
    BadMesh : with the places
    """
    twin = neighbours(mesh.triangles)
    corner = np.arange(len(twin))
    around = twin[corner - corner % 3 + (corner + 2) % 3]
    fans = connected_groups(len(twin), corner, around)
    one_corner = np.unique(fans, return_index=True)[1]
    per_vertex = np.bincount(mesh.triangles.ravel()[one_corner], minlength=len(mesh.vertices))
    touching = mesh.vertices[per_vertex > 1]
    if len(touching):
        raise BadMesh(
            f"{len(touching)} vertices where the mesh touches itself in a point, "
            f"the first at ({_point(touching[0])})",
            "0 such vertices",
            "part the surfaces that touch there and run again",
            _places(touching),
        )


def check_one_body(mesh: Mesh) -> None:
    """All triangles hang together.

    Raises
    ------
    BadMesh : with the number of bodies and their sizes
    """
    first, second = mesh.triangles[:, [0, 1]].ravel(), mesh.triangles[:, [1, 2]].ravel()
    groups = connected_groups(len(mesh.vertices), first, second)
    count = int(groups.max()) + 1
    if count == 1:
        return
    sizes = np.bincount(groups[mesh.triangles[:, 0]])
    places = np.array([mesh.vertices[groups == k].mean(axis=0) for k in range(min(count, 5))])
    raise BadMesh(
        f"{count} separate bodies, of {', '.join(map(str, sizes[:5]))} triangles, "
        f"the second about ({_point(places[1])})",
        "1 body",
        "save each body to a file of its own, or join them",
        _places(places),
    )


def sound_mesh(mesh: Mesh) -> tuple[Mesh, tuple[str, ...]]:
    """The mesh welded and faced outward, and remarks on what that took.

    Raises
    ------
    BadMesh : empty, not finite, not closed, touching itself, or several bodies
    """
    if len(mesh.triangles) < 4:
        raise BadMesh(
            f"{len(mesh.triangles)} triangles", "at least 4, closed", "another file or object"
        )
    if not np.isfinite(mesh.vertices).all():
        wrong = int(np.flatnonzero(~np.isfinite(mesh.vertices).all(axis=1))[0])
        raise BadMesh(
            f"vertex {wrong} is not a finite number", "finite coordinates", "export the mesh again"
        )
    welded = weld(mesh)
    remarks: list[str] = []
    dropped = len(mesh.triangles) - len(welded.triangles)
    if dropped:
        remarks.append(f"{dropped} triangles with no area were dropped.")
    if len(welded.triangles) < 4:
        raise BadMesh(
            f"{len(welded.triangles)} triangles with an area", "at least 4, closed", "another file"
        )
    check_closed(welded)
    check_touching(welded)
    check_one_body(welded)
    volume = enclosed_volume(welded)
    if volume < 0.0:
        welded = Mesh(welded.vertices, welded.triangles[:, ::-1])
        remarks.append("All triangles faced inward; they were turned outward.")
    if abs(volume) < 1e-9 * float(np.ptp(welded.vertices, axis=0).max()) ** 3:
        raise BadMesh(f"a volume of {abs(volume):.3g} mm3", "a solid part", "another file")
    return welded, tuple(remarks)


def _places(points: FloatArray) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(x), float(y), float(z)) for x, y, z in points[:_MOST_PLACES])


def _point(point: FloatArray) -> str:
    return ", ".join(f"{value:.3f}" for value in point)
