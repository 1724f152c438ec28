"""What a height comes to in whole layers: how much of it is lost or gained.

A layer is laid where the middle of it lies inside the piece, so a height comes to the nearest
whole number of layers, and is off by at most half a layer. The first layer is taken to be as
high as the others. Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from ..values import AXIAL_GAP, Joint, Piece
from .assembly import joinings

Height = Literal["shoulder", "tenon's tip", "socket's roof", "top"]

USUAL_LAYERS = (0.08, 0.1, 0.12, 0.15, 0.16, 0.2, 0.24, 0.25, 0.28, 0.3, 0.32, 0.4, 0.5, 0.6)
"""mm. Common practice, no source."""

_ROUND_OFF = 1e-6

LEAST_TIP_GAP = 0.005
"""mm; what leaves less over a tenon's tip may leave nothing."""

_NEAR_HALF = 0.005
"""mm; what is as near to half a layer goes by round-off of the file and of the program."""

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LayerStep:
    """A height over the bed, mm, as the file has it, and the layers that it comes to."""

    what: Height
    height: float
    layers: int
    layer: float

    @property
    def printed(self) -> float:
        """Height, mm, of as many layers."""
        return self.layers * self.layer

    @property
    def off(self) -> float:
        """By how much the print is higher, mm; negative where it is lower."""
        return self.printed - self.height

    @property
    def is_even(self) -> bool:
        """Is it so near to half a layer that it may go either way?"""
        return abs(abs(self.off) - self.layer / 2.0) < _NEAR_HALF

    @property
    def offs(self) -> tuple[float, float]:
        """The least and the most that `off` may be."""
        if not self.is_even:
            return self.off, self.off
        return min(self.off, self.off - self.layer), max(self.off, self.off - self.layer)


def whole_layers(height: float, layer: float) -> int:
    """Layers whose middle lies below a height, mm; half of a layer counts as one."""
    return math.floor(height / layer + 0.5 + _ROUND_OFF)


def piece_steps(piece: Piece, layer: float) -> tuple[LayerStep, ...]:
    """The heights of a piece that its joints and the part's length hang on, from the bed up."""
    told = sorted(_heights(piece), key=lambda found: found[1])
    return tuple(
        LayerStep(what, height, whole_layers(height, layer), layer) for what, height in told
    )


def _heights(piece: Piece) -> list[tuple[Height, float]]:
    """Of its file, mm."""
    below, above = piece.joint_below, piece.joint_above
    stations: list[tuple[Height, float]] = []
    if below is not None and below.tenons and piece.role == "piece":
        stations.append(("socket's roof", below.tenon.tip + AXIAL_GAP))
    if above is not None and above.tenons:
        stations += [("shoulder", above.station), ("tenon's tip", above.tenon.tip)]
    else:
        stations.append(("top", piece.high))
    return [(what, (station - piece.low) * piece.scale) for what, station in stations]


def length_offs(pieces: Sequence[Piece], layer: float) -> Span:
    """By how much, mm, the part comes out longer, its shoulders meeting: least and most."""
    offs = [
        (low / piece.scale, high / piece.scale)
        for piece in pieces
        if piece.role == "piece"
        for step in piece_steps(piece, layer)
        if step.what in ("shoulder", "top")
        for low, high in [step.offs]
    ]
    return math.fsum(low for low, _ in offs), math.fsum(high for _, high in offs)


def tip_gaps(joint: Joint, lower: Piece, upper: Piece, layer: float) -> Span:
    """What is left, mm, over a tenon's tip once all is in whole layers: least and most.

    Where nothing is left the tenon stands up and the shoulders do not meet.
    """
    assert joint.tenons
    own = {step.what: step for step in piece_steps(lower, layer)}
    roof = {step.what: step for step in piece_steps(upper, layer)}["socket's roof"].offs
    tip, shoulder = own["tenon's tip"].offs, own["shoulder"].offs
    low = roof[0] - tip[1] + shoulder[0]
    high = roof[1] - tip[0] + shoulder[1]
    return AXIAL_GAP + low / lower.scale, AXIAL_GAP + high / lower.scale


def worst_off(offs: Span) -> float:
    """The greater of what may be lost and what may be gained, mm."""
    return max(abs(offs[0]), abs(offs[1]))


def least_tip_gap(pieces: Sequence[Piece], layer: float) -> float:
    """The least, mm, that is left over any tenon's tip; infinite where there is none."""
    gaps = [
        tip_gaps(one.joint, one.lower, one.upper, layer)[0]
        for one in joinings(pieces)
        if one.joint.tenons
    ]
    return min(gaps, default=math.inf)


def truest_layer(
    pieces: Sequence[Piece], layer: float, nozzle: float, shares: tuple[float, float]
) -> float:
    """Of the usual layers that a nozzle lays, and `layer` itself, the one that is least off.

    One that leaves something over every tip comes before all that do not; of those that are off
    alike it is the one nearest to `layer`, mm.

    shares : of the nozzle's bore, the least and the most that a layer may be
    """
    low, high = (share * nozzle for share in shares)
    laid = [one for one in USUAL_LAYERS if low - _ROUND_OFF <= one <= high + _ROUND_OFF]
    return min(
        [layer, *laid],
        key=lambda one: (
            least_tip_gap(pieces, one) < LEAST_TIP_GAP,
            _told_off(pieces, one),
            abs(one - layer),
        ),
    )


def _told_off(pieces: Sequence[Piece], layer: float) -> int:
    """In hundredths of a mm."""
    return round(worst_off(length_offs(pieces, layer)) * 100.0)
