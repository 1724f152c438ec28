"""Which things hang together: labels of connected groups, without a loop over them."""

from __future__ import annotations

import numpy as np

from ..values import IntArray


def connected_groups(count: int, first: IntArray, second: IntArray) -> IntArray:
    """Group number of each of `count` things, given pairs that belong together.

    Parameters
    ----------
    first, second : (p,) int, the pairs

    Returns
    -------
    (count,) int : 0, 1, 2, ... in the order of each group's first member
    """
    low, high = np.minimum(first, second), np.maximum(first, second)
    root = np.arange(count)
    root[high[::-1]] = low[::-1]  # any lower one will do; of a mesh in order the first is far
    while True:
        root = _settled(root)
        if not root.any():
            return root
        low, high = root[low], root[high]
        apart = np.flatnonzero(low != high)
        if not len(apart):
            break
        low, high = np.minimum(low[apart], high[apart]), np.maximum(low[apart], high[apart])
        root[high] = low
    numbers: IntArray = (np.cumsum(root == np.arange(count)) - 1)[root]
    return numbers


def _settled(root: IntArray) -> IntArray:
    while True:
        further = root[root]
        if np.array_equal(further, root):
            return root
        root = further
