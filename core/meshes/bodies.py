"""The bodies that a closed mesh is made of: what lies within what, and which way it faces."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from ..errors import BadMesh
from ..values import FloatArray, IntArray, Mesh
from .connected import connected_groups
from .crossings import crossing_points
from .mesh_checks import volume_shares
from .places import bad_mesh, counted, told

SPECK = 1.0
"""Closed bodies of less volume, mm3, are dropped."""

_MOST_SHELLS = 200
"""Of more shells it is not worked out which lie in which."""

FLAT = 1e-9
"""A volume this small beside the cube of the length is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Shell:
    """A closed surface that hangs together.

    rows : (k,) int, its triangles
    volume : mm3, negative where it faces inward
    low, high : (3,) mm, of its box
    """

    rows: IntArray
    volume: float
    low: FloatArray
    high: FloatArray

    @property
    def middle(self) -> FloatArray:
        """Of its box."""
        middle: FloatArray = (self.low + self.high) / 2.0
        return middle


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """An outer shell that faces outward, with the cavities within it, which face inward."""

    triangles: IntArray
    rows: IntArray
    volume: float
    low: FloatArray
    remarks: tuple[str, ...]


def part_bodies(mesh: Mesh) -> tuple[tuple[Body, ...], tuple[str, ...]]:
    """The bodies of a closed mesh, largest first, without specks; and a remark on those.

    Raises
    ------
    BadMesh : nothing with a volume, too many shells, or shells that pass through each other
    """
    shells = _shells(mesh)
    large = [shell for shell in shells if abs(shell.volume) >= SPECK]
    specks = [shell for shell in shells if abs(shell.volume) < SPECK]
    _check_shells(large, specks)
    _check_apart(mesh, large)
    depths, parents = _nesting(mesh, large)
    bodies = [
        _body(mesh, shell, [large[j] for j, parent in enumerate(parents) if parent == k])
        for k, shell in enumerate(large)
        if depths[k] % 2 == 0
    ]
    bodies.sort(key=lambda body: (-round(body.volume, 3), *body.low.tolist()))
    if not specks:
        return tuple(bodies), ()
    places = np.array([speck.middle for speck in specks])
    remark = told(places, "speck was", "specks were", f"under {SPECK:g} mm3 and dropped")
    return tuple(bodies), (remark,)


def turned_outward(count: int) -> str:
    """The remark on a body that was inside out."""
    return f"All {count} triangles faced inward; they were turned outward."


def _shells(mesh: Mesh) -> list[Shell]:
    a, b, c = mesh.triangles.T
    first, second = np.concatenate((a, a)), np.concatenate((b, c))
    group = connected_groups(len(mesh.vertices), first, second)[a]
    group = np.unique(group, return_inverse=True)[1].reshape(-1)
    order = np.argsort(group, kind="stable")
    starts = np.flatnonzero(np.diff(group[order], prepend=-1))
    corners = mesh.vertices[mesh.triangles[order].ravel()]
    lows = np.minimum.reduceat(corners, 3 * starts, axis=0)
    highs = np.maximum.reduceat(corners, 3 * starts, axis=0)
    rows = np.split(order, starts[1:])
    volumes = np.bincount(group, volume_shares(mesh)).tolist()
    return [Shell(*shell) for shell in zip(rows, volumes, lows, highs, strict=True)]


def _check_shells(large: list[Shell], specks: list[Shell]) -> None:
    solid = [
        shell
        for shell in large
        if abs(shell.volume) > FLAT * float((shell.high - shell.low).max()) ** 3
    ]
    if len(solid) < len(large) or not large:
        flat = [shell for shell in large if shell not in solid] or specks
        volume = max(abs(shell.volume) for shell in flat)
        raise bad_mesh(
            f"{counted(len(flat), 'body', 'bodies')} of at most {volume:.3g} mm3",
            np.array([shell.middle for shell in flat]),
            f"a solid part, of {SPECK:g} mm3 at the least",
            "another file, or --units if it is larger than that",
        )
    if len(large) > _MOST_SHELLS:
        raise bad_mesh(
            f"{len(large)} separate shells of {SPECK:g} mm3 and more",
            np.array([shell.middle for shell in large]),
            f"{_MOST_SHELLS} at the most",
            "save each body to a file of its own",
        )


# What lies within what


def _check_apart(mesh: Mesh, shells: list[Shell]) -> None:
    """No two shells run through each other."""
    for first, second in combinations(shells, 2):
        points = crossing_points(mesh, first.rows, second.rows)
        if len(points):
            raise _passing(points)


