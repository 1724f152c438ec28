"""The circles that the outlines of plane sections follow."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..meshes.angles import plane_lengths
from ..meshes.plane_sections import Sections
from ..values import BoolArray, FloatArray, IntArray, read_only

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
    nodes = _corner_nodes(sections)
    size = np.sqrt(np.maximum(np.abs(sections.areas), 1e-12) / np.pi)
    gates = [np.maximum(share * size, tolerance) for share in _FIT_REACHES]
    gates.append(np.full(sections.count, _LAST_REACH * tolerance))
    whole = nodes.sums(nodes.weights)
    centres, radii = _algebraic_circles(nodes, nodes.weights)
    for gate in gates:
        misses = np.abs(_distances(nodes, centres, radii))
        spread = (1.0 - (misses / gate[nodes.outline]) ** 2).clip(0.0)
        kept = nodes.weights * spread * spread
        lost = nodes.sums(kept) < 0.05 * whole
        kept = np.where(lost[nodes.outline], nodes.weights, kept)
        centres, radii = _algebraic_circles(nodes, kept)
    on_it = np.abs(_distances(nodes, centres, radii)) <= tolerance
    shares = nodes.sums(np.where(on_it, nodes.weights, 0.0)) / np.maximum(whole, 1e-300)
    return OutlineCircles(centres, radii, shares)


@dataclass(frozen=True, slots=True, eq=False)
class _Nodes:
    """Corners of outlines.

    x, y : mm
    weights : mm, of outline beside each
    outline : number of it, of `count`
    """

    x: FloatArray
    y: FloatArray
    weights: FloatArray
    outline: IntArray
    count: int

    def sums(self, values: FloatArray) -> FloatArray:
        """(q,) values, one a node, added up over each outline."""
        added: FloatArray = np.bincount(self.outline, values, self.count).astype(np.float64)
        return added


def _corner_nodes(sections: Sections) -> _Nodes:
    lengths, corner = _corners(sections)
    before = np.empty(len(lengths))
    before[sections.following] = lengths
    rows = np.flatnonzero(corner)
    x, y = sections.starts[rows].T
    weights, outline = (lengths + before)[rows], sections.outline[rows]
    return _Nodes(x.copy(), y.copy(), weights, outline, sections.count)


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


def _distances(nodes: _Nodes, centres: FloatArray, radii: FloatArray) -> FloatArray:
    x, y = centres.T
    out = plane_lengths(nodes.x - x[nodes.outline], nodes.y - y[nodes.outline])
    distances: FloatArray = out - radii[nodes.outline]
    return distances


def _algebraic_circles(nodes: _Nodes, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Circles that minimise the weighted squares of x^2 + y^2 - 2 a x - 2 b y - c."""
    total = np.maximum(nodes.sums(weights), 1e-300)
    mean_x, mean_y = (nodes.sums(weights * values) / total for values in (nodes.x, nodes.y))
    x, y = nodes.x - mean_x[nodes.outline], nodes.y - mean_y[nodes.outline]
    square = x * x + y * y
    xx, xy, yy, sx, sy, ss = (
        nodes.sums(weights * values)
        for values in (x * x, x * y, y * y, x * square, y * square, square)
    )
    lift = 1e-12 * (xx + yy) + 1e-300
    xx, yy = xx + lift, yy + lift
    determinant = np.maximum(xx * yy - xy * xy, 1e-300)
    a = (sx * yy - sy * xy) / (2.0 * determinant)
    b = (sy * xx - sx * xy) / (2.0 * determinant)
    radii = np.sqrt(np.maximum(ss / total + a * a + b * b, 0.0))
    return np.column_stack([mean_x + a, mean_y + b]), radii
