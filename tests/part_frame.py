"""The frame that stations and angles of a part are told in."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def contract_frame(axis: FloatArray) -> tuple[FloatArray, bool]:
    """(3, 3) rows reference, left-hand normal, direction; and whether that is against the axis.

    Direction with its largest component positive; angles from +x, or +y along x.
    """
    largest = int(np.argmax(np.abs(axis) >= np.abs(axis).max() - 1e-3))
    turned = bool(axis[largest] < 0.0)
    direction = -axis if turned else axis
    along_x = abs(direction[0]) > math.cos(math.radians(1.0))
    start = np.array([0.0, 1.0, 0.0]) if along_x else np.array([1.0, 0.0, 0.0])
    reference = start - direction * (start @ direction)
    reference /= np.linalg.norm(reference)
    return np.vstack((reference, np.cross(direction, reference), direction)), turned
