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
    root = np.arange(count)
    while len(first):
        lower = np.minimum(root[first], root[second])
        np.minimum.at(root, root[first], lower)
        np.minimum.at(root, root[second], lower)
        root = _settled(root)
        apart = root[first] != root[second]
        first, second = first[apart], second[apart]
    numbers: IntArray = np.unique(root, return_inverse=True)[1].reshape(-1)
    return numbers


def _settled(root: IntArray) -> IntArray:
    while True:
        further = root[root]
        if np.array_equal(further, root):
            return root
        root = further
