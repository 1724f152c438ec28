"""Which rows of integers are equal, without sorting them: hash tables in whole arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..values import FloatArray, IntArray

_MULTIPLIERS = (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93)
"""Odd, with their bits well mixed: multiplying by one carries low bits to the top."""


def coordinate_bits(points: FloatArray) -> list[IntArray]:
    """The coordinates' bits as integers, equal where the coordinates are; -0.0 is 0.0."""
    return [(column + 0.0).view(np.int64) for column in points.T]


def first_equal(columns: Sequence[IntArray]) -> IntArray:
    """For each row, the number of the first row that equals it: its own where none does.

    In each turn one row owns each slot of a table. Rows that equal their slot's owner
    are settled; the others, with all the equals they have, try other slots.

    Parameters
    ----------
    columns : (n,) int each
    """
    first = np.arange(len(columns[0]))
    rows, turn = first.copy(), 0
    while len(rows):
        position = np.arange(len(rows))
        slots, size = _slots(columns, len(rows), turn)
        owners = np.empty(size, np.int64)
        owners[slots[::-1]] = position[::-1]  # the last write stays: that of the first row
        owner = owners[slots]
        lost = np.flatnonzero(owner != position)
        owner = owner[lost]
        equal = np.ones(len(lost), bool)
        for column in columns:
            equal &= column[lost] == column[owner]
        first[rows[lost[equal]]] = rows[owner[equal]]
        left = lost[~equal]
        rows, columns, turn = rows[left], [column[left] for column in columns], turn + 1
    return first


def match_each(ours: IntArray, theirs: IntArray) -> IntArray | None:
    """For each of our codes the row where theirs holds the same.

    Returns
    -------
    (n,) int, or None where the two do not hold the same codes, each just once
    """
    mates = np.full(len(ours), -1, np.int64)
    our_rows, their_rows, turn = np.arange(len(ours)), np.arange(len(theirs)), 0
    while len(ours):
        position = np.arange(len(ours))
        slots, size = _slots([ours], len(ours), turn)
        owners = np.zeros(size, np.int64)
        owners[slots] = position
        owner = owners[slots]
        lost = np.flatnonzero(owner != position)
        if (ours[lost] == ours[owner[lost]]).any():
            return None
        asked = owners[_slots([theirs], len(ours), turn)[0]]
        met = ours[asked] == theirs
        mates[our_rows[asked[met]]] = their_rows[met]
        left = np.flatnonzero(~met)
        ours, our_rows, turn = ours[lost], our_rows[lost], turn + 1
        theirs, their_rows = theirs[left], their_rows[left]
    return None if len(theirs) or (mates < 0).any() else mates


def _slots(columns: Sequence[IntArray], count: int, turn: int) -> tuple[IntArray, int]:
    """A slot for each row in a table at least twice as large as `count`, and its size."""
    bits = max(4, (2 * count - 1).bit_length())
    mixed = np.zeros(len(columns[0]), np.uint64)
    for k, column in enumerate(columns):
        mixed ^= mixed >> np.uint64(29)
        mixed ^= column.view(np.uint64)
        mixed *= np.uint64((_MULTIPLIERS[(turn + k) % len(_MULTIPLIERS)] + 2 * turn) % 2**64)
    mixed >>= np.uint64(64 - bits)
    return mixed.view(np.int64), 1 << bits
