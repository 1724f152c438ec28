"""Which rows of integers are equal, without sorting them: hash tables in whole arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..values import FloatArray, IntArray, NarrowArray
from .in_blocks import blocks

_SOME = 4096

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
    rows, turn = first, 0
    while len(rows):
        lost, owner = _beaten(columns, turn)
        equal = np.ones(len(lost), bool)
        for column in columns:
            equal &= column[lost] == column[owner]
        repeated, original = rows[lost[equal]], rows[owner[equal]]
        left = lost[~equal]
        rows, columns, turn = rows[left], [column[left] for column in columns], turn + 1
        first[repeated] = original
    return first


def _beaten(columns: Sequence[IntArray], turn: int) -> tuple[IntArray, NarrowArray]:
    """The rows that come to a slot which an earlier row owns, and that row."""
    count = len(columns[0])
    size = _table_size(2 * count)
    slots, owners = np.empty(count, np.int64), np.empty(size, np.int32)
    for some in reversed(blocks(count)):
        slots[some] = _mixed_slots([column[some] for column in columns], size, turn)
        owners[slots[some][::-1]] = _rows(some)[::-1]  # the last write stays: the first row's
    lots = []
    for some in blocks(count):
        owner = owners.take(slots[some])
        beaten = np.flatnonzero(owner != _rows(some))
        lots.append((beaten + some.start, owner[beaten]))
    lost, winners = zip(*lots, strict=True)
    return np.concatenate(lost), np.concatenate(winners)


def pair_codes(first: NarrowArray, second: NarrowArray) -> IntArray:
    """(k,) one number for each pair of numbers, the second no less than the first."""
    codes: IntArray = first.astype(np.int64)
    codes <<= 32
    codes += second - first
    return codes


def coded_pairs(codes: IntArray) -> tuple[IntArray, IntArray]:
    """The two numbers of each of some `pair_codes`."""
    first = codes >> 32
    return first, (codes & (2**32 - 1)) + first


def match_codes(ours: IntArray, theirs: IntArray) -> NarrowArray | None:
    """For each of their `pair_codes` the row of ours with the same one.

    Returns
    -------
    (n,) int, or None where the two do not hold the same codes, each just once
    """
    if len(ours) != len(theirs):
        return None
    found = _look_up(ours, theirs, _near_multiplier(ours))
    if found is None:
        return None
    mates, our_left, their_left = found
    turn = 0
    while len(our_left) and len(their_left):
        multiplier = _MULTIPLIERS[turn % len(_MULTIPLIERS)] + 2 * turn
        found = _look_up(ours[our_left], theirs[their_left], multiplier)
        if found is None:
            return None
        owner, ours_lost, theirs_lost = found
        mates[their_left] = our_left[owner]
        our_left, their_left, turn = our_left[ours_lost], their_left[theirs_lost], turn + 1
    met = np.zeros(len(mates), bool)
    met[mates] = True
    return mates if met.all() and not len(their_left) else None


def _look_up(
    ours: IntArray, theirs: IntArray, multiplier: int
) -> tuple[NarrowArray, IntArray, IntArray] | None:
    """One turn: our rows that own the slots where they look.

    Returns
    -------
    (k,) int, right where the code there is theirs; our rows that own no slot; their rows
    that met another code; or None where codes of ours repeat
    """
    size = _table_size(2 * len(ours))
    owners = np.empty(size, np.int32)
    owners.fill(0)  # zeros fresh from the system would cost more, page by page
    for some in blocks(len(ours)):
        owners[_slots(ours[some], multiplier, size)] = _rows(some)
    lost = []
    for some in blocks(len(ours)):
        owner = owners.take(_slots(ours[some], multiplier, size))
        beaten = np.flatnonzero(owner != _rows(some))
        if (ours.take(owner[beaten]) == ours[some].take(beaten)).any():
            return None
        lost.append(some.start + beaten)
    found, wrong = np.empty(len(theirs), np.int32), []
    for some in blocks(len(theirs)):
        owner = owners.take(_slots(theirs[some], multiplier, size))
        found[some] = owner
        wrong.append(some.start + np.flatnonzero(ours.take(owner.astype(np.int64)) != theirs[some]))
    return found, np.concatenate(lost), np.concatenate(wrong)


def _rows(some: slice) -> NarrowArray:
    return np.arange(some.start, some.stop, dtype=np.int32)


def _slots(codes: IntArray, multiplier: int, size: int) -> IntArray:
    """Places in a table: the top bits of the products."""
    products = codes.view(np.uint64) * np.uint64(multiplier % 2**64)
    products >>= np.uint64(65 - size.bit_length())
    return products.view(np.int64)


def _near_multiplier(codes: IntArray) -> int:
    """One that sends pairs of near numbers to slots that lie near each other.

    Such are the pairs in nearby rows, of a mesh in order, and memory is read in order then.
    Four slots for each first number, as there are three edges a vertex; which of the four
    depends on how far the second lies from it: of some multipliers that one is taken under
    which common distances differ most.
    """
    size = _table_size(2 * len(codes))
    some = codes[:: max(1, len(codes) // _SOME)]
    apart, counts = np.unique(some & (2**32 - 1), return_counts=True)
    multipliers = [k * 0x9E3779B97F4A7C15 % 2**32 * 2**32 for k in range(1, 32, 2)]
    multipliers = [multiplier + 4 * 2**32 // size for multiplier in multipliers]
    crowds = [np.bincount(_slots(apart, one, size) % 4, counts) for one in multipliers]
    return multipliers[int(np.argmin([(crowd**2).sum() for crowd in crowds]))]


def _table_size(count: int) -> int:
    """The power of two from `count` on."""
    return 1 << max(4, (count - 1).bit_length())


def _mixed_slots(columns: Sequence[IntArray], size: int, turn: int) -> IntArray:
    """Slots that differ from turn to turn, in a table of a certain size."""
    mixed = np.zeros(len(columns[0]), np.uint64)
    for k, column in enumerate(columns):
        if k:
            mixed ^= mixed >> np.uint64(29)
        mixed ^= column.view(np.uint64)
        mixed *= np.uint64((_MULTIPLIERS[(turn + k) % len(_MULTIPLIERS)] + 2 * turn) % 2**64)
    mixed >>= np.uint64(65 - size.bit_length())
    return mixed.view(np.int64)
