"""A piece as a reader of its file finds it, and what its surface alone tells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.connected import connected_groups
from ..meshes.mesh_checks import enclosed_volume, weld
from ..values import Frame, IntArray, Mesh, Piece
from .section import any_corner, band_of


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """A piece read back: welded by equal float32 coordinates.

    filed : in the pose of its file
    placed : the same triangles in the part frame, assembled
    faults : edges not shared by two triangles running opposite ways, and
        triangles that welding collapsed
    bodies : groups of triangles that share edges
    """

    name: str
    filed: Mesh
    placed: Mesh
    faults: int
    bodies: int
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
    turned = filed.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    placed = Mesh(frame.to_part(turned), filed.triangles)
    wrong, bodies = _edge_faults_and_bodies(filed)
    return Solid(
        name=piece.name,
        filed=filed,
        placed=placed,
        faults=wrong + collapsed,
        bodies=bodies,
        euler=euler_number(filed),
        volume=enclosed_volume(filed) if len(filed.triangles) else 0.0,
    )


def _edge_faults_and_bodies(mesh: Mesh) -> tuple[int, int]:
    """Edges without exactly two triangles that run them opposite ways; bodies."""
    codes, forward = _edge_codes(mesh)
    order = np.argsort(codes, kind="stable")
    codes, forward = codes[order], forward[order]
    starts = np.flatnonzero(np.diff(codes, prepend=-1))
    sizes = np.diff(starts, append=len(codes))
    ways = np.add.reduceat(forward, starts) if len(starts) else np.empty(0, np.int64)
    wrong = int(((sizes != 2) | (ways != 1)).sum())
    same = np.flatnonzero(codes[1:] == codes[:-1])
    triangle = order // 3
    groups = connected_groups(len(mesh.triangles), triangle[same], triangle[same + 1])
    return wrong, int(groups.max(initial=-1)) + 1


def _edge_codes(mesh: Mesh) -> tuple[IntArray, IntArray]:
    """(3 m,) number of each half-edge's edge, and 1 where it runs to the later vertex."""
    start = mesh.triangles.ravel()
    end = np.roll(mesh.triangles, -1, axis=1).ravel()
    codes = np.minimum(start, end) * len(mesh.vertices) + np.maximum(start, end)
    return codes, (start < end).astype(np.int64)


def euler_number(mesh: Mesh) -> int:
    """Vertices less edges plus triangles: 0 for a tube, 2 less for each side hole."""
    return euler_between(mesh, -np.inf, np.inf)


def euler_between(mesh: Mesh, low: float, high: float) -> int:
    """Euler number of the surface between two planes of constant z, open at both.

    A plane's cut adds as many vertices as edges, so only what lies between
    counts: vertices inside, edges and triangles that reach inside.
    """
    mesh = band_of(mesh, low, high)
    heights = mesh.vertices[:, 2]
    over, under = heights > low, heights < high
    edges = np.unique(_edge_codes(mesh)[0])
    one, other = edges // len(heights), edges % len(heights)
    reaching = (over[one] | over[other]) & (under[one] | under[other])
    touching = any_corner(over, mesh.triangles) & any_corner(under, mesh.triangles)
    return int((over & under).sum()) - int(reaching.sum()) + int(touching.sum())
