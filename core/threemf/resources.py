"""Objects of a 3MF model, what they are made of, and all of it in its place.

An object may hold only objects that were defined before it, as the standard says: so none
can hold itself. What an object comes to with all that it holds is counted when it is
defined, so that a few lines that would multiply without end are refused at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import BadFile
from ..meshes.coordinates import check_coordinates
from ..values import FloatArray, IntArray, Mesh, read_only

MOST_TRIANGLES = 10_000_000
MOST_PLACED = 100_000
_DEEPEST = 32
_REMEDY = "export the part again, as one mesh or as STL"


@dataclass(frozen=True, slots=True, eq=False)
class Placing:
    """An object held by another, or by the build.

    matrix : (4, 4) for columns
    """

    number: int
    matrix: FloatArray

    def __post_init__(self) -> None:
        read_only(self.matrix)


@dataclass(frozen=True, slots=True, eq=False)
class Resource:
    """An object: a mesh, or others in their places.

    kind : its type, as the standard has it
    deep : how many objects lie in each other, itself among them
    placed, triangles : meshes, and triangles, that it comes to with all that it holds
    """

    kind: str
    mesh: Mesh | None
    parts: tuple[Placing, ...]
    deep: int
    placed: int
    triangles: int


def mesh_resource(kind: str, mesh: Mesh) -> Resource:
    """An object that is a mesh."""
    return Resource(kind, mesh, (), 1, 1, len(mesh.triangles))


def group_resource(
    number: int, kind: str, parts: Sequence[Placing], known: Mapping[int, Resource]
) -> Resource:
    """An object made of others.

    known : those that were defined before it

    Raises
    ------
    BadFile : one is not defined before, it itself perhaps; too deep, or too much
    """
    held = [find_resource(part.number, known, f"object {number}") for part in parts]
    deep = 1 + max(one.deep for one in held)
    if deep > _DEEPEST:
        raise BadFile(
            f"object {number} holds objects {deep} deep", f"at most {_DEEPEST} deep", _REMEDY
        )
    placed, triangles = _sums(held, f"object {number}")
    return Resource(kind, None, tuple(parts), deep, placed, triangles)


def find_resource(number: int, known: Mapping[int, Resource], holder: str) -> Resource:
    """An object that another, or the build, refers to.

    Raises
    ------
    BadFile : it was not defined before
    """
    if number not in known:
        raise BadFile(
            f"{holder} holds object {number}, which is not defined before it",
            "objects that are: so that none can hold itself",
            _REMEDY,
        )
    return known[number]


def placed_mesh(items: Sequence[Placing], known: Mapping[int, Resource]) -> Mesh:
    """One mesh of all that the build holds, in its order, mirrored parts turned outward.

    Coordinates are float32, as those of every other file that is read.

    Raises
    ------
    BadFile : too much, flattened by its transforms, or too far away
    """
    _sums([known[item.number] for item in items], "the build")
    vertices: list[FloatArray] = []
    triangles: list[IntArray] = []
    count = 0
    for mesh, matrix, number in _leaves(items, np.eye(4), known):
        vertices.append(_moved(mesh.vertices, matrix, number))
        triangles.append(count + _facing(mesh.triangles, matrix, number))
        count += len(mesh.vertices)
    points = np.concatenate(vertices).astype(np.float32)
    return Mesh(points.astype(np.float64), np.concatenate(triangles))


def _leaves(
    parts: Sequence[Placing], around: FloatArray, known: Mapping[int, Resource]
) -> Iterator[tuple[Mesh, FloatArray, int]]:
    """Each mesh with its matrix and the number of its object. As deep as objects may lie."""
    for part in parts:
        one, matrix = known[part.number], around @ part.matrix
        if one.mesh is not None:
            yield one.mesh, matrix, part.number
        else:
            yield from _leaves(one.parts, matrix, known)


def _moved(points: FloatArray, matrix: FloatArray, number: int) -> FloatArray:
    """Column by column: a matrix product of many points would start threads."""
    with np.errstate(over="ignore", invalid="ignore"):  # told just below
        x, y, z = points.T
        columns = [x * a + y * b + z * c + d for a, b, c, d in matrix[:3]]
    moved = np.column_stack(columns)
    check_coordinates(moved, per_triangle=False, whose=f"object {number} in its place")
    return moved


def _facing(triangles: IntArray, matrix: FloatArray, number: int) -> IntArray:
    """A mirrored mesh has its inside out: its triangles run the other way round."""
    turned = float(np.linalg.det(matrix[:3, :3]))
    if not abs(turned) > 0.0:
        raise BadFile(
            f"transforms that flatten object {number}: determinant {turned:g}",
            "a determinant that is not 0", _REMEDY,
        )  # fmt: skip
    return triangles[:, ::-1] if turned < 0.0 else triangles


def _sums(held: Sequence[Resource], holder: str) -> tuple[int, int]:
    """Meshes and triangles in all."""
    placed, triangles = sum(one.placed for one in held), sum(one.triangles for one in held)
    for count, most, what in (
        (placed, MOST_PLACED, "meshes in their places"),
        (triangles, MOST_TRIANGLES, "triangles"),
    ):
        if count > most:
            raise BadFile(f"{holder} comes to {count:,} {what}", f"at most {most:,}", _REMEDY)
    return placed, triangles
