"""What a job comes to: plans, pieces and proofs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from .arrays import FloatArray, Frame, Mesh, read_only
from .joint import Joint
from .survey import Survey, TruedPart

Role = Literal["piece", "collar", "sleeve"]


@dataclass(frozen=True, slots=True)
class Cut:
    """Where a seam goes and why.

    window : the stretch of stations in which this seam could lie
    """

    station: float
    window: tuple[float, float]
    why: str


@dataclass(frozen=True, slots=True)
class Lean:
    """How a part leans in the envelope to stand there in one piece. Angles are radians.

    tilt : of its axis from upright
    azimuth : about the axis, from the reference: the side that comes to lie lowest
    turn : about upright, once it is tilted, so that it fits the floor
    """

    tilt: float
    azimuth: float
    turn: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Cuts and their joints, from the low end up. No cuts: the part fits as it is.

    lean : it fits leaning only, as was asked
    """

    cuts: tuple[Cut, ...]
    joints: tuple[Joint, ...]
    remarks: tuple[str, ...] = ()
    lean: Lean | None = None

    def __post_init__(self) -> None:
        assert len(self.cuts) == len(self.joints)


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One finished piece, standing as it prints.

    mesh : in the pose of its file: z up, on z = 0, x and y >= 0; every
        coordinate is exactly a float32, as the file will hold it
    to_source : (4, 4), rigid motion from that pose to its place in the source
    low, high : stations of its ends, the tenon counted
    role : a collar or sleeve lies at a seam, `joint_below`
    scale : the file is so much larger than the piece is to be, for the print's shrink
    """

    name: str
    mesh: Mesh
    to_source: FloatArray
    low: float
    high: float
    joint_below: Joint | None = None
    joint_above: Joint | None = None
    role: Role = "piece"
    scale: float = 1.0

    def __post_init__(self) -> None:
        read_only(self.to_source)

    @property
    def size(self) -> FloatArray:
        """(3,) mm, of its file."""
        extents: FloatArray = np.ptp(self.mesh.vertices, axis=0)
        return extents

    def in_part(self, frame: Frame) -> Mesh:
        """The piece of its own size in its place, in the part frame."""
        return Mesh(frame.to_part(self.in_source(self.mesh.vertices)), self.mesh.triangles)

    def in_source(self, points: FloatArray) -> FloatArray:
        """(n, 3) mm, points of its file where they belong in the source, in its own size."""
        turn, shift = self.to_source[:3, :3], self.to_source[:3, 3]
        placed: FloatArray = points / self.scale @ turn.T + shift
        return placed


@dataclass(frozen=True, slots=True)
class Check:
    """One promise, measured.

    limit : what the value is held against; `ok` is the verdict
    """

    name: str
    value: float
    limit: float | tuple[float, float]
    ok: bool
    piece: str | None = None
    joint: int | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """All that one part came to. A plan has no pieces and no checks."""

    name: str
    survey: Survey
    trued: TruedPart
    plan: Plan
    pieces: tuple[Piece, ...] = ()
    checks: tuple[Check, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PassedOn:
    """A part that fits as it is, and whose shape could not be surveyed: one piece, not trued.

    reason : why it could not be surveyed, a sentence
    triangles_before : of the source
    """

    name: str
    piece: Piece
    reason: str
    triangles_before: int
    checks: tuple[Check, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The one piece that it is."""
        return (self.piece,)
