"""How many beds are needed at the least, and how high they must be."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..values import FIT_SLACK, FloatArray, IntArray
from .bed import BedItem
from .stance import inner_radius, outline_area


def least_beds(items: Sequence[BedItem], floor: tuple[float, float], spacing: float) -> IntArray:
    """(n,) Beds that the first, the first two, ... all of the items need at the least.

    By the areas of the outlines and of the floor, each widened by half the spacing, and by
    how many points the largest discs in the outlines leave room for.

    References
    ----------
    N. Oler (1961), "An inequality in the geometry of numbers", Acta Mathematica 105: of
    points at least 1 apart a convex figure of area A and perimeter P holds at most
    2 A / sqrt(3) + P / 2 + 1.
    """
    room = floor_room(floor, spacing)
    taken = np.cumsum([widened_area(item.outline, spacing) for item in items])
    by_area = np.ceil(taken / room - 1e-9).astype(np.int64)
    radii = np.array([inner_radius(item.outline) for item in items])
    large = np.cumsum(radii[:, None] >= radii, axis=0)
    by_discs = np.ceil(large / _most_discs(radii, floor, spacing) - 1e-9).astype(np.int64)
    needed: IntArray = np.maximum(by_area, by_discs.max(axis=1))
    return needed


def least_height(heights: FloatArray, needed: IntArray, beds: int) -> float:
    """Least sum of the heights of so many beds.

    If the tallest p items need j beds, then j beds are at least as high as the p-th.

    heights : (n,) falling; needed : (n,) by `least_beds` in the same order
    """
    firsts = np.searchsorted(needed, np.arange(1, beds + 1))
    return float(heights[firsts[firsts < len(heights)]].sum())


def floor_room(floor: tuple[float, float], spacing: float) -> float:
    """Area of the floor widened by half the spacing, mm2: so much do the widened outlines share."""
    width, depth = floor[0] + FIT_SLACK, floor[1] + FIT_SLACK
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, depth], [0.0, depth]])
    return widened_area(corners, spacing)


def widened_area(outline: FloatArray, spacing: float) -> float:
    """Of an outline widened by half the spacing, by Steiner's formula, mm2."""
    sides = np.roll(outline, -1, axis=0) - outline
    around = float(np.hypot(sides[:, 0], sides[:, 1]).sum())
    half = spacing / 2.0
    return outline_area(outline) + around * half + math.pi * half**2


def _most_discs(radii: FloatArray, floor: tuple[float, float], spacing: float) -> FloatArray:
    """How many discs of each of the radii one floor may hold."""
    width, depth = (np.maximum(side + FIT_SLACK - 2.0 * radii, 0.0) for side in floor)
    apart = np.maximum(2.0 * radii + spacing, 1e-9)
    most = 2.0 / math.sqrt(3.0) * width * depth / apart**2 + (width + depth) / apart + 1.0
    whole: FloatArray = np.floor(most + 1e-9)
    return whole
