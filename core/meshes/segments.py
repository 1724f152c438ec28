"""Where on segments they are nearest to points."""

from __future__ import annotations

import numpy as np

from ..values import FloatArray


def shares_along(points: FloatArray, starts: FloatArray, ends: FloatArray) -> FloatArray:
    """(...) where on each segment it is nearest to a point, from 0 at its start to 1 at its end.

    points, starts, ends : (..., d) mm, of shapes that broadcast; a segment may have no length
    """
    along = ends - starts
    squares = np.maximum((along**2).sum(axis=-1), 1e-30)
    shares: FloatArray = (((points - starts) * along).sum(axis=-1) / squares).clip(0.0, 1.0)
    return shares


def nearest_on(points: FloatArray, starts: FloatArray, ends: FloatArray) -> FloatArray:
    """(..., d) mm, the point of each segment that is nearest to a point; as `shares_along`."""
    nearest: FloatArray = starts + shares_along(points, starts, ends)[..., None] * (ends - starts)
    return nearest
