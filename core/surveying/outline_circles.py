"""The circles that the outlines of plane sections follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import plane_lengths
from ..meshes.plane_sections import Sections
from ..values import BoolArray, FloatArray, read_only

_CORNER_SHARE = 0.25
"""A node of an outline that turns less than this share of what its circle would has no corner."""

_FIT_REACHES = (0.3, 0.06)
_LAST_REACH = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class OutlineCircles:
    """The circle that most of each outline follows.

    centres : (q, 2) mm
    radii : (q,) mm
    shares : (q,) of the outline's corners, by length, that lie on it
    """

    centres: FloatArray
    radii: FloatArray
    shares: FloatArray

    def __post_init__(self) -> None:
        read_only(self.centres)
        read_only(self.radii)
        read_only(self.shares)


def fit_circles(sections: Sections, tolerance: float) -> OutlineCircles:
    """The circle of each outline, by algebraic least squares that leaves out what is far off.

    Only corners count: where a plane crosses a facet's diagonal, the outline has a
    node on the chord. Over a whole circle the algebraic fit has no bias to speak of
    (sigma^2 / r). An outline that follows no circle has a low share.

    tolerance : mm, within which a corner lies on the circle
    """
    lengths, corner = _corners(sections)
    before = np.empty(len(lengths))
    before[sections.following] = lengths
    weights = np.where(corner, lengths + before, 0.0)
    kept = weights
    size = np.sqrt(np.maximum(np.abs(sections.areas), 1e-12) / np.pi)
    gates = [np.maximum(share * size, tolerance) for share in _FIT_REACHES]
    gates.append(np.full(sections.count, _LAST_REACH * tolerance))
    centres, radii = _algebraic_circles(sections, kept)
    for gate in gates:
        misses = np.abs(_distances(sections, centres, radii))
        spread = (1.0 - (misses / gate[sections.outline]) ** 2).clip(0.0)
        kept = weights * spread * spread
        lost = sections.sums(kept) < 0.05 * sections.sums(weights)
        kept = np.where(lost[sections.outline], weights, kept)
        centres, radii = _algebraic_circles(sections, kept)
    on_it = np.abs(_distances(sections, centres, radii)) <= tolerance
    whole = np.maximum(sections.sums(weights), 1e-300)
    shares = sections.sums(np.where(on_it, weights, 0.0)) / whole
    return OutlineCircles(centres, radii, shares)


def _corners(sections: Sections) -> tuple[FloatArray, BoolArray]:
    """Lengths of the segments, and whether each starts in a corner of its outline."""
    along = sections.ends - sections.starts
    lengths = plane_lengths(along[:, 0], along[:, 1])
    after = along[sections.following]
    turned = along[:, 0] * after[:, 1] - along[:, 1] * after[:, 0]
    straight = (along * after).sum(axis=1)
    turn = np.abs(np.arctan2(turned, straight))
    size = np.sqrt(np.maximum(np.abs(sections.areas), 1e-12) / np.pi)
    usual = (lengths + lengths[sections.following]) / 2.0 / size[sections.outline]
    corner = np.empty(len(lengths), bool)
    corner[sections.following] = turn > _CORNER_SHARE * usual
    return lengths, corner


def _distances(sections: Sections, centres: FloatArray, radii: FloatArray) -> FloatArray:
    arms = sections.starts - centres[sections.outline]
    distances: FloatArray = plane_lengths(arms[:, 0], arms[:, 1]) - radii[sections.outline]
    return distances


def _algebraic_circles(sections: Sections, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Circles that minimise the weighted squares of x^2 + y^2 - 2 a x - 2 b y - c."""
    total = np.maximum(sections.sums(weights), 1e-300)
    x, y = sections.starts.T
    mean = (
        np.column_stack([sections.sums(weights * x), sections.sums(weights * y)]) / total[:, None]
    )
    x, y = x - mean[sections.outline, 0], y - mean[sections.outline, 1]
    square = x * x + y * y
    xx, xy, yy, sx, sy, ss = (
        sections.sums(weights * values)
        for values in (x * x, x * y, y * y, x * square, y * square, square)
    )
    lift = 1e-12 * (xx + yy) + 1e-300
    xx, yy = xx + lift, yy + lift
    determinant = np.maximum(xx * yy - xy * xy, 1e-300)
    a = (sx * yy - sy * xy) / (2.0 * determinant)
    b = (sy * xx - sx * xy) / (2.0 * determinant)
    radii = np.sqrt(np.maximum(ss / total + a * a + b * b, 0.0))
    return mean + np.column_stack([a, b]), radii
