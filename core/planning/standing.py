"""How a part without an axis stands on the bed: on which of its flat faces.

A flat face counts where the whole part lies on one side of it, so that the part can
rest on it. Facets that stand for a rounded surface do not count.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from ..meshes.connected import connected_groups
from ..meshes.convex_hull import convex_hull
from ..meshes.half_edges import pair_edges
from ..meshes.mesh_checks import triangle_normals
from ..meshes.products import heights_along
from ..surveying.cylinder_fit import frame_rows
from ..values import FIT_SLACK, BoolArray, FloatArray, IntArray, Mesh, read_only
from .floor_fit import fits_floor

_FLATNESS = 1e-3
"""How far off a plane, mm, corners may lie and still be of a flat face on it."""

_LEAST_WIDTH = 2.0
"""Nothing stands on a face narrower than this, mm; common practice, no source."""

_WAYS = 64
"""So many directions are tried, those that the most area faces."""

_BINS = 50.0
"""Normals are gathered by directions in steps of one part in so many."""

_SAME_PLANE_COSINE = math.cos(math.radians(0.05))
_SAME_WAY_COSINE = math.cos(math.radians(0.5))

_ROUND_TURN_COSINE = math.cos(math.radians(29.9))
"""Facets that turn by less from each other may stand for a rounded surface, one of more
than 12 sides."""

_ROUND_SHARE = 1.0 / 3.0
"""The facets of a rounded surface are of a size: each at least this share of the next."""

_STEEP = math.sin(math.radians(45.0))
"""Down-facing share of a normal from which a surface is an overhang; 45 degrees are
common practice, no source."""

_ALIKE = 0.01
"""Scores and heights that differ by less than this share are alike."""


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """A way to stand a part on the bed.

    rows : (3, 3) unit rows in the source's coordinates, the last one upright
    contact : mm2 of flat face on the bed; 0 where it stands on none
    overhang : mm2, seen from above, of all else that faces down by more than 45 degrees
    height : mm
    faces : how many flat faces the part could stand on, in the envelope or not
    """

    rows: FloatArray
    contact: float
    overhang: float
    height: float
    faces: int

    def __post_init__(self) -> None:
        read_only(self.rows)


def best_stand(mesh: Mesh, room: tuple[float, float, float]) -> Stand | None:
    """The best way to stand a part in an envelope; None where it fits in none.

    Of the flat faces on which it fits, turned about upright as it may be: the one with
    the most area on the bed less the area that overhangs, seen from above. Of those
    alike, within 1 % of the widest contact, the lowest; of those alike, the one whose
    upright is nearest the file's own z. Where it fits on no flat face it stands as it
    does in its file.

    Parameters
    ----------
    mesh : closed and outward, mm
    room : mm, the envelope as parts of their own size may use it
    """
    faces = _Faces.of(mesh)
    downs = list(_flat_ways(faces))
    stands = [faces.stand(down, len(downs)) for down in downs]
    fitting = [stand for stand in stands if _fits(mesh, stand, room)]
    if fitting:
        best = _best(fitting)
        return replace(best, rows=_square_on_bed(mesh, best.rows))
    as_filed = faces.stand(np.array([0.0, 0.0, -1.0]), len(downs))
    return as_filed if _fits(mesh, as_filed, room) else None


def _best(stands: list[Stand]) -> Stand:
    widest = max(stand.contact for stand in stands)
    most = max(stand.contact - stand.overhang for stand in stands)
    good = [stand for stand in stands if stand.contact - stand.overhang > most - _ALIKE * widest]
    lowest = min(stand.height for stand in good)
    low = [stand for stand in good if stand.height < lowest * (1.0 + _ALIKE)]
    return max(low, key=lambda stand: float(stand.rows[2, 2]))


def _fits(mesh: Mesh, stand: Stand, room: tuple[float, float, float]) -> bool:
    if stand.height > room[2] + FIT_SLACK:
        return False
    return fits_floor(mesh.vertices @ stand.rows[:2].T, room[:2])


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """A mesh with what its triangles tell.

    twins : (3 m,) the opposite half-edge of each half-edge
    areas : (m,) mm2
    flat_areas : (m,) mm2, of all that lies in one plane with each triangle and joins it
    """

    mesh: Mesh
    normals: FloatArray
    areas: FloatArray
    twins: IntArray
    flat_areas: FloatArray

    @classmethod
    def of(cls, mesh: Mesh) -> _Faces:
        """Of a closed mesh."""
        normals, areas = triangle_normals(mesh)
        edges = pair_edges(mesh.triangles, len(mesh.vertices))
        assert edges is not None  # mended meshes are closed
        twins = edges.twins()
        sides = np.flatnonzero(twins > np.arange(len(twins)))
        one, other = sides // 3, twins[sides] // 3
        level = np.einsum("ij,ij->i", normals[one], normals[other]) > _SAME_PLANE_COSINE
        groups = connected_groups(len(areas), one[level], other[level])
        flat_areas: FloatArray = np.bincount(groups, areas)[groups].astype(np.float64)
        return cls(mesh, normals, areas, twins, flat_areas)

    def on_bed(self, down: FloatArray) -> BoolArray:
        """(m,) whether triangles lie on the bed with a direction pointing down."""
        depths = heights_along(self.mesh.vertices, down)
        touching = depths >= depths.max() - _FLATNESS
        lying: BoolArray = touching[self.mesh.triangles].all(axis=1)
        return lying & (heights_along(self.normals, down) > _SAME_WAY_COSINE)

    def stand(self, down: FloatArray, faces: int) -> Stand:
        """The part with a direction pointing down."""
        on_bed = self.on_bed(down)
        facing = heights_along(self.normals, down)
        hanging = (facing > _STEEP) & ~on_bed
        return Stand(
            rows=_standing_rows(-down),
            contact=float(self.areas[on_bed].sum()),
            overhang=float((self.areas * facing)[hanging].sum()),
            height=float(np.ptp(heights_along(self.mesh.vertices, down))),
            faces=faces,
        )


def _standing_rows(upright: FloatArray) -> FloatArray:
    """The file's x kept where it is level enough, else its y."""
    reference = 1 if abs(float(upright[0])) > _STEEP else 0
    return frame_rows(upright, np.eye(3)[reference])


