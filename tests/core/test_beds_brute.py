"""Beds of few rectangles against an exhaustive search that shares no code with the packing."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

import numpy as np
import pytest
from borewright.core.beds.bed import BedItem
from borewright.core.beds.pack import pack_beds

Size = tuple[int, int]


def rectangle_item(number: int, size: Size, height: float = 10.0) -> BedItem:
    x, y = size
    outline = np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]])
    return BedItem(str(number), outline, height)


def sums(lengths: Sequence[int]) -> list[int]:
    """Every rectangle can be pushed left and down until its place is a sum of others' sides."""
    found = {0}
    for length in lengths:
        found |= {one + length for one in found}
    return sorted(found)


def one_bed(sizes: Sequence[Size], floor: Size) -> bool:
    """Whether rectangles, turned by quarters, fit one floor: all places tried in a tree."""
    if sum(x * y for x, y in sizes) > floor[0] * floor[1]:
        return False
    steps = sums([side for size in sizes for side in size])
    sizes = sorted(sizes, key=lambda size: -size[0] * size[1])

    def place(number: int, placed: list[tuple[int, int, int, int]]) -> bool:
        if number == len(sizes):
            return True
        for width, depth in {sizes[number], sizes[number][::-1]}:
            for x, y in itertools.product(steps, steps):
                if x + width > floor[0] or y + depth > floor[1]:
                    continue
                box = (x, y, x + width, y + depth)
                if any(overlap(box, other) for other in placed):
                    continue
                if place(number + 1, [*placed, box]):
                    return True
        return False

    return place(0, [])


def overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def partitions(count: int) -> Iterator[list[list[int]]]:
    """All ways to put numbers into groups."""
    if count == 0:
        yield []
        return
    last = count - 1
    for groups in partitions(last):
        for at in range(len(groups)):
            yield [[*group, last] if n == at else group for n, group in enumerate(groups)]
        yield [*groups, [last]]


def best_cost(sizes: Sequence[Size], heights: Sequence[float], floor: Size) -> tuple[int, float]:
    """Fewest beds, then least sum of heights, by looking at every partition."""
    fitting: dict[tuple[int, ...], bool] = {}

    def fits(group: Sequence[int]) -> bool:
        key = tuple(group)
        if key not in fitting:
            fitting[key] = one_bed([sizes[n] for n in group], floor)
        return fitting[key]

    return min(
        (len(groups), sum(max(heights[n] for n in group) for group in groups))
        for groups in partitions(len(sizes))
        if all(fits(group) for group in groups)
    )


def case(seed: int) -> tuple[list[Size], list[float], Size]:
    rng = np.random.default_rng(seed)
    floor = (int(rng.integers(8, 14)), int(rng.integers(8, 14)))
    count = int(rng.integers(2, 6))
    sizes = [(int(x), int(y)) for x, y in rng.integers(2, min(floor), size=(count, 2))]
    heights = [float(h) for h in rng.integers(1, 5, size=count) * 10]
    return sizes, heights, floor


@pytest.mark.parametrize("seed", range(40))
def test_no_exhaustive_search_finds_fewer_or_lower_beds(seed: int) -> None:
    sizes, heights, floor = case(seed)
    items = [rectangle_item(n, size, heights[n]) for n, size in enumerate(sizes)]
    beds = pack_beds(items, (float(floor[0]), float(floor[1])), 0.0)
    assert (len(beds), sum(bed.height for bed in beds)) <= best_cost(sizes, heights, floor)


@pytest.mark.parametrize("seed", range(60, 72))
def test_the_same_with_spacing(seed: int) -> None:
    # each rectangle and the floor grown by the spacing on two sides: corners may be nearer in
    # truth than these boxes allow, so that the packing may be better and never worse
    sizes, heights, floor = case(seed)
    items = [rectangle_item(n, size, heights[n]) for n, size in enumerate(sizes)]
    beds = pack_beds(items, (float(floor[0]), float(floor[1])), 1.0)
    grown = [(x + 1, y + 1) for x, y in sizes]
    best = best_cost(grown, heights, (floor[0] + 1, floor[1] + 1))
    assert (len(beds), sum(bed.height for bed in beds)) <= best
