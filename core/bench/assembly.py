"""The order in which pieces go together, and how long they are then: for an end stop."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from ..values import Joint, Piece


@dataclass(frozen=True, slots=True)
class Joined:
    """Two neighbours that go together at a joint.

    number : of the joint, from 1
    rings : collars or sleeves that go between them
    length : mm, of all from the low end to the upper one's highest point, once it is home
    pair_length : mm, of the two alone
    """

    number: int
    joint: Joint
    lower: Piece
    upper: Piece
    rings: tuple[Piece, ...]
    length: float
    pair_length: float


def joinings(pieces: Sequence[Piece]) -> tuple[Joined, ...]:
    """Joint after joint, from the low end up.

    pieces : of one part, in order; a ring follows the piece that it goes over or into
    """
    bodies = [piece for piece in pieces if piece.role == "piece"]
    rings = [piece for piece in pieces if piece.role != "piece"]
    done = []
    for number, (lower, upper) in enumerate(itertools.pairwise(bodies), 1):
        joint = lower.joint_above
        assert joint is not None
        assert upper.joint_below is joint
        done.append(
            Joined(
                number=number,
                joint=joint,
                lower=lower,
                upper=upper,
                rings=tuple(ring for ring in rings if ring.joint_below is joint),
                length=upper.high - bodies[0].low,
                pair_length=upper.high - lower.low,
            )
        )
    return tuple(done)
