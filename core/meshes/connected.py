"""Which things hang together: labels of connected groups, without a loop over them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..values import IntArray
from .in_blocks import blocks, in_blocks

_ASKED_FIRST = 4096

PairsOf = Callable[[slice], tuple[IntArray, IntArray]]
"""Two things of each of some pairs."""


def connected_groups(count: int, first: IntArray, second: IntArray) -> IntArray:
    """Group number of each of `count` things, given pairs that belong together.

    Parameters
    ----------
    first, second : (p,) int, the pairs

    Returns
    -------
    (count,) int : 0, 1, 2, ... in the order of each group's first member
    """
    return groups_of_pairs(count, len(first), lambda some: (first[some], second[some]))


def groups_of_pairs(count: int, pairs: int, pairs_of: PairsOf) -> IntArray:
    """The same, of so many pairs that they had better not be held all at once."""
    root = np.arange(count)
    for some in reversed(blocks(pairs)):
        first, second = pairs_of(some)
        low, high = np.minimum(first, second), np.maximum(first, second)
        root[high[::-1]] = low[::-1]  # any lower one will do; of a mesh in order the first is far
    root = _settled(root)
    if not root.any():
        return root
    lots = in_blocks(lambda some: _roots_apart(root, *pairs_of(some)), pairs)
    low, high = (np.concatenate(lot) for lot in zip((root[:0], root[:0]), *lots, strict=True))
    while len(low):
        root[high] = low
        root = _settled(root)
        low, high = _roots_apart(root, low, high)
    numbers: IntArray = (np.cumsum(root == np.arange(count)) - 1)[root]
    return numbers


def _roots_apart(root: IntArray, first: IntArray, second: IntArray) -> tuple[IntArray, IntArray]:
    """The lower and the higher root of those pairs whose roots are not one."""
    first, second = root[first], root[second]
    apart = np.flatnonzero(first != second)
    first, second = first[apart], second[apart]
    return np.minimum(first, second), np.maximum(first, second)


def _settled(root: IntArray) -> IntArray:
    """Each thing's last root; of many, some are asked first whether that is reached."""
    further = np.empty_like(root)
    step = 1 + len(root) // _ASKED_FIRST
    while True:
        np.take(root, root, out=further, mode="clip")
        if np.array_equal(further[::step], root[::step]) and np.array_equal(further, root):
            return root
        root, further = further, root