def _nesting(mesh: Mesh, shells: list[Shell]) -> tuple[list[int], list[int | None]]:
    """How many shells each lies in, and which is the innermost of those."""
    within = [
        [j for j, outer in enumerate(shells) if j != k and _lies_in(mesh, shell, outer)]
        for k, shell in enumerate(shells)
    ]
    depths = [len(outers) for outers in within]
    parents = [max(outers, key=lambda j: depths[j]) if outers else None for outers in within]
    return depths, parents


def _lies_in(mesh: Mesh, shell: Shell, outer: Shell) -> bool:
    """Does all of a shell lie in another?

    Raises
    ------
    BadMesh : some of it does
    """
    if (shell.low < outer.low).any() or (shell.high > outer.high).any():
        return False
    points = _samples(mesh.vertices[mesh.triangles[shell.rows].ravel()])
    inside = np.array([_is_inside(mesh, outer.rows, point) for point in points])
    if inside.any() and not inside.all():
        raise _passing(points[inside])
    return bool(inside.all())


def _passing(points: FloatArray) -> BadMesh:
    return bad_mesh(
        "2 bodies that pass through each other",
        points,
        "bodies that lie apart, or one within the other",
        "join them to one body, or part them, and run again",
    )


def _samples(points: FloatArray) -> FloatArray:
    """The points that lie farthest along each of the axes and the cube's diagonals."""
    ways = [[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)]
    tilted = np.array(ways[:13]) + np.array([1e-3, 2e-3, 3e-3])
    heights = points @ np.vstack((tilted, -tilted)).T
    farthest: FloatArray = np.unique(points[heights.argmax(axis=0)], axis=0)
    return farthest


def _is_inside(mesh: Mesh, rows: IntArray, point: FloatArray) -> bool:
    """Does a closed surface wind around a point? By the solid angles of its triangles.

    Van Oosterom and Strackee (1983), The solid angle of a plane triangle, IEEE
    Transactions on Biomedical Engineering 30, p. 125, equation 8 (from memory).
    """
    a, b, c = (mesh.vertices[mesh.triangles[rows, k]] - point for k in range(3))
    la, lb, lc = (np.sqrt(np.einsum("ij,ij->i", side, side)) for side in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = (
        la * lb * lc
        + np.einsum("ij,ij->i", a, b) * lc
        + np.einsum("ij,ij->i", b, c) * la
        + np.einsum("ij,ij->i", c, a) * lb
    )
    turns = float(np.arctan2(over, under).sum()) / (2.0 * np.pi)
    return abs(turns) > 0.5


def _check_cavities(shell: Shell, cavities: list[Shell]) -> None:
    """What lies in a body must face the other way: else it is solid twice over."""
    solid = [cavity for cavity in cavities if (cavity.volume > 0.0) == (shell.volume > 0.0)]
    if solid:
        volume = sum(abs(cavity.volume) for cavity in solid)
        raise bad_mesh(
            f"{counted(len(solid), 'body', 'bodies')} of {volume:.1f} mm3 in the solid of another, "
            "facing outward like it",
            np.array([cavity.middle for cavity in solid]),
            "0 such bodies: a cavity faces inward, and what is solid cannot be filled again",
            "take it out, or turn it inside out where it is meant as a hollow",
        )


def _body(mesh: Mesh, shell: Shell, cavities: list[Shell]) -> Body:
    remarks = []
    parts = [mesh.triangles[shell.rows]]
    if shell.volume < 0.0:
        parts[0] = parts[0][:, ::-1]
        remarks.append(turned_outward(len(shell.rows)))
    for cavity in cavities:
        part = mesh.triangles[cavity.rows]
        parts.append(part if cavity.volume < 0.0 else part[:, ::-1])
    _check_cavities(shell, cavities)
    if cavities:
        places = np.array([cavity.middle for cavity in cavities])
        volume = sum(abs(cavity.volume) for cavity in cavities)
        remarks.append(
            told(
                places, "sealed cavity of", "sealed cavities, together of", f"{volume:.1f} mm3 kept"
            )
        )
    return Body(
        np.vstack(parts),
        np.concatenate([shell.rows, *(cavity.rows for cavity in cavities)]),
        abs(shell.volume) - sum(abs(cavity.volume) for cavity in cavities),
        shell.low,
        tuple(remarks),
    )
