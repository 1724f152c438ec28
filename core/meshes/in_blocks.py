"""Work on large arrays in blocks that stay near the processor, on two threads."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

_AT_ONCE = 1 << 16

Found = TypeVar("Found")


def blocks(count: int, at_once: int = _AT_ONCE) -> list[slice]:
    """All of so many rows, a few at a time."""
    return [slice(start, min(start + at_once, count)) for start in range(0, count, at_once)]


def in_blocks(work: Callable[[slice], Found], count: int) -> list[Found]:
    """What comes of each block of so many rows, in their order.

    Numpy lets go of the interpreter over whole arrays. What fits one block is done at once.
    """
    every = blocks(count)
    if len(every) < 2:
        return [work(some) for some in every]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(work, every))
