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
    rows, turn = np.arange(len(first)), 0
    while len(rows):
        position = np.arange(len(rows), dtype=np.int32)
        slots, size = _mixed_slots(columns, len(rows), turn)
        owners = np.empty(size, np.int32)
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


def match_pairs(
    ours: tuple[IntArray, IntArray], theirs: tuple[IntArray, IntArray], span: int
) -> IntArray | None:
    """For each of their pairs of numbers below `span` the row of ours with the same pair.

    Returns
    -------
    (n,) int, or None where the two do not hold the same pairs, each just once
    """
    if len(ours[0]) != len(theirs[0]):
        return None
    codes, asked = (first * span + second for first, second in (ours, theirs))
    slots, size = _local_slots(*ours)
    found = _look_up(codes, slots, asked, _local_slots(*theirs)[0], size)
    if found is None:
        return None
    mates, our_left, their_left = found
    turn = 0
    while len(our_left) and len(their_left):
        codes_left, asked_left = codes[our_left], asked[their_left]
        slots, size = _mixed_slots([codes_left], len(our_left), turn)
        asked_slots = _mixed_slots([asked_left], len(our_left), turn)[0]
        found = _look_up(codes_left, slots, asked_left, asked_slots, size)
        if found is None:
            return None
        owner, ours_lost, theirs_lost = found
        mates[their_left] = our_left[owner]
        our_left, their_left, turn = our_left[ours_lost], their_left[theirs_lost], turn + 1
    met = np.zeros(len(codes), bool)
    met[mates] = True
    return mates if met.all() and not len(their_left) else None


def _look_up(
    codes: IntArray, slots: IntArray, asked: IntArray, asked_slots: IntArray, size: int
) -> tuple[IntArray, IntArray, IntArray] | None:
    """One turn: the rows of `codes` that own the slots asked for.

    Returns
    -------
    (k,) int, right where the code there is the one asked for; the rows of `codes` that
    own no slot; the rows of `asked` that met another code; or None where codes repeat
    """
    position = np.arange(len(codes), dtype=np.int32)
    owners = np.zeros(size, np.int32)
    owners[slots] = position
    owner = owners[slots]
    lost = np.flatnonzero(owner != position)
    if (codes[lost] == codes[owner[lost]]).any():
        return None
    found = owners[asked_slots].astype(np.int64)
    return found, lost, np.flatnonzero(codes[found] != asked)


def _table_size(count: int) -> int:
    """The power of two from `count` on."""
    return 1 << max(4, (count - 1).bit_length())


def _local_slots(first: IntArray, second: IntArray) -> tuple[IntArray, int]:
    """Slots that lie near each other where the pairs in nearby rows have near numbers.

    Those of a mesh in order do, and memory is read in order then. Three slots for each
    first number, as there are three edges a vertex.
    """
    size = _table_size(2 * len(first))
    slots = second - first
    slots *= 0x9E3779B1
    slots += 3 * first
    slots &= size - 1
    return slots, size


def _mixed_slots(columns: Sequence[IntArray], count: int, turn: int) -> tuple[IntArray, int]:
    """Slots that differ from turn to turn, in a table for `count` rows."""
    size = _table_size(2 * count)
    mixed = np.zeros(len(columns[0]), np.uint64)
    for k, column in enumerate(columns):
        if k:
            mixed ^= mixed >> np.uint64(29)
        mixed ^= column.view(np.uint64)
        mixed *= np.uint64((_MULTIPLIERS[(turn + k) % len(_MULTIPLIERS)] + 2 * turn) % 2**64)
    mixed >>= np.uint64(65 - size.bit_length())
    return mixed.view(np.int64), size
