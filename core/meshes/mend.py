"""Source meshes made sound: welded, closed, outward, one body each. All that is done is told."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from ..errors import BadMesh
from ..values import IntArray, Mesh, read_only
from .bodies import FLAT, SPECK, Body, part_bodies, turned_outward
from .connected import groups_of_pairs
from .cracks import split_at_cracks, weld_cracks
from .doubles import drop_collapsed, drop_doubles
from .fans import part_touching, touching_vertices
from .half_edges import Edges, pair_edges
from .in_blocks import Beside
from .mesh_checks import (
    check_closed,
    check_triangles,
    check_uncrowded,
    compact,
    enclosed_volume,
    extent,
    join_equal,
)
from .orient import turn_alike
from .places import bad_mesh, counted
from .rims import check_few_open
from .tears import Tear, close_tears


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

    What the whole file needed is told with the first body.

    Raises
    ------
    BadMesh : what cannot be repaired, with its places and sizes
    """
    check_triangles(mesh)
    mesh = compact(mesh.vertices, mesh.triangles)
    _check_finite(mesh)
    welded = join_equal(mesh)
    remarks = _told_welding(len(mesh.vertices) - len(welded.vertices))
    edges = pair_edges(welded.triangles, len(welded.vertices))
    if edges is not None and _is_one_sheet(welded, edges):
        whole = _one_body(welded, remarks)
        if whole is not None:
            return (whole,)
    return _mended(welded, edges, remarks)


def _told_welding(joined: int) -> tuple[str, ...]:
    if not joined:
        return ()
    vertices = counted(joined, "vertex was", "vertices were")
    return (f"{vertices} welded to another at equal coordinates.",)


def _is_one_sheet(mesh: Mesh, edges: Edges) -> bool:
    """Does a closed mesh hang together, and nowhere touch itself in a point?"""
    with Beside(partial(touching_vertices, edges, mesh)) as touching:
        groups = groups_of_pairs(len(mesh.vertices), len(edges.mates), edges.falling.ends)
        return not groups.any() and not len(touching.result())


def _one_body(mesh: Mesh, remarks: tuple[str, ...]) -> MendedBody | None:
    """The body that one closed sheet bounds, if it has a volume to speak of."""
    volume = enclosed_volume(mesh)
    if abs(volume) < max(SPECK, FLAT * extent(mesh) ** 3):
        return None
    if volume < 0.0:
        mesh = Mesh(mesh.vertices, mesh.triangles[:, ::-1])
        remarks = (*remarks, turned_outward(len(mesh.triangles)))
    return MendedBody(mesh, remarks, np.broadcast_to(np.int64(-1), len(mesh.triangles)), ())


def _check_finite(mesh: Mesh) -> None:
    """Told with the finite vertices beside those that are not, as places."""
    if np.isfinite(mesh.vertices).all():
        return
    finite = np.isfinite(mesh.vertices).all(axis=1)
    wrong = np.flatnonzero(~finite)
    beside = mesh.triangles[~finite[mesh.triangles].all(axis=1)].ravel()
    beside = np.unique(beside[finite[beside]])
    found = f"{counted(len(wrong), 'vertex', 'vertices')} not of finite numbers"
    needed, remedy = "finite coordinates", "export the mesh again"
    if not len(beside):
        raise BadMesh(found, needed, remedy)
    raise bad_mesh(f"{found}, in triangles with others", mesh.vertices[beside], needed, remedy)


def _mended(mesh: Mesh, edges: Edges | None, welding: tuple[str, ...]) -> tuple[MendedBody, ...]:
    remarks, fills = [*welding], np.full(len(mesh.triangles), -1)
    tears: tuple[Tear, ...] = ()
    if edges is None:
        mesh, fills, tears, done = _closed(mesh)
        remarks += done
        edges = _closed_edges(mesh)
    mesh, done = part_touching(mesh, edges)
    remarks += done
    bodies, done = part_bodies(mesh)
    remarks += done
    return tuple(
        _finished(mesh, fills, tears, body, remarks if k == 0 else [])
        for k, body in enumerate(bodies)
    )


def _closed(mesh: Mesh) -> tuple[Mesh, IntArray, tuple[Tear, ...], tuple[str, ...]]:
    """The mesh with every edge between two triangles that face alike; as `close_tears`."""
    remarks: list[str] = []
    for step in (drop_collapsed, drop_doubles, weld_cracks, drop_collapsed, drop_doubles):
        mesh, done = step(mesh)
        remarks += done
    if not len(mesh.triangles):
        raise BadMesh("0 triangles with an area", "at least 4, closed", "another file")
    check_few_open(mesh)
    for step in (split_at_cracks, drop_doubles):
        mesh, done = step(mesh)
        remarks += done
    check_uncrowded(mesh)
    mesh, done = turn_alike(mesh)
    closed, fills, tears, closing = close_tears(mesh)
    return closed, fills, tears, (*remarks, *done, *closing)


def _closed_edges(mesh: Mesh) -> Edges:
    edges = pair_edges(mesh.triangles, len(mesh.vertices))
    if edges is None:
        check_closed(mesh)
    assert edges is not None
    return edges


def _finished(
    mesh: Mesh, fills: IntArray, tears: tuple[Tear, ...], body: Body, remarks: list[str]
) -> MendedBody:
    filled = fills[body.rows]
    mine = np.unique(filled[filled >= 0])
    number = np.full(len(tears) + 1, -1)
    number[mine] = np.arange(len(mine))
    return MendedBody(
        compact(mesh.vertices, body.triangles),
        (*remarks, *body.remarks),
        number[filled],
        tuple(tears[k] for k in mine),
    )
