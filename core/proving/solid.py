"""A piece as a reader of its file finds it, and what its surface alone tells."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..meshes.connected import connected_groups
from ..meshes.half_edges import pair_edges
from ..meshes.mesh_checks import enclosed_volume, weld
from ..values import FloatArray, Frame, Mesh, Piece
from .section import any_corner

_GAUSS = 0.5 - math.sqrt(1.0 / 12.0), 0.5 + math.sqrt(1.0 / 12.0)


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A piece read back: welded by equal float32 coordinates.

    filed : in the pose of its file
    placed : the same triangles in the part frame, assembled
    faults : edges not shared by two triangles running opposite ways, and
        triangles that welding collapsed
    shells : groups of triangles that share edges: the body, and each cavity in it
    """

    name: str
    filed: Mesh
    placed: Mesh
    faults: int
    shells: int
    euler: int
    volume: float

    @property
    def is_sound(self) -> bool:
        """Closed and outward: its sections mean something."""
        return self.faults == 0 and self.volume > 0.0


def read_solid(piece: Piece, frame: Frame) -> Solid:
    """Read a piece as its file holds it and measure its surface."""
    stored = piece.mesh.vertices.astype(np.float32).astype(np.float64)
    filed = weld(Mesh(stored, piece.mesh.triangles))
    collapsed = len(piece.mesh.triangles) - len(filed.triangles)
    placed = Mesh(frame.to_part(piece.in_source(filed.vertices)), filed.triangles)
    wrong, shells = _edge_faults_and_shells(filed)
    return Solid(
        name=piece.name,
        filed=filed,
        placed=placed,
        faults=wrong + collapsed,
        shells=shells,
        euler=euler_number(filed),
        volume=enclosed_volume(placed) if len(placed.triangles) else 0.0,
    )


def _edge_faults_and_shells(mesh: Mesh) -> tuple[int, int]:
    """Edges without exactly two triangles that run them opposite ways; shells."""
    edges = pair_edges(mesh.triangles, len(mesh.vertices)) if len(mesh.triangles) else None
    if edges is None:
        return _faults_and_shells_of_any(mesh)
    twins = edges.twins()
    sides = np.flatnonzero(twins > np.arange(len(twins)))
    groups = connected_groups(len(mesh.triangles), sides // 3, twins[sides] // 3)
    return 0, int(groups.max(initial=-1)) + 1


def _faults_and_shells_of_any(mesh: Mesh) -> tuple[int, int]:
    """The same where edges do not pair: each edge's triangles, counted one by one."""
    start = mesh.triangles.ravel()
    end = np.roll(mesh.triangles, -1, axis=1).ravel()
    codes = np.minimum(start, end) * len(mesh.vertices) + np.maximum(start, end)
    order = np.argsort(codes, kind="stable")
    codes, forward = codes[order], (start < end)[order].astype(np.int64)
    starts = np.flatnonzero(np.diff(codes, prepend=-1))
    sizes = np.diff(starts, append=len(codes))
    ways = np.add.reduceat(forward, starts) if len(starts) else np.empty(0, np.int64)
    wrong = int(((sizes != 2) | (ways != 1)).sum())
    same = np.flatnonzero(codes[1:] == codes[:-1])
    triangle = order // 3
    groups = connected_groups(len(mesh.triangles), triangle[same], triangle[same + 1])
    return wrong, int(groups.max(initial=-1)) + 1


def cavity_reaches(mesh: Mesh) -> FloatArray:
    """(c, 2) lowest and highest station of each shell of a closed mesh but its largest."""
    a, b, c = (mesh.triangles[:, k] for k in range(3))
    shells = connected_groups(len(mesh.vertices), np.concatenate([a, b]), np.concatenate([b, c]))
    count = int(shells.max(initial=-1)) + 1
    if count < 2:
        return np.empty((0, 2))
    lows, highs = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(lows, shells, mesh.vertices[:, 2])
    np.maximum.at(highs, shells, mesh.vertices[:, 2])
    return np.delete(np.column_stack([lows, highs]), np.argmax(highs - lows), axis=0)


def euler_number(mesh: Mesh) -> int:
    """Vertices less edges plus triangles: 0 for a tube, 2 less for each side hole.

    Of a closed mesh: it has three edges to two triangles.
    """
    return len(mesh.vertices) - len(mesh.triangles) // 2


def ways_through(euler: int, shells: int) -> float:
    """How many ways lead through closed shells of an Euler number: bores, and holes into them.

    None through a solid bar, one through a tube, one more for each side hole. A bore
    that ends within is none.
    """
    return shells - euler / 2.0


def euler_between(mesh: Mesh, low: float, high: float) -> int:
    """Euler number of a closed surface between two planes of constant z, open at both.

    A plane's cut adds as many vertices as edges, so only what lies between
    counts: vertices inside, edges and triangles that reach inside. Each edge is
    met from both its triangles.
    """
    heights = mesh.vertices[:, 2]
    over, under = heights > low, heights < high
    triangles = mesh.triangles[any_corner(over, mesh.triangles) & any_corner(under, mesh.triangles)]
    twice = 0
    for k in range(3):
        one, other = triangles[:, k], triangles[:, (k + 1) % 3]
        twice += int(((over[one] | over[other]) & (under[one] | under[other])).sum())
    return int((over & under).sum()) - twice // 2 + len(triangles)


def volume_between(mesh: Mesh, low: float, high: float) -> float:
    """Volume, mm3, of a closed mesh between two planes of constant z: its sections summed.

    A triangle with corners a, b, c from the lowest up adds p x q / 2 to the area of a
    section, where p is the place on a c and q the one on a b or b c. That is quadratic in
    z from corner to corner, so two Gauss points sum it exactly.
    """
    heights = mesh.vertices[:, 2]
    reached = any_corner(heights > low, mesh.triangles) & any_corner(heights < high, mesh.triangles)
    triangles = mesh.triangles[reached]
    order = np.argsort(heights[triangles], axis=1, kind="stable")
    turned = np.where((order[:, 1] - order[:, 0]) % 3 == 1, 1.0, -1.0)
    middle = np.array([*mesh.vertices[:, :2].mean(axis=0), 0.0]) if len(triangles) else 0.0
    a, b, c = (
        (mesh.vertices[triangles[np.arange(len(order)), order[:, k]]] - middle).T for k in range(3)
    )
    return sum(float(turned @ _swept((a, c), side, low, high)) for side in ((a, b), (b, c)))


def _swept(
    whole: tuple[FloatArray, FloatArray],
    side: tuple[FloatArray, FloatArray],
    low: float,
    high: float,
) -> FloatArray:
    """(k,) mm3, what triangles add between the ends of a side of theirs, and between planes.

    whole, side : the lower and higher end, (3, k), of each one's highest edge and of that side
    """
    bottom, top = np.maximum(side[0][2], low), np.minimum(side[1][2], high)
    height = np.maximum(top - bottom, 0.0)
    swept = np.zeros(len(height))
    for place in _GAUSS:
        z = bottom + place * height
        (px, py), (qx, qy) = _at(*whole, z), _at(*side, z)
        swept += height / 4.0 * (px * qy - py * qx)
    return swept


def _at(start: FloatArray, stop: FloatArray, z: FloatArray) -> FloatArray:
    """(2, k) where edges, each from its lower end to its higher one, pass their stations."""
    rise = stop[2] - start[2]
    share = np.clip((z - start[2]) / np.where(rise > 0.0, rise, 1.0), 0.0, 1.0)
    points: FloatArray = start[:2] + share * (stop[:2] - start[:2])
    return points
