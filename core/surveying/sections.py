"""The outlines of a part in many planes across an axis, and the circles that they follow.

Nothing is put in order: a closed mesh gives each crossing of an edge and a plane once as the
start and once as the end of a segment, so that outlines are the cycles of a
permutation, and areas and circles are sums over them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..values import BoolArray, FloatArray, IntArray, read_only

_CORNER_SHARE = 0.25
"""A node of an outline that turns less than this share of what its circle would has no corner."""

_FIT_REACHES = (0.3, 0.06)
_LAST_REACH = 3.0


@dataclass(frozen=True, slots=True, eq=False)
class Sections:
    """Segments of all outlines in all planes; the solid lies left of each.

    heights : (k,) of the planes
    starts, ends : (p, 2) mm
    following : (p,) the segment that goes on where each ends
    triangle : (p,) that each lies in
    outline : (p,) number of the outline that each is part of
    plane : (q,) number of the plane of each outline
    areas : (q,) mm2, negative around a hollow
    """

    heights: FloatArray
    starts: FloatArray
    ends: FloatArray
    following: IntArray
    triangle: IntArray
    outline: IntArray
    plane: IntArray
    areas: FloatArray

    def __post_init__(self) -> None:
        for name in self.__slots__:
            read_only(getattr(self, name))

    @property
    def count(self) -> int:
        """How many outlines there are."""
        return len(self.plane)

    def sums(self, values: FloatArray) -> FloatArray:
        """(q,) values, one a segment, added up over each outline."""
        added: FloatArray = np.bincount(self.outline, values, self.count).astype(np.float64)
        return added


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


def cut_sections(columns: list[FloatArray], triangles: IntArray, heights: FloatArray) -> Sections:
    """The outlines of a closed mesh in planes across the third coordinate.

    A corner at the height of a plane counts as below it.

    Parameters
    ----------
    columns : x, y, z, each (n,) and contiguous
    triangles : (m, 3)
    heights : (k,) ascending, some thousands at the most
    """
    level = np.searchsorted(heights, columns[2]).astype(np.int16)
    a, b, c = (level[triangles[:, k]] for k in range(3))
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    crossing = np.flatnonzero(high > low)
    counts = (high[crossing] - low[crossing]).astype(np.int64)
    pair = np.repeat(crossing, counts)
    plane = np.arange(len(pair)) - np.repeat(np.cumsum(counts) - counts, counts) + low[pair]
    above = level[triangles[pair]] > plane[:, None]
    few_above = above.sum(axis=1) == 1
    lone = np.where(few_above, above.argmax(axis=1), above.argmin(axis=1))
    corners = triangles[pair]
    row = np.arange(len(pair))
    a, b, c = (corners[row, (lone + k) % 3] for k in range(3))
    first, second = np.where(few_above, b, c), np.where(few_above, c, b)
    starts = _crossings(columns, a, first, heights[plane])
    ends = _crossings(columns, a, second, heights[plane])
    count = len(columns[0])
    following = _following(_codes(plane, a, first, count), _codes(plane, a, second, count))
    named, outline = np.unique(_cycles(following), return_inverse=True)
    outline = outline.reshape(-1)
    turned = starts[:, 0] * ends[:, 1] - starts[:, 1] * ends[:, 0]
    areas = np.bincount(outline, turned / 2.0, len(named)).astype(np.float64)
    return Sections(heights, starts, ends, following, pair, outline, plane[named], areas)


def _codes(plane: IntArray, first: IntArray, second: IntArray, count: int) -> IntArray:
    low, high = np.minimum(first, second), np.maximum(first, second)
    codes: IntArray = (plane * count + low) * count + high
    return codes


def _crossings(
    columns: list[FloatArray], first: IntArray, second: IntArray, heights: FloatArray
) -> FloatArray:
    """Where edges meet planes; the same to the last bit from either side of an edge."""
    low, high = np.minimum(first, second), np.maximum(first, second)
    x, y, z = columns
    share = (heights - z[low]) / (z[high] - z[low])
    return np.column_stack(
        [x[low] + share * (x[high] - x[low]), y[low] + share * (y[high] - y[low])]
    )


def _following(start: IntArray, end: IntArray) -> IntArray:
    """(p,) for each segment the one whose start is its end."""
    following = np.empty(len(start), np.int64)
    following[np.argsort(end)] = np.argsort(start)
    return following


def _cycles(following: IntArray) -> IntArray:
    """(p,) the lowest number in the cycle of each, by jumps of growing length."""
    label = np.arange(len(following))
    jump = following
    reached = 1
    while reached < len(following):
        further = np.minimum(label, label[jump])
        if np.array_equal(further, label):
            break
        label, jump, reached = further, jump[jump], 2 * reached
    return label


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
    lengths = np.hypot(along[:, 0], along[:, 1])
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
    distances: FloatArray = np.hypot(arms[:, 0], arms[:, 1]) - radii[sections.outline]
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
