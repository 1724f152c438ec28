"""How long a part is once its pieces are together, measured on the pieces."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ..bench.assembly import joinings
from ..meshes.mesh_checks import triangle_normals
from ..values import Mesh, Outcome, Settings, Survey
from .air_column import AirColumn, free_stretch, line_crossings

_NEAR = 0.5
"""mm, within which of a seam the faces that meet there are looked for."""

_LEVEL = 0.999
"""Cosine to the axis from which a face is level."""


@dataclass(frozen=True, slots=True, eq=False)
class JoinedPieces:
    """The pieces of a part in their places, rings left out.

    meshes : from the low end up, in the part frame
    gaps : mm, one a seam, from the lower piece's shoulder to the upper piece's mouth
    """

    meshes: tuple[Mesh, ...]
    gaps: tuple[float, ...]

    @property
    def closed(self) -> tuple[Mesh, ...]:
        """The same, moved together until all shoulders meet."""
        shifts = itertools.accumulate(self.gaps, initial=0.0)
        return tuple(
            Mesh(mesh.vertices - [0.0, 0.0, shift], mesh.triangles)
            for mesh, shift in zip(self.meshes, shifts, strict=True)
        )


def join_pieces(outcome: Outcome) -> JoinedPieces | None:
    """The pieces as they go together; None of a plan, which has none."""
    frame = outcome.survey.frame
    bodies = [piece for piece in outcome.pieces if piece.role == "piece"]
    if not bodies:
        return None
    meshes = tuple(piece.in_part(frame) for piece in bodies)
    stations = [joined.joint.station for joined in joinings(outcome.pieces)]
    gaps = [
        face_station(upper, station, up=False) - face_station(lower, station, up=True)
        for (lower, upper), station in zip(itertools.pairwise(meshes), stations, strict=True)
    ]
    return JoinedPieces(meshes, tuple(gaps))


def face_station(mesh: Mesh, seam: float, *, up: bool) -> float:
    """Station, mm, of the level face near a seam that looks up or down, by its area.

    mesh : in the part frame
    """
    at = mesh.vertices[:, 2][mesh.triangles]
    near = np.flatnonzero((np.abs(at - seam) < _NEAR).all(axis=1))
    normals, areas = triangle_normals(Mesh(mesh.vertices, mesh.triangles[near]))
    level = (normals[:, 2] if up else -normals[:, 2]) > _LEVEL
    assert level.any()
    return float(np.average(at[near][level].mean(axis=1), weights=areas[level]))


def joined_length(
    column: AirColumn, joined: JoinedPieces, survey: Survey, settings: Settings
) -> float:
    """Length, mm, of a column of air in the pieces, all shoulders meeting."""
    line = survey.bores[column.bores[0]].offset
    crossings = np.concatenate([line_crossings(mesh, line) for mesh in joined.closed])
    heights = np.concatenate([mesh.vertices[:, 2] for mesh in joined.closed])
    planned = survey.ends(settings)
    ends = (
        float(heights.min()) - planned[0],
        survey.length + float(heights.max()) - planned[1],
    )
    start, stop = free_stretch(np.sort(crossings), (column.start + column.stop) / 2.0)
    return (ends[1] if stop is None else stop) - (ends[0] if start is None else start)
