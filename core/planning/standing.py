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
from ..meshes.farthest import Boxed
from ..meshes.half_edges import HalfEdges, pair_edges
from ..meshes.in_blocks import blocks
from ..meshes.mesh_checks import triangle_normals
from ..meshes.products import columns_along, heights_along
from ..surveying.cylinder_fit import frame_rows
from ..values import FIT_SLACK, FloatArray, IntArray, Mesh, read_only
from .floor_fit import fits_floor

_FLATNESS = 1e-3
"""How far off a plane, mm, corners may lie and still be of a flat face on it."""

_LEAST_WIDTH = 2.0
"""Nothing stands on a face narrower than this, mm; common practice, no source."""

_WAYS = 64
"""So many directions are tried, those that the most area faces."""

_BINS = 50.0
"""Normals are gathered by directions in steps of one part in so many."""

_LOTS = 2 * int(_BINS) + 1
"""Steps from one end of an axis to the other."""

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
    ways = list(_wide_ways(faces))
    filed = np.array([0.0, 0.0, -1.0])
    if not any(_fits(faces, down, room) for down in (filed, *(way.down for way in ways))):
        return None
    downs = _flat_ways(faces, ways)
    fitting = [down for down in downs if _fits(faces, down, room)]
    if fitting:
        best = _best([faces.stand(down, len(downs)) for down in fitting])
        return replace(best, rows=_square_on_bed(mesh, best.rows))
    return faces.stand(filed, len(downs)) if _fits(faces, filed, room) else None


def _best(stands: list[Stand]) -> Stand:
    widest = max(stand.contact for stand in stands)
    most = max(stand.contact - stand.overhang for stand in stands)
    good = [stand for stand in stands if stand.contact - stand.overhang > most - _ALIKE * widest]
    lowest = min(stand.height for stand in good)
    low = [stand for stand in good if stand.height < lowest * (1.0 + _ALIKE)]
    return max(low, key=lambda stand: float(stand.rows[2, 2]))


@dataclass(frozen=True, slots=True, eq=False)
class _Faces:
    """A mesh with what its triangles tell.

    areas : (m,) mm2
    """

    mesh: Mesh
    boxed: Boxed
    normals: FloatArray
    areas: FloatArray

    @classmethod
    def of(cls, mesh: Mesh) -> _Faces:
        """Of a closed mesh."""
        return cls(mesh, Boxed.of(mesh), *triangle_normals(mesh))

    def on_bed(self, down: FloatArray) -> IntArray:
        """Numbers of the triangles that lie on the bed with a direction pointing down."""
        touching = self.boxed.between(self.boxed.farthest(down, _FLATNESS))
        lying: IntArray = touching[self.normals[touching] @ down > _SAME_WAY_COSINE]
        return lying

    def height(self, down: FloatArray) -> float:
        """mm, of the part with a direction pointing down."""
        return self.boxed.reach(down) + self.boxed.reach(-down)

    def stand(self, down: FloatArray, faces: int) -> Stand:
        """The part with a direction pointing down."""
        on_bed = self.on_bed(down)
        facing = heights_along(self.normals, down)
        hanging = facing > _STEEP
        hanging[on_bed] = False
        return Stand(
            rows=_standing_rows(-down),
            contact=float(self.areas[on_bed].sum()),
            overhang=float((self.areas[hanging] * facing[hanging]).sum()),
            height=self.height(down),
            faces=faces,
        )


def _fits(faces: _Faces, down: FloatArray, room: tuple[float, float, float]) -> bool:
    """Whether it fits an envelope with a direction pointing down."""
    if faces.height(down) > room[2] + FIT_SLACK:
        return False
    return fits_floor(_seen_along(faces.mesh.vertices, down), room[:2])


def _seen_along(points: FloatArray, down: FloatArray) -> FloatArray:
    """(n, 2) mm, points as they are seen from above."""
    rows = _standing_rows(-down)
    return np.column_stack(columns_along(points, rows[:2], np.zeros(3)))


def _standing_rows(upright: FloatArray) -> FloatArray:
    """The file's x kept where it is level enough, else its y."""
    reference = 1 if abs(float(upright[0])) > _STEEP else 0
    return frame_rows(upright, np.eye(3)[reference])


def _square_on_bed(mesh: Mesh, rows: FloatArray) -> FloatArray:
    """Turned about upright to the least box; not at all where that is no smaller by 1 %."""
    hull = convex_hull(np.column_stack(columns_along(mesh.vertices, rows[:2], np.zeros(3))))
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


@dataclass(frozen=True, slots=True, eq=False)
class _Way:
    """A direction to point down.

    on_bed : numbers of the triangles that lie on the bed then
    """

    down: FloatArray
    on_bed: IntArray


