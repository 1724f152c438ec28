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

Height = Literal["shoulder", "tenon's tip", "socket's roof", "top"]

USUAL_LAYERS = (0.08, 0.1, 0.12, 0.15, 0.16, 0.2, 0.24, 0.25, 0.28, 0.3, 0.32, 0.4, 0.5, 0.6)
"""mm. Common practice, no source."""

_ROUND_OFF = 1e-6


@dataclass(frozen=True, slots=True)
class LayerStep:
    """A height over the bed, mm, as the file has it, and the layers that it comes to."""

    what: Height
    height: float
    layers: int
    layer: float

    @property
    def printed(self) -> float:
        """mm, of as many layers."""
        return self.layers * self.layer

    @property
    def off(self) -> float:
        """By how much the print is higher, mm; negative where it is lower."""
        return self.printed - self.height


def whole_layers(height: float, layer: float) -> int:
    """Layers whose middle lies below a height, mm."""
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


def length_off(pieces: Sequence[Piece], layer: float) -> float:
    """mm, by which the part comes out longer, its shoulders meeting; negative: shorter."""
    return math.fsum(
        step.off / piece.scale
        for piece in pieces
        if piece.role == "piece"
        for step in piece_steps(piece, layer)
        if step.what in ("shoulder", "top")
    )


def tip_gap(joint: Joint, lower: Piece, upper: Piece, layer: float) -> float:
    """mm, left over a tenon's tip once all is in whole layers; none or less: it stands up there."""
    own = {step.what: step.printed for step in piece_steps(lower, layer)}
    roof = {step.what: step.printed for step in piece_steps(upper, layer)}["socket's roof"]
    assert joint.tenons
    return (roof - (own["tenon's tip"] - own["shoulder"])) / lower.scale


def layers_by_loss(
    pieces: Sequence[Piece], nozzle: float, shares: tuple[float, float]
) -> tuple[tuple[float, float], ...]:
    """(layer, what the length is off by), mm, of the usual layers that a nozzle lays.

    shares : of the nozzle's bore, the least and the most that a layer may be
    """
    low, high = (share * nozzle for share in shares)
    laid = [layer for layer in USUAL_LAYERS if low - _ROUND_OFF <= layer <= high + _ROUND_OFF]
    return tuple((layer, length_off(pieces, layer)) for layer in laid)
