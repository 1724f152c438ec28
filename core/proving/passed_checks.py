"""What a part that is passed on as it is promises: to be the source, standing in the envelope."""

from __future__ import annotations

import numpy as np

from ..meshes.in_blocks import in_blocks
from ..meshes.mesh_checks import area_and_volume
from ..meshes.products import row_lengths
from ..values import BoolArray, Check, FloatArray, Frame, Mesh, Piece, Settings
from .piece_checks import bed_checks, surface_checks
from .solid import cavity_reaches, read_solid
from .verdicts import at_most, between

MOST_MOVE = 1e-4
"""How far, mm, a corner may lie from where it is in the source: float32 at 1 m holds less."""


def prove_passed(source: Mesh, piece: Piece, settings: Settings) -> tuple[Check, ...]:
    """Measure every promise on a part that was only stood on the bed.

    source : closed and outward, mm
    """
    in_source = Frame(np.zeros(3), np.eye(3))
    solid = read_solid(piece, in_source)
    area, volume = area_and_volume(source)
    slack = MOST_MOVE * area
    return (
        *surface_checks(solid, len(cavity_reaches(source))),
        *bed_checks(piece, solid, settings),
        at_most("same_shape", _greatest_move(source, solid.placed), MOST_MOVE, piece=piece.name),
        between("same_volume", solid.volume - volume, -slack, slack, piece=piece.name),
    )


def _greatest_move(source: Mesh, placed: Mesh) -> float:
    """How far, mm, any corner lies from its place; infinite where the triangles differ.

    Triangles that float32 makes nothing of may be missing, no others.
    """
    rows = np.arange(len(source.triangles))
    if len(rows) != len(placed.triangles):
        rows = rows[_kept(*(mesh.vertices[mesh.triangles] for mesh in (source, placed)))]
    if len(rows) != len(placed.triangles):
        return np.inf

    def most_apart(some: slice) -> float:
        ours, theirs = source.triangles[rows[some]], placed.triangles[some]
        pairs = zip(ours.T, theirs.T, strict=True)
        apart = (source.vertices[one] - placed.vertices[other] for one, other in pairs)
        return max(float(row_lengths(corner).max()) for corner in apart)

    return max(in_blocks(most_apart, len(rows)), default=0.0)


def _kept(corners: FloatArray, found: FloatArray) -> BoolArray:
    """(m,) which triangles are found again of a mesh that lost those of next to no width.

    corners, found : (m, 3, 3) and (k, 3, 3) mm, in the same order
    """
    kept = np.ones(len(corners), bool)
    shortest = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=2).min(axis=1)
    missing = 0
    for number in np.flatnonzero(shortest < MOST_MOVE).tolist():
        place = number - missing
        there = place < len(found) and np.abs(found[place] - corners[number]).max() < MOST_MOVE
        kept[number] = there
        missing += not there
    return kept
