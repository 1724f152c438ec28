"""Standing a piece on the bed, and the motion that leads it back to its place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..meshes.mesh_checks import weld
from ..planning.floor_fit import turn_to_fit
from ..planning.leaning import leaning_rows
from ..values import FloatArray, Frame, Joint, Lean, Mesh, Piece, Role, Settings

_ON_SHOULDER = 1e-9
"""A vertex this near to the seam, mm, lies in the shoulder."""


def stand_on_bed(
    name: str,
    mesh: Mesh,
    frame: Frame,
    settings: Settings,
    below: Joint | None,
    above: Joint | None,
    role: Role = "piece",
) -> Piece:
    """The piece upright on z = 0 with x and y from 0, rounded to what its file can hold.

    It is made larger by what the print shrinks, and turned about its axis only where it
    would not fit the floor otherwise. Vertices that rounding brings together are one, as
    every reader of the file will have them. A shoulder is rounded down, so that it never
    stands into the piece above.
    """
    turn = turn_to_fit(mesh.vertices[:, :2], settings.room[:2])
    rotation = _about_axis(turn)
    turned: FloatArray = mesh.vertices @ rotation.T
    low: FloatArray = turned.min(axis=0)
    larger = (turned - low) * settings.print_scale
    standing = larger.astype(np.float32).astype(np.float64)
    if above is not None:
        shoulder = np.abs(mesh.vertices[:, 2] - above.station) < _ON_SHOULDER
        standing[shoulder, 2] = _rounded_down(larger[shoulder, 2])
    to_source = np.eye(4)
    to_source[:3, :3] = frame.rows.T @ rotation.T
    to_source[:3, 3] = frame.origin + frame.rows.T @ (rotation.T @ low)
    return Piece(
        name=name,
        mesh=weld(Mesh(standing, mesh.triangles)),
        to_source=to_source,
        low=float(low[2]),
        high=float(turned[:, 2].max()),
        joint_below=below,
        joint_above=above,
        role=role,
        scale=settings.print_scale,
    )


def lean_on_bed(name: str, mesh: Mesh, frame: Frame, settings: Settings, lean: Lean) -> Piece:
    """The whole part as one piece that leans on the bed, as `stand_on_bed` else."""
    rows = leaning_rows(lean.tilt, lean.azimuth)
    leaning = Mesh(mesh.vertices @ rows.T, mesh.triangles)
    leaning_frame = Frame(frame.origin.copy(), rows @ frame.rows)
    piece = stand_on_bed(name, leaning, leaning_frame, settings, None, None)
    stations = mesh.vertices[:, 2]
    return replace(piece, low=float(stations.min()), high=float(stations.max()))


def _rounded_down(heights: FloatArray) -> FloatArray:
    """The greatest heights that a file can hold and that are not over these.

    Of a wide shoulder, half of a file's last digit too high is a film of the next piece.
    """
    near = heights.astype(np.float32)
    below = np.nextafter(near, np.float32(-np.inf))
    lower: FloatArray = np.where(near > heights, below, near).astype(np.float64)
    return lower


def _about_axis(turn: float) -> FloatArray:
    cos, sin = np.cos(turn), np.sin(turn)
    return np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
