"""Are a file's coordinates near enough for float32 to hold a wall?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ..errors import BadFile
from ..values import FloatArray

MOST_COORDINATE = 1e7
"""Ten kilometres in mm: beyond it float32 cannot hold a wall."""


def check_coordinates(
    points: FloatArray | NDArray[np.float32], *, per_triangle: bool, whose: str = ""
) -> None:
    """Every one of (n, 3) points is near enough.

    per_triangle : the points are corners, three a triangle
    whose : what they are of, if that is not the file

    Raises
    ------
    BadFile : one is not, or is not finite
    """
    good = np.isfinite(points) & (np.abs(points) <= MOST_COORDINATE)
    if good.all():
        return
    wrong = int(np.flatnonzero(~good.all(axis=1))[0])
    where = f"corner {wrong % 3} of triangle {wrong // 3}" if per_triangle else f"vertex {wrong}"
    of = f" of {whose}" if whose else ""
    raise BadFile(
        f"{where}{of} (counted from 0) at ({', '.join(f'{x:g}' for x in points[wrong])})",
        f"finite coordinates, none over {MOST_COORDINATE:g}",
        "export the part again",
    )
