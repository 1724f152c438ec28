"""Work on large arrays in blocks that stay near the processor, on two threads."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import TypeVar

AT_ONCE = 1 << 16

Found = TypeVar("Found")


def in_blocks(work: Callable[[slice], Found], count: int) -> list[Found]:
    """What comes of each block of so many rows, in their order.

    Numpy lets go of the interpreter over whole arrays. What fits one block is done at once.
    """
    blocks = [slice(start, start + AT_ONCE) for start in range(0, count, AT_ONCE)]
    if len(blocks) < 2:
        return [work(block) for block in blocks]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(work, blocks))
