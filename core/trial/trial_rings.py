"""The rings of a fit trial: built by the joint's own builders, proven, and set out on a bed.

The n-th socket ring is cut from a tube with n bars, at its own clearance; the tenon ring
from one without bars. Each is proven with the tenon ring as two pieces of a part are.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from ..errors import TooWide
from ..jointing.split import build_pieces
from ..meshes.mesh_checks import enclosed_volume
from ..proving.prove import check_proofs, prove_pieces
from ..proving.solid import read_solid
from ..proving.verdicts import at_least, at_most, between, exactly
from ..values import FIT_SLACK, Check, Cut, FloatArray, Joint, Mesh, Piece, Plan, Settings
from .bar_count import bars_at
from .barred_tube import BarredTube, barred_tube
from .ring_sizes import MOST_PLASTIC, RingSizes, ring_sizes
from .tried_joint import TriedJoint

APART = 5.0
"""Between two rings on the bed, mm."""

CLEARANCE_ERROR = 0.01
"""Of each ring's gap, mm."""

LEAST_PROUD_SHOWN = 0.6
"""mm, that a bar stands out at the least."""

_WIDE = 10000.0
"""An envelope that all rings fit, mm: they are set out later."""


@dataclass(frozen=True, slots=True, eq=False)
class TrialRing:
    """A socket ring.

    number : as its bars count it, from 1
    clearance : mm a side, as asked
    """

    number: int
    clearance: float
    piece: Piece


@dataclass(frozen=True, slots=True, eq=False)
class FitTrial:
    """A whole set, as it stands on the bed.

    mesh : of all rings, a body each; every coordinate is exactly a float32
    volume : mm3 of plastic
    envelope : mm, that it was to fit; None: any
    """

    sizes: RingSizes
    tenon: Piece
    rings: tuple[TrialRing, ...]
    mesh: Mesh
    volume: float
    checks: tuple[Check, ...]
    envelope: tuple[float, float, float] | None

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The tenon ring, then the socket rings."""
        return (self.tenon, *(ring.piece for ring in self.rings))


def make_trial(tried: TriedJoint, envelope: tuple[float, float, float] | None) -> FitTrial:
    """The proven rings that try a joint.

    Parameters
    ----------
    envelope : mm, that the set has to fit; any where it is None

    Raises
    ------
    BadSetting : the rings would take more plastic than a trial is worth
    TooWide : the set does not fit the envelope
    ProofFailed : a ring breaks a promise
    """
    sizes = ring_sizes(tried)
    numbers = range(1, len(sizes.clearances) + 1)
    cuts = [_cut(sizes, sizes.tried.settings.clearance, 0)]
    cuts += [_cut(sizes, sizes.clearances[number - 1], number) for number in numbers]
    loose = [replace(cuts[0].lower, name="tenon")]
    loose += [replace(cuts[number].upper, name=f"ring-{number}") for number in numbers]
    pieces = _set_out(loose, envelope)
    rings = tuple(
        TrialRing(number, sizes.clearances[number - 1], pieces[number]) for number in numbers
    )
    mesh = _joined([piece.mesh for piece in pieces])
    volume = enclosed_volume(mesh)
    checks = (
        *(
            check
            for cut, ring in zip(cuts[1:], rings, strict=True)
            for check in _ring_checks(_within(cut, envelope), pieces[0], ring, sizes)
        ),
        at_least("rings_apart", _least_apart(pieces), APART - FIT_SLACK),
        at_most("plastic", volume, MOST_PLASTIC),
    )
    check_proofs(checks)
    return FitTrial(sizes, pieces[0], rings, mesh, volume, checks, envelope)


@dataclass(frozen=True, slots=True, eq=False)
class _CutTube:
    """A tube cut at a joint of one clearance."""

    tube: BarredTube
    plan: Plan
    settings: Settings
    lower: Piece
    upper: Piece


def _cut(sizes: RingSizes, clearance: float, number: int) -> _CutTube:
    """A tube with so many bars, cut."""
    tenon = sizes.tenon_of(clearance)
    seam = tenon.station
    tube = barred_tube(
        sizes.bore_radius, sizes.outer_radius, sizes.length, seam, sizes.bars, number
    )
    plan = Plan((Cut(seam, (seam, seam), "fit trial"),), (Joint("tenon", seam, (tenon,)),))
    settings = replace(sizes.settings_of(clearance), envelope=(_WIDE, _WIDE, _WIDE))
    lower, upper = build_pieces(tube.survey, tube.trued, plan, settings, f"ring-{number}")
    return _CutTube(tube, plan, settings, lower, upper)


def _within(cut: _CutTube, envelope: tuple[float, float, float] | None) -> _CutTube:
    """To be proven to lie in an envelope."""
    settings = cut.settings
    return replace(cut, settings=replace(settings, envelope=envelope or settings.envelope))


# --- on the bed -------------------------------------------------------------------------------


def _set_out(loose: list[Piece], envelope: tuple[float, float, float] | None) -> list[Piece]:
    """Rings in rows, each in a square of its own."""
    widths = [float(np.ptp(piece.mesh.vertices[:, :2], axis=0).max()) for piece in loose]
    cell = max(widths) + APART
    columns = _columns(len(loose), cell, _tallest(loose), envelope)
    return [
        _moved(piece, np.array([number % columns * cell, number // columns * cell, 0.0]))
        for number, piece in enumerate(loose)
    ]


def _tallest(pieces: list[Piece]) -> float:
    return max(float(piece.mesh.vertices[:, 2].max()) for piece in pieces)


def _columns(
    count: int, cell: float, height: float, envelope: tuple[float, float, float] | None
) -> int:
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


# --- proofs -----------------------------------------------------------------------------------


def _ring_checks(cut: _CutTube, tenon: Piece, ring: TrialRing, sizes: RingSizes) -> list[Check]:
    """Every promise of two pieces, of the tenon ring and a socket ring; and the ring's own."""
    pair = (tenon, ring.piece)
    proven = prove_pieces(cut.tube.survey, cut.tube.trued, cut.plan, pair, cut.settings)
    named = [
        replace(check, piece=check.piece or ring.piece.name, joint=None)
        for check in proven
        if ring.number == 1 or check.piece != tenon.name
    ]
    gap = cut.settings.made_clearance
    found = [check.value for check in proven if check.name == "least_clearance"]
    low, high = gap - CLEARANCE_ERROR, gap + CLEARANCE_ERROR
    name = ring.piece.name
    gaps = [between("ring_clearance", value, low, high, piece=name) for value in found]
    return [*named, *gaps, *_bar_checks(cut, ring, sizes)]


def _bar_checks(cut: _CutTube, ring: TrialRing, sizes: RingSizes) -> list[Check]:
    """As many bars near the bed as the ring's number, and one of them up to its top."""
    placed = read_solid(ring.piece, cut.tube.survey.frame).placed
    beyond = sizes.outer_radius + LEAST_PROUD_SHOWN
    counts = [bars_at(placed, share, beyond) for share in (0.1, 0.5, 0.9)]
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