def _wide_ways(faces: _Faces) -> Iterator[_Way]:
    """Directions that put a face wide enough to stand on the bed; those of wide faces first."""
    for facing in _facing_ways(faces):
        way = _squared(faces, _squared(faces, _Way(facing, faces.on_bed(facing))))
        if _width(faces.mesh, way) >= _LEAST_WIDTH:
            yield way


def _flat_ways(faces: _Faces, ways: list[_Way]) -> list[FloatArray]:
    """Of those the directions whose face is flat, each once."""
    given: list[FloatArray] = []
    if not ways:
        return given
    sides = _Sides.of(faces)
    for way in ways:
        known = any(float(way.down @ other) > _SAME_WAY_COSINE for other in given)
        if not known and not _is_rounded(faces, sides, way.on_bed):
            given.append(way.down)
    return given


def _facing_ways(faces: _Faces) -> Iterator[FloatArray]:
    """Normals that much area has: of the widest triangle in each lot of alike ones."""
    lots = np.zeros(len(faces.areas), np.int64)
    for column in faces.normals.T:
        lots = lots * _LOTS + np.rint((column + 1.0) * _BINS).astype(np.int64)
    areas = np.bincount(lots, faces.areas)
    widest = np.zeros(len(areas))
    np.maximum.at(widest, lots, faces.areas)
    rows = np.flatnonzero((faces.areas == widest[lots]) & (faces.areas > 0.0))
    rows = rows[np.unique(lots[rows], return_index=True)[1]]
    for row in rows[np.argsort(-areas[lots[rows]], kind="stable")[:_WAYS]].tolist():
        yield faces.normals[row]


def _squared(faces: _Faces, way: _Way) -> _Way:
    """A direction made square to all of the face that it puts on the bed."""
    if not len(way.on_bed):
        return way
    total = faces.areas[way.on_bed] @ faces.normals[way.on_bed]
    down = total / np.linalg.norm(total)
    return _Way(down, faces.on_bed(down))


def _width(mesh: Mesh, way: _Way) -> float:
    """The least width, mm, of the outline around the triangles on the bed; 0 without any."""
    if not len(way.on_bed):
        return 0.0
    corners = mesh.vertices[np.unique(mesh.triangles[way.on_bed])]
    hull = convex_hull(_seen_along(corners, way.down))
    edges = np.roll(hull, -1, axis=0) - hull
    edges = edges[np.hypot(*edges.T) > _FLATNESS]
    across = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.hypot(*edges.T)[:, None]
    return float(np.ptp(hull @ across.T, axis=0).min()) if len(edges) else 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Which triangles lie beside each other.

    one, other : (e,) numbers of the two at each edge
    ends : of the edges
    flat_areas : (m,) mm2, of all that lies in one plane with each triangle and joins it
    """

    one: IntArray
    other: IntArray
    ends: HalfEdges
    flat_areas: FloatArray

    @classmethod
    def of(cls, faces: _Faces) -> _Sides:
        """Of a closed mesh."""
        mesh, areas = faces.mesh, faces.areas
        edges = pair_edges(mesh.triangles, len(mesh.vertices))
        assert edges is not None  # mended meshes are closed
        one, other = edges.neighbours()
        level = np.flatnonzero(_turns(faces, one, other) > _SAME_PLANE_COSINE)
        groups = connected_groups(len(areas), one[level], other[level])
        flat_areas: FloatArray = np.bincount(groups, areas)[groups].astype(np.float64)
        return cls(one, other, edges.falling, flat_areas)


def _turns(faces: _Faces, one: IntArray, other: IntArray) -> FloatArray:
    """(e,) cosines of the angles between triangles."""
    turns = np.empty(len(one))
    for some in blocks(len(one)):
        pairs = [(column.take(one[some]), column.take(other[some])) for column in faces.normals.T]
        turns[some] = sum(first * second for first, second in pairs)
    return turns


def _is_rounded(faces: _Faces, sides: _Sides, on_bed: IntArray) -> bool:
    """Whether a face is one of many facets of a rounded surface.

    Along most of its border it turns but little into faces of about its own size.
    """
    lying = np.zeros(len(faces.areas), bool)
    lying[on_bed] = True
    ours = lying.take(sides.one)
    border = np.flatnonzero(ours != lying.take(sides.other))
    one, other = sides.one[border], sides.other[border]
    beside = np.where(ours[border], other, one)
    start, stop = (faces.mesh.vertices[ends] for ends in sides.ends.ends(border))
    lengths = np.linalg.norm(stop - start, axis=1)
    alike = sides.flat_areas[beside] > _ROUND_SHARE * float(faces.areas[on_bed].sum())
    rounded = alike & (_turns(faces, one, other) > _ROUND_TURN_COSINE)
    return bool(lengths[rounded].sum() > lengths.sum() / 2.0)
