"""A fit trial as a whole: its rings set out on a bed, and what each of them has to hold."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ..errors import TooWide
from ..meshes.mesh_checks import enclosed_volume, triangle_normals
from ..proving.prove import check_proofs
from ..proving.roofs import FACET_SLOPE_DEG, NARROWEST_FACET, STEEPEST_DEG
from ..proving.solid import read_solid
from ..proving.verdicts import at_least, at_most, between, exactly
from ..values import FIT_SLACK, Check, FloatArray, Frame, Mesh, Piece, Settings
from .bar_count import bars_at

MOST_PLASTIC = 6000.0
"""Of the whole set, mm3."""

APART = 5.0
"""Between two rings on the bed, mm."""

CLEARANCE_ERROR = 0.01
"""Of each ring's gap, mm."""

LEAST_PROUD_SHOWN = 0.6
"""mm, that a bar stands out at the least."""

PART_FRAME = Frame(np.zeros(3), np.eye(3))
"""Rings are made about the z axis."""

Envelope = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class About:
    """What a trial is of, and how much of it the rings have. Lengths in mm.

    kind : a tenon ring and socket rings, or a stub of a tube and halves of its collar
    source : in words
    within : diameter of what goes in
    key_angles : radians
    own, tried : sizes by name, of the joint and of the rings
    remarks : what the rings do not share with the joint
    """

    kind: Literal["tenon", "collar"]
    source: str
    settings: Settings
    within: float
    key_angles: tuple[float, ...]
    own: Mapping[str, float]
    tried: Mapping[str, float]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class TrialRing:
    """A ring that goes on the tenon, or on the stub.

    number : as its bars count it, from 1
    clearance, made_clearance : mm a side, as asked and in the file
    around : diameter, mm, of what goes around
    """

    number: int
    clearance: float
    made_clearance: float
    around: float
    piece: Piece


