"""What the sections of a part are as shapes: areas, centroids, widths, and what lies inside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.plane_sections import Sections
from ..values import BoolArray, FloatArray, read_only

_LEAST_HOLLOW = 0.8
"""mm2; a hollow of less area is a pore of a rough mesh."""

_MOST_PORE = 0.01
"""A hollow of less than this share of a section's area is no more than a pore either."""


@dataclass(frozen=True, slots=True, eq=False)
class SectionShapes:
    """The sections of a part, plane by plane, as its outer outlines bound them.

    heights : (k,) mm, of the planes that meet the part
    spans : (k,) mm, of the heights that each plane stands for
    centroids : (k, 2) mm
    areas : (k,) mm2
    widths, thicknesses : (k,) mm, axes of the ellipse with the same second moments
    hollow : (k,) whether a plane shows a hollow
    """

    heights: FloatArray
    spans: FloatArray
    centroids: FloatArray
    areas: FloatArray
    widths: FloatArray
    thicknesses: FloatArray
    hollow: BoolArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))

    def middle(self, values: FloatArray, share: float = 0.5) -> float:
        """The value under which a share of the length lies."""
        order = np.argsort(values)
        growing = np.cumsum(self.spans[order])
        return float(values[order][np.searchsorted(growing, share * growing[-1])])


def section_shapes(sections: Sections) -> SectionShapes:
    """Areas and moments of all that outer outlines bound, by the sums over their segments.

    References
    ----------
    C. Steger (1996), "On the calculation of arbitrary moments of polygons", FGBV-96-05,
    section 3 (from memory): second moments of a polygon from its corners.
    """
    planes = len(sections.heights)
    outer = sections.areas[sections.outline] > 0.0
    plane = sections.plane[sections.outline][outer]
    a, b = sections.starts[outer], sections.ends[outer]
    middle = np.array([np.median(column) if len(column) else 0.0 for column in a.T])
    a, b = a - middle, b - middle
    turned = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    areas = np.bincount(plane, turned / 2.0, planes).astype(np.float64)
    met = areas > 0.0
    safe = np.where(met, areas, 1.0)
    x, y = (np.bincount(plane, (a[:, k] + b[:, k]) * turned, planes) / 6.0 / safe for k in range(2))
    xx, yy, xy = (
        np.bincount(plane, _products(a, b, i, j) * turned, planes) / 24.0 / safe
        for i, j in ((0, 0), (1, 1), (0, 1))
    )
    widths, thicknesses = _axes(xx - x * x, yy - y * y, xy - x * y)
    hollow = _hollow(sections, areas)
    heights = sections.heights
    spans = np.gradient(heights) if planes > 1 else np.ones(planes)
    return SectionShapes(
        heights[met],
        spans[met],
        (np.column_stack([x, y]) + middle)[met],
        areas[met],
        widths[met],
        thicknesses[met],
        hollow[met],
    )


def _products(a: FloatArray, b: FloatArray, i: int, j: int) -> FloatArray:
    """(p,) twelve times the second moment of the triangle from the origin, over its area twice."""
    own = a[:, i] * a[:, j] + b[:, i] * b[:, j]
    mixed = a[:, i] * b[:, j] + b[:, i] * a[:, j]
    products: FloatArray = 2.0 * own + mixed
    return products


def _axes(xx: FloatArray, yy: FloatArray, xy: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Long and short axis of ellipses with these central moments over their area."""
    half, tilt = (xx + yy) / 2.0, np.hypot((xx - yy) / 2.0, xy)
    return 4.0 * np.sqrt(half + tilt), 4.0 * np.sqrt(np.maximum(half - tilt, 1e-12))


def _hollow(sections: Sections, areas: FloatArray) -> BoolArray:
    """(k,) planes with a hollow larger than a pore."""
    most = np.maximum(_LEAST_HOLLOW, _MOST_PORE * areas[sections.plane])
    hollow = np.zeros(len(sections.heights), bool)
    hollow[sections.plane[sections.areas < -most]] = True
    return hollow


def is_inside(sections: Sections, points: FloatArray) -> BoolArray:
    """(k,) whether in each plane a point lies in the solid.

    points : (k, 2) mm, one a plane

    The outlines run about a point in the solid once: counted where they cross the ray
    from it along x.
    """
    plane = sections.plane[sections.outline]
    a, b = sections.starts - points[plane], sections.ends - points[plane]
    up = (a[:, 1] <= 0.0) & (b[:, 1] > 0.0)
    down = (a[:, 1] > 0.0) & (b[:, 1] <= 0.0)
    crossing = np.flatnonzero(up | down)
    a, b = a[crossing], b[crossing]
    left_of = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    beyond = np.where(up[crossing], left_of > 0.0, left_of < 0.0)
    turns = np.where(up[crossing], 1, -1) * beyond
    inside: BoolArray = np.bincount(plane[crossing], turns, len(sections.heights)) > 0.5
    return inside