def _square_on_bed(mesh: Mesh, rows: FloatArray) -> FloatArray:
    """Turned about upright to the least box; not at all where that is no smaller by 1 %."""
    hull = convex_hull(mesh.vertices @ rows[:2].T)
    edges = np.roll(hull, -1, axis=0) - hull
    lengths = np.hypot(*edges.T)
    along = (edges / np.maximum(lengths, _FLATNESS)[:, None])[lengths > _FLATNESS]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    boxes = np.ptp(hull @ along.T, axis=0) * np.ptp(hull @ across.T, axis=0)
    least = int(boxes.argmin())
    if boxes[least] > (1.0 - _ALIKE) * float(np.prod(np.ptp(hull, axis=0))):
        return rows
    turned: FloatArray = np.vstack([along[least] @ rows[:2], across[least] @ rows[:2], rows[2]])
    return turned


def _flat_ways(faces: _Faces) -> Iterator[FloatArray]:
    """Directions to point down, each with a flat face on the bed; those of wide faces first."""
    given: list[FloatArray] = []
    for way in _facing_ways(faces):
        down = _squared(faces, _squared(faces, way))
        if any(float(down @ other) > _SAME_WAY_COSINE for other in given):
            continue
        on_bed = faces.on_bed(down)
        if _width(faces.mesh, on_bed, down) >= _LEAST_WIDTH and not _is_rounded(faces, on_bed):
            given.append(down)
            yield down


def _facing_ways(faces: _Faces) -> Iterator[FloatArray]:
    """Normals that much area has: of the widest triangle in each lot of alike ones."""
    steps = np.rint((faces.normals + 1.0) * _BINS).astype(np.int64)
    lots = np.unique(steps @ np.array([1_000_000, 1_000, 1]), return_inverse=True)[1].reshape(-1)
    areas = np.bincount(lots, faces.areas)
    for lot in np.argsort(-areas, kind="stable")[:_WAYS].tolist():
        rows = np.flatnonzero(lots == lot)
        widest = rows[int(faces.areas[rows].argmax())]
        if faces.areas[widest] > 0.0:
            yield faces.normals[widest]


def _squared(faces: _Faces, down: FloatArray) -> FloatArray:
    """A direction made square to all of the face that it puts on the bed."""
    on_bed = faces.on_bed(down)
    if not on_bed.any():
        return down
    total = faces.areas[on_bed] @ faces.normals[on_bed]
    squared: FloatArray = total / np.linalg.norm(total)
    return squared


def _width(mesh: Mesh, on_bed: BoolArray, down: FloatArray) -> float:
    """The least width, mm, of the outline around the triangles on the bed; 0 without any."""
    if not on_bed.any():
        return 0.0
    corners = mesh.vertices[np.unique(mesh.triangles[on_bed])] @ _standing_rows(-down)[:2].T
    hull = convex_hull(corners)
    edges = np.roll(hull, -1, axis=0) - hull
    edges = edges[np.hypot(*edges.T) > _FLATNESS]
    across = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.hypot(*edges.T)[:, None]
    return float(np.ptp(hull @ across.T, axis=0).min()) if len(edges) else 0.0


def _is_rounded(faces: _Faces, on_bed: BoolArray) -> bool:
    """Whether a face is one of many facets of a rounded surface.

    Along most of its border it turns but little into faces of about its own size.
    """
    ends = faces.mesh.triangles, np.roll(faces.mesh.triangles, -1, axis=1)
    sides = np.flatnonzero(np.repeat(on_bed, 3))
    sides = sides[~on_bed[faces.twins[sides] // 3]]
    beside = faces.twins[sides] // 3
    start, stop = (faces.mesh.vertices[corner.ravel()[sides]] for corner in ends)
    lengths = np.linalg.norm(stop - start, axis=1)
    turn = np.einsum("ij,ij->i", faces.normals[sides // 3], faces.normals[beside])
    alike = faces.flat_areas[beside] > _ROUND_SHARE * float(faces.areas[on_bed].sum())
    rounded = alike & (turn > _ROUND_TURN_COSINE)
    return bool(lengths[rounded].sum() > lengths.sum() / 2.0)
