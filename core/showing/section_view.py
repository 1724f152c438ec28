"""The pieces cut open by a plane through the axis, hatched as in section drawings."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..meshes.plane_sections import cut_sections
from ..values import FloatArray, Frame, Mesh, Piece, Role, read_only
from .drawing import Line, Style
from .rings import in_order

HATCH_PIXELS = 8.0
"""Between two lines of a hatching."""
_MOST_HATCHES = 8000
"""Lines of one hatching, however near one looks."""


@dataclass(frozen=True, slots=True, eq=False)
class CutFace:
    """Where a plane through the axis cuts a piece.

    starts, ends : (n, 2) mm, (x, station) in the plane; in order around each outline, the
        piece lies on the right of each as x points right and stations up
    rising : whether its hatching rises to the right: neighbours differ
    area : mm2
    """

    starts: FloatArray
    ends: FloatArray
    rising: bool
    role: Role
    area: float

    def __post_init__(self) -> None:
        read_only(self.starts)
        read_only(self.ends)


def piece_in_part(piece: Piece, frame: Frame) -> Mesh:
    """A piece in its place in the part, its own size, in the part frame."""
    own = piece.mesh.vertices / piece.scale
    matrix = piece.to_source
    return Mesh(frame.to_part(own @ matrix[:3, :3].T + matrix[:3, 3]), piece.mesh.triangles)


def cut_pieces(pieces: Sequence[Piece], frame: Frame, angle: float) -> list[CutFace]:
    """Each piece cut by the plane through the axis at an angle about it."""
    faces = []
    rising = False
    for piece in pieces:
        if piece.role == "piece":
            rising = not rising
        faces.append(cut_face(piece_in_part(piece, frame), angle, piece.role, rising=rising))
    return faces


def cut_face(mesh: Mesh, angle: float, role: Role = "piece", *, rising: bool = True) -> CutFace:
    """One closed mesh, in the part frame, cut by that plane."""
    across, beside = _directions(angle)
    columns = [
        np.ascontiguousarray(mesh.vertices[:, 2]),
        mesh.vertices @ across,
        mesh.vertices @ beside,
    ]
    sections = cut_sections(columns, mesh.triangles, np.zeros(1))
    order = in_order(sections.following, sections.outline)
    return CutFace(
        starts=sections.starts[order][:, ::-1].copy(),
        ends=sections.ends[order][:, ::-1].copy(),
        rising=rising,
        role=role,
        area=float(sections.areas.sum()),
    )


def face_lines(face: CutFace, angle: float, mm_per_pixel: float) -> list[Line]:
    """Outline and hatching of a cut face, in the part frame."""
    tilt = math.pi / 4.0 if face.rising else 3.0 * math.pi / 4.0
    hatches = hatching(face.starts, face.ends, tilt, HATCH_PIXELS * mm_per_pixel)
    style: Style = "solid" if face.role == "piece" else "dashed"
    return [
        Line(
            _in_space(hatches[:, 0], angle),
            _in_space(hatches[:, 1], angle),
            style,
            layer="front",
            width=1.0,
        ),
        Line(_in_space(face.starts, angle), _in_space(face.ends, angle), layer="front", width=2.0),
    ]


def hatching(starts: FloatArray, ends: FloatArray, tilt: float, spacing: float) -> FloatArray:
    """(m, 2, 2) parallel strokes that fill closed outlines.

    Lines lie at whole multiples of the spacing from the origin. Of what each line crosses,
    in order, it is inside from every other crossing to the next.

    Parameters
    ----------
    starts, ends : (n, 2) mm
    tilt : radians, of the strokes from the first direction
    spacing : mm between two lines; more where that would be too many
    """
    if not len(starts):
        return np.empty((0, 2, 2))
    along = np.array([math.cos(tilt), math.sin(tilt)])
    off = np.array([-along[1], along[0]])
    low, high = starts @ off, ends @ off
    spacing = max(spacing, float(np.ptp(low)) / _MOST_HATCHES)
    first, last = (np.ceil(np.fmin(low, high) / spacing), np.ceil(np.fmax(low, high) / spacing))
    counts = (last - first).astype(np.int64)
    row = np.repeat(np.arange(len(counts)), counts)
    line = np.arange(len(row)) - np.repeat(np.cumsum(counts) - counts, counts) + first[row]
    share = (line * spacing - low[row]) / (high[row] - low[row])
    reach = (starts @ along)[row] + share * ((ends - starts) @ along)[row]
    order = np.lexsort((reach, line))
    points: FloatArray = (line * spacing)[order, None] * off + reach[order, None] * along
    return points.reshape(-1, 2, 2)


def _directions(angle: float) -> tuple[FloatArray, FloatArray]:
    """In the plane across the axis, and square to the plane."""
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([cos, sin, 0.0]), np.array([-sin, cos, 0.0])


def _in_space(points: FloatArray, angle: float) -> FloatArray:
    """(n, 3) mm, points of the plane in the part frame."""
    across, _ = _directions(angle)
    placed: FloatArray = points[:, :1] * across + points[:, 1:] * np.array([0.0, 0.0, 1.0])
    return placed
