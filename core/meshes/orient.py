"""Triangles turned so that each faces as its neighbours do."""

from __future__ import annotations

import numpy as np

from ..values import IntArray, Mesh
from .connected import connected_groups
from .half_edges import edge_numbers
from .mesh_checks import volume_shares
from .places import bad_mesh, centres, told


def turn_alike(mesh: Mesh) -> tuple[Mesh, tuple[str, ...]]:
    """The mesh with every patch facing as its neighbours, and a remark.

    Each triangle stands for two: as it faces, and turned. Those that go together hang
    together; of each two such groups the one with more triangles as they face stays.

    Raises
    ------
    BadMesh : a surface with one side only, with its place
    """
    first, second, alike = _neighbour_pairs(mesh.triangles)
    count = len(mesh.triangles)
    if alike.all():
        return mesh, ()
    here = np.concatenate((first, first + count))
    there = np.concatenate((np.where(alike, second, second + count),
                            np.where(alike, second + count, second)))  # fmt: skip
    groups = connected_groups(2 * count, here, there)
    as_is, turned = groups[:count], groups[count:]
    one_sided = as_is == turned
    if one_sided.any():
        raise bad_mesh(
            f"{one_sided.sum()} triangles of a surface that has one side only",
            centres(mesh, one_sided),
            "0 such triangles",
            "part the surface there and run again",
        )
    stays = np.bincount(as_is, minlength=2 * count)
    fewer, equal = stays[as_is] < stays[turned], stays[as_is] == stays[turned]
    flipped = fewer | (equal & (as_is > turned))
    triangles = np.where(flipped[:, None], mesh.triangles[:, ::-1], mesh.triangles)
    remark = told(
        centres(mesh, flipped), "triangle faced against its neighbours and was",
        "triangles faced against their neighbours and were", "turned",
    )  # fmt: skip
    return Mesh(mesh.vertices, triangles), (remark,)


def faced_out(mesh: Mesh) -> Mesh:
    """The mesh with every patch of it facing away from what it encloses, as far as it does."""
    alike, _ = turn_alike(mesh)
    a, b, c = alike.triangles.T
    pairs = np.concatenate((a, a)), np.concatenate((b, c))
    patch = connected_groups(len(mesh.vertices), *pairs)[a]
    volumes = np.bincount(patch, volume_shares(alike))
    inward = (volumes < 0.0)[patch]
    return Mesh(mesh.vertices, np.where(inward[:, None], alike.triangles[:, ::-1], alike.triangles))


def _neighbour_pairs(triangles: IntArray) -> tuple[IntArray, IntArray, IntArray]:
    """Triangles that share an edge with just one other, and whether they face alike."""
    numbers, counts = edge_numbers(triangles)
    half = np.flatnonzero(counts[numbers.ravel()] == 2)
    half = half[np.argsort(numbers.ravel()[half], kind="stable")].reshape(-1, 2)
    start = triangles.ravel()[half]
    return half[:, 0] // 3, half[:, 1] // 3, start[:, 0] != start[:, 1]
