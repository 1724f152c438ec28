"""Pieces and where they stand on a bed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..values import FloatArray, read_only


@dataclass(frozen=True, slots=True, eq=False)
class BedItem:
    """A piece as packing sees it.

    outline : (n, 2) mm, corners of the convex hull of its shadow on the bed,
        counter-clockwise, in the pose of its file
    height : mm
    """

    name: str
    outline: FloatArray
    height: float

    def __post_init__(self) -> None:
        assert self.outline.ndim == 2 and self.outline.shape[1] == 2
        read_only(self.outline)


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a piece stands on its bed.

    turn : radians, about z, before it is moved
    x, y : mm, by which it is moved
    """

    name: str
    turn: float
    x: float
    y: float

    @property
    def to_bed(self) -> FloatArray:
        """(4, 4), rigid motion from the pose of the piece's file to its place on the bed."""
        cosine, sine = cosine_sine(self.turn)
        motion = np.eye(4)
        motion[:2, :2] = [[cosine, -sine], [sine, cosine]]
        motion[:2, 3] = self.x, self.y
        return motion


@dataclass(frozen=True, slots=True)
class Bed:
    """What is printed at once, in the order of the pieces."""

    placed: tuple[Placed, ...]
    height: float


def cosine_sine(turn: float) -> tuple[float, float]:
    """Of an angle; of quarter turns exactly, so that files are as they were."""
    quarters = turn / (math.pi / 2.0)
    if abs(quarters - round(quarters)) < 1e-12:
        return float(round(math.cos(turn))), float(round(math.sin(turn)))
    return math.cos(turn), math.sin(turn)
