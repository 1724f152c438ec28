"""Work on large arrays in blocks that stay near the processor, and beside other work.

Numpy lets go of the interpreter over whole arrays, so that two threads can work at once. More of
them than there are processors only wait for each other, whenever one wants it back: so a thread is
started only where a processor is free for it.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from types import TracebackType
from typing import Generic, TypeVar

_AT_ONCE = 1 << 16

Found = TypeVar("Found")
Thing = TypeVar("Thing")


class Processors:
    """How many are free, but for one for whoever asks."""

    def __init__(self, free: int) -> None:
        self._free, self._lock = free, threading.Lock()

    def take(self) -> bool:
        """Whether one was free, and is so no longer."""
        with self._lock:
            taken = self._free > 0
            self._free -= taken
        return taken

    def lend(self, by: int) -> None:
        """One more is free, or one fewer: -1."""
        with self._lock:
            self._free += by


def _count_processors() -> int:
    """Of this machine, that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


_PROCESSORS = Processors(_count_processors() - 1)


class Beside(Generic[Found]):
    """Work that another thread does, where a processor is free; else it is done when asked for.

        with Beside(work) as other:
            ...
            found = other.result()

    The block is left when the other thread is done.
    """

    def __init__(self, work: Callable[[], Found]) -> None:
        self._work = work
        self._future: Future[Found] | None = None

    def __enter__(self) -> Beside[Found]:
        self.start()
        return self

    def start(self) -> None:
        """Let another thread begin, if none has and a processor is free by now.

        The system may refuse a thread, and does where Python is ending: then there is none.
        """
        if self._future is not None or not _PROCESSORS.take():
            return
        pool = ThreadPoolExecutor(1, "borewright-beside")
        try:
            self._future = pool.submit(self._with_processor)
        except RuntimeError:
            _PROCESSORS.lend(1)
        pool.shutdown(wait=False)

    def _with_processor(self) -> Found:
        try:
            return self._work()
        finally:
            _PROCESSORS.lend(1)

    def result(self) -> Found:
        """What came of it; raises what it raised."""
        if self._future is None:
            return self._work()
        self._wait()
        return self._future.result()

    def _wait(self) -> None:
        """Meanwhile the waiting one's processor is free."""
        if self._future is not None and not self._future.done():
            _PROCESSORS.lend(1)
            try:
                self._future.exception()
            finally:
                _PROCESSORS.lend(-1)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._wait()


def blocks(count: int, at_once: int = _AT_ONCE) -> list[slice]:
    """All of so many rows, a few at a time."""
    return [slice(start, min(start + at_once, count)) for start in range(0, count, at_once)]


def in_blocks(work: Callable[[slice], Found], count: int) -> list[Found]:
    """What comes of each block of so many rows, in their order."""
    return shared_out(work, blocks(count))


def shared_out(work: Callable[[Thing], Found], things: Sequence[Thing]) -> list[Found]:
    """What comes of each of some things, in their order; a second thread takes its turns too.

    It begins as soon as a processor is free for it.
    """
    if len(things) < 2:
        return [work(thing) for thing in things]
    found: dict[int, Found] = {}
    left = iter(enumerate(things))

    def take_turns() -> None:
        for number, thing in left:
            found[number] = work(thing)

    with Beside(take_turns) as other:
        for number, thing in left:
            found[number] = work(thing)
            other.start()
        other.result()
    return [found[number] for number in range(len(things))]