@dataclass(frozen=True, slots=True, eq=False)
class FitTrial:
    """A whole set, as it stands on the bed.

    base : the tenon ring, or the stub
    mesh : of all rings, a body each; every coordinate is exactly a float32
    volume : mm3 of plastic
    envelope : mm, that it was to fit; None: any
    """

    about: About
    base: Piece
    rings: tuple[TrialRing, ...]
    mesh: Mesh
    volume: float
    checks: tuple[Check, ...]
    envelope: Envelope | None

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The base, then the rings."""
        return (self.base, *(ring.piece for ring in self.rings))


def proven_trial(
    about: About,
    base: Piece,
    rings: tuple[TrialRing, ...],
    checks: list[Check],
    outside: float,
    envelope: Envelope | None,
) -> FitTrial:
    """The set of rings that are set out, if all of it holds.

    Parameters
    ----------
    checks : made of each ring with the base
    outside : radius, mm, of the rings, bars apart

    Raises
    ------
    ProofFailed : a ring, or the set, breaks a promise
    """
    pieces = [base, *(ring.piece for ring in rings)]
    mesh = _joined([piece.mesh for piece in pieces])
    volume = enclosed_volume(mesh)
    every = (
        *checks,
        *(_support_check(piece) for piece in pieces),
        *(check for ring in rings for check in _bar_checks(ring, outside)),
        at_least("rings_apart", _least_apart(pieces), APART - FIT_SLACK),
        at_most("plastic", volume, MOST_PLASTIC),
    )
    check_proofs(every)
    return FitTrial(about, base, rings, mesh, volume, every, envelope)


# --- on the bed -------------------------------------------------------------------------------


def set_out(loose: list[Piece], envelope: Envelope | None) -> list[Piece]:
    """Rings in rows, each in a square of its own.

    Raises
    ------
    TooWide : no rows fit the envelope
    """
    widths = [float(np.ptp(piece.mesh.vertices[:, :2], axis=0).max()) for piece in loose]
    cell = max(widths) + APART
    columns = _columns(len(loose), cell, _tallest(loose), envelope)
    return [
        _moved(piece, np.array([number % columns * cell, number // columns * cell, 0.0]))
        for number, piece in enumerate(loose)
    ]


def _tallest(pieces: list[Piece]) -> float:
    return max(float(piece.mesh.vertices[:, 2].max()) for piece in pieces)


def _columns(count: int, cell: float, height: float, envelope: Envelope | None) -> int:
    """How many rings to a row: as near to a square as the envelope allows."""
    choices = sorted(range(1, count + 1), key=lambda columns: _floor(count, columns, cell)[2])
    if envelope is None:
        return choices[0]
    for columns in choices:
        width, depth, _ = _floor(count, columns, cell)
        if width <= envelope[0] and depth <= envelope[1] and height <= envelope[2]:
            return columns
    width, depth, _ = _floor(count, choices[0], cell)
    raise TooWide(
        f"{count} rings of {cell - APART:.1f} mm that take {width:.1f} x {depth:.1f} x "
        f"{height:.1f} mm",
        f"at most {envelope[0]:g} x {envelope[1]:g} x {envelope[2]:g} mm, the envelope",
        "a trial of a narrower joint, --bore and --wall or --solid",
    )


def _floor(count: int, columns: int, cell: float) -> tuple[float, float, float]:
    """Width and depth, mm, of so many rings in rows, and how far from a square they are."""
    width, depth = (side * cell - APART for side in (columns, math.ceil(count / columns)))
    return width, depth, abs(width - depth) + (width < depth)


def _moved(piece: Piece, by: FloatArray) -> Piece:
    """A piece elsewhere on the bed, its coordinates again as a file holds them."""
    moved = (piece.mesh.vertices + by).astype(np.float32).astype(np.float64)
    to_source = piece.to_source.copy()
    to_source[:3, 3] -= to_source[:3, :3] @ by / piece.scale
    return replace(piece, mesh=Mesh(moved, piece.mesh.triangles), to_source=to_source)


def _joined(meshes: list[Mesh]) -> Mesh:
    """Several bodies in one mesh."""
    first = np.cumsum([0, *(len(mesh.vertices) for mesh in meshes[:-1])])
    return Mesh(
        np.vstack([mesh.vertices for mesh in meshes]),
        np.vstack([mesh.triangles + start for mesh, start in zip(meshes, first, strict=True)]),
    )


# --- what holds ---------------------------------------------------------------------------------


def _support_check(piece: Piece) -> Check:
    """No face that looks down is flatter than 45 degrees, but for those on the bed."""
    normals, areas = triangle_normals(piece.mesh)
    corners = piece.mesh.vertices[piece.mesh.triangles]
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    hangs = (normals[:, 2] < 0.0) & (corners[:, :, 2].max(axis=1) > NARROWEST_FACET)
    hangs &= 2.0 * areas > NARROWEST_FACET * sides
    flattest = np.degrees(np.arcsin(np.minimum(-normals[hangs, 2], 1.0))).max(initial=0.0)
    limit = STEEPEST_DEG + FACET_SLOPE_DEG
    return at_most("prints_unsupported", flattest, limit, piece=piece.name)


def _bar_checks(ring: TrialRing, outside: float) -> list[Check]:
    """As many bars near the bed as the ring's number, and one of them up to its top."""
    placed = read_solid(ring.piece, PART_FRAME).placed
    counts = [bars_at(placed, share, outside + LEAST_PROUD_SHOWN) for share in (0.1, 0.5, 0.9)]
    return [
        exactly("bars_counted", min(counts[:2]), ring.number, piece=ring.piece.name),
        exactly("long_bars", counts[2], 1, piece=ring.piece.name),
    ]


def _least_apart(pieces: list[Piece]) -> float:
    """Least distance, mm, between the boxes around two rings."""
    lows = np.array([piece.mesh.vertices[:, :2].min(axis=0) for piece in pieces])
    highs = np.array([piece.mesh.vertices[:, :2].max(axis=0) for piece in pieces])
    apart = (lows[:, None] - highs[None]).max(axis=2)
    apart = np.maximum(apart, apart.T)
    return float(apart[~np.eye(len(pieces), dtype=bool)].min())


def named_for(ring: TrialRing, proven: tuple[Check, ...], base: Piece) -> list[Check]:
    """Checks of a joint as those of a ring, and that of its gap; of the base once only."""
    low, high = ring.made_clearance - CLEARANCE_ERROR, ring.made_clearance + CLEARANCE_ERROR
    name = ring.piece.name
    return [
        *(
            replace(check, piece=check.piece or name, joint=None)
            for check in proven
            if ring.number == 1 or check.piece != base.name
        ),
        *(
            between("ring_clearance", check.value, low, high, piece=name)
            for check in proven
            if check.name == "least_clearance"
        ),
    ]
