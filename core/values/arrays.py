"""Arrays, meshes and frames."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
NarrowArray = NDArray[np.int32]
"""Where many whole numbers are kept or reckoned with; numpy looks up by wide ones."""

BoolArray = NDArray[np.bool_]


def read_only(array: NDArray[np.generic]) -> None:
    """Make an array of a frozen value refuse writes."""
    array.setflags(write=False)


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles of one surface.

    vertices : (n, 3) float, mm
    triangles : (m, 3) int, counter-clockwise seen from outside
    """

    vertices: FloatArray
    triangles: IntArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "vertices", np.ascontiguousarray(self.vertices, np.float64))
        object.__setattr__(self, "triangles", np.ascontiguousarray(self.triangles, np.int64))
        assert self.vertices.ndim == 2 and self.vertices.shape[1] == 3
        assert self.triangles.ndim == 2 and self.triangles.shape[1] == 3
        read_only(self.vertices)
        read_only(self.triangles)


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """Where the part lies in the source's coordinates.

    origin : (3,) mm, the point of the axis at station 0
    rows : (3, 3), unit rows: reference, left-hand normal, axis direction
    """

    origin: FloatArray
    rows: FloatArray

    def __post_init__(self) -> None:
        assert np.allclose(self.rows @ self.rows.T, np.eye(3), atol=1e-9)
        read_only(self.origin)
        read_only(self.rows)

    def to_part(self, points: FloatArray) -> FloatArray:
        """(n, 3) mm, source coordinates to part frame."""
        moved: FloatArray = (points - self.origin) @ self.rows.T
        return moved

    def to_source(self, points: FloatArray) -> FloatArray:
        """(n, 3) mm, part frame to source coordinates."""
        moved: FloatArray = points @ self.rows + self.origin
        return moved
