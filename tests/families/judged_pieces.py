"""Finished pieces held against the part that they came of, measured without the core."""

from __future__ import annotations

from itertools import pairwise

import manifold3d
import numpy as np
from borewright.core.values import Collar, Outcome, Piece

from tests.families.checks import is_closed
from tests.families.truth import FloatArray, IntArray, Part

OFF_SURFACE = 0.011
"""mm, that a face off the joints may lie off the true surfaces, chords apart: 0.01 and float32."""

PLACES = np.array(
    [[1, 0, 0], [0, 1, 0], [0, 0, 1], [3, 3, 0], [0, 3, 3], [3, 0, 3], [2, 2, 2], [4, 1, 1],
     [1, 4, 1], [1, 1, 4]]
)  # fmt: skip
"""Where on every triangle it is measured: shares of its corners."""

OVERLAP = 1e-3
"""mm3, of two seated pieces; float32 leaves less."""

LIFTS = (0.0, 0.5, 3.0)
"""mm along the axis at which two neighbours are looked at on their way apart."""

GAPS = 3.0
"""mm2 of a joint's section that are gaps at most, besides its clearance."""


def piece_faults(part: Part, outcome: Outcome, height: float, chord: float) -> list[str]:
    """What is wrong with the pieces of a part.

    height : of the envelope, mm
    chord : how far, mm, facets lie off the true surfaces, the source's or ours
    """
    told = []
    solids = [_solid(assembled(piece), piece.mesh.triangles) for piece in outcome.pieces]
    for piece, solid in zip(outcome.pieces, solids, strict=True):
        told += [f"{piece.name}: {fault}" for fault in _alone(part, outcome, piece, solid, chord)]
        tall = float(np.ptp(piece.mesh.vertices[:, 2]))
        if tall > height + 0.002:
            told.append(f"{piece.name}: {tall:.3f} mm high, due {height:.3f}")
    told += [f"check {c.name} failed" for c in outcome.checks if not c.ok]
    return told + _overlaps(outcome, solids) + _missing(part, outcome, solids, chord)


def assembled(piece: Piece) -> FloatArray:
    """The piece's corners at their places in the source's coordinates."""
    points: FloatArray = piece.mesh.vertices @ piece.to_source[:3, :3].T + piece.to_source[:3, 3]
    return points


def _alone(
    part: Part, outcome: Outcome, piece: Piece, solid: manifold3d.Manifold, chord: float
) -> list[str]:
    told = []
    if not is_closed(piece.mesh.triangles) or solid.volume() <= 0.0:
        told.append("not closed and outward")
    if len(solid.decompose()) != 1:
        told.append(f"{len(solid.decompose())} bodies")
    if piece.role != "piece":
        return told
    points = _off_joints(outcome, _on_faces(assembled(piece), piece.mesh.triangles))
    pose = part.truth.pose
    distances = _from_surfaces(part, (points - pose[:3, 3]) @ pose[:3, :3])
    if distances.max() > OFF_SURFACE + chord:
        worst = points[np.argmax(distances)].round(3).tolist()
        told.append(f"a face {distances.max():.4f} mm off every true surface, at {worst}")
    return told


def _on_faces(points: FloatArray, triangles: IntArray) -> FloatArray:
    shares = PLACES / PLACES.sum(axis=1, keepdims=True)
    placed: FloatArray = np.einsum("pc,tcx->tpx", shares, points[triangles]).reshape(-1, 3)
    return placed


def _off_joints(outcome: Outcome, points: FloatArray) -> FloatArray:
    """Those of the points that lie in no joint's zone."""
    stations = outcome.survey.frame.to_part(points)[:, 2]
    near = np.zeros(len(points), bool)
    for joint in outcome.plan.joints:
        nicks = max((mark.depth for one in joint.tenons for mark in one.marks), default=0.0)
        low, high = joint.zone
        near |= (stations > low - nicks - 0.01) & (stations < high + 0.01)
    return points[~near]


def _from_surfaces(part: Part, points: FloatArray) -> FloatArray:
    """(n,) mm from each point in the build frame to the nearest true surface."""
    met = [surface(points) for surface in part.surfaces]
    distances = [np.abs(value) / np.linalg.norm(slope, axis=1) for value, slope in met]
    return np.min(distances, axis=0)


def _overlaps(outcome: Outcome, solids: list[manifold3d.Manifold]) -> list[str]:
    told = []
    for number, (lower, upper) in enumerate(pairwise(solids)):
        for lift in LIFTS:
            shift = lift * outcome.survey.frame.rows[2]
            shared = (lower ^ upper.translate(tuple(shift))).volume()
            if shared > OVERLAP:
                told.append(f"joint {number}: {shared:.4f} mm3 claimed twice, {lift} mm apart")
    return told


def _missing(
    part: Part, outcome: Outcome, solids: list[manifold3d.Manifold], chord: float
) -> list[str]:
    """What the pieces do not make up is the joints' gaps, and what truing does to facets."""
    whole = _solid(part.vertices, part.triangles)
    slack = chord * whole.surface_area()
    gaps = 0.0
    for joint in outcome.plan.joints:
        for tenon in joint.tenons:
            clearance = tenon.socket_radius - tenon.tenon_radius
            section = tenon.engagement * clearance + GAPS
            gaps += max(1, len(tenon.bores)) * 2.0 * np.pi * tenon.socket_radius * section
        if joint.collar is not None:
            gaps += _notches(joint.collar)
    own = [
        solid.volume()
        for piece, solid in zip(outcome.pieces, solids, strict=True)
        if piece.role == "piece"
    ]
    missing = whole.volume() - sum(own)
    if -slack < missing < gaps + slack:
        return []
    return [f"{missing:.1f} mm3 missing, due {-slack:.1f} to {gaps + slack:.1f}"]


def _notches(collar: Collar) -> float:
    """mm3, at most, of the part's wall that lugs take the place of, with room for them."""
    middle = (collar.outer.start + collar.outer.stop) / 2.0
    radius = collar.outer.radius_at(middle)
    wall = radius - collar.inner.radius_at(middle) + 2.0 * collar.radial_clearance
    widths = [2.0 * (lug.half_width + lug.side_gap) * radius for lug in collar.lugs]
    tall = [2.0 * lug.flank + 2.0 * width for lug, width in zip(collar.lugs, widths, strict=True)]
    return sum(width * height * wall for width, height in zip(widths, tall, strict=True))


def _solid(vertices: FloatArray, triangles: IntArray) -> manifold3d.Manifold:
    made = manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.array(vertices, np.float64),
            tri_verts=np.array(triangles, np.uint64),
        )
    )
    assert made.status() == manifold3d.Error.NoError, made.status()
    return made
