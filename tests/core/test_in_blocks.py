"""Work in blocks and beside other work: all of it once, in order, on processors that are free."""

from __future__ import annotations

import threading
import time

import pytest
from borewright.core.meshes import in_blocks as tried
from borewright.core.meshes.in_blocks import Beside, in_blocks, shared_out


class Counted:
    """Processors that the module under test believes to be free."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self._patch = monkeypatch
        self.set(0)

    def set(self, free: int) -> None:
        self.all = tried.Processors(free)
        self._patch.setattr(tried, "_PROCESSORS", self.all)

    def left(self) -> int:
        """How many can be taken; all are given back."""
        count = 0
        while self.all.take():
            count += 1
        self.all.lend(count)
        return count


@pytest.fixture
def free(monkeypatch: pytest.MonkeyPatch) -> Counted:
    return Counted(monkeypatch)


@pytest.mark.parametrize("processors", [0, 1, 5])
def test_every_block_is_done_once_and_what_comes_of_them_is_in_order(
    free: Counted, processors: int
) -> None:
    free.set(processors)
    asked: list[slice] = []

    def work(block: slice) -> int:
        asked.append(block)
        time.sleep(0.001)
        return block.start

    count = 700_003
    starts = in_blocks(work, count)
    assert starts == sorted(starts) and len(starts) > 5
    rows = sorted((block.start, block.stop) for block in asked)
    assert rows[0][0] == 0 and rows[-1][1] == count
    assert [start for start, _ in rows[1:]] == [stop for _, stop in rows[:-1]]
    assert in_blocks(work, 0) == []
    assert free.left() == processors


@pytest.mark.parametrize(("processors", "threads"), [(0, 1), (1, 2), (5, 2)])
def test_a_helper_takes_its_turns_where_a_processor_is_free(
    free: Counted, processors: int, threads: int
) -> None:
    free.set(processors)

    def work(_: int) -> int:
        time.sleep(0.002)
        return threading.get_ident()

    assert len(set(shared_out(work, range(20)))) == threads


def test_a_helper_joins_when_a_processor_comes_free_meanwhile(free: Counted) -> None:
    def work(number: int) -> int:
        if number == 5:
            free.all.lend(1)
        time.sleep(0.002)
        return threading.get_ident()

    who = shared_out(work, range(20))
    assert set(who[:6]) == {threading.get_ident()} and len(set(who)) == 2
    assert free.left() == 1


def test_what_is_beside_goes_on_meanwhile_and_gives_its_processor_back(free: Counted) -> None:
    free.set(1)
    begun = threading.Event()

    def work() -> int:
        begun.set()
        return threading.get_ident()

    with Beside(work) as other:
        assert begun.wait(5.0)
        assert other.result() != threading.get_ident()
    assert free.left() == 1


def test_where_none_is_free_it_is_done_when_asked_for_or_not_at_all(free: Counted) -> None:
    free.set(0)
    done: list[int] = []

    def work() -> int:
        done.append(threading.get_ident())
        return 7

    with Beside(work):
        pass
    assert not done
    with Beside(work) as other:
        assert not done
        assert other.result() == 7
    assert done == [threading.get_ident()]


def test_where_the_system_gives_no_thread_it_is_done_without_one(
    free: Counted, monkeypatch: pytest.MonkeyPatch
) -> None:
    free.set(1)

    def refuse(_: threading.Thread) -> None:
        raise RuntimeError("can't start new thread")

    monkeypatch.setattr(threading.Thread, "start", refuse)
    here = threading.get_ident()
    assert shared_out(_who, range(5)) == [here] * 5
    with Beside(threading.get_ident) as other:
        assert other.result() == here
    assert free.left() == 1


def test_who_waits_lends_its_processor(free: Counted) -> None:
    free.set(1)
    waiting = threading.Event()

    def work() -> list[int]:
        waiting.wait(5.0)
        time.sleep(0.05)
        return shared_out(_who, range(20))

    with Beside(work) as other:
        assert not free.all.take()
        waiting.set()
        assert len(set(other.result())) == 2
    assert free.left() == 1


def _who(_: int) -> int:
    time.sleep(0.002)
    return threading.get_ident()


@pytest.mark.parametrize("processors", [0, 1])
@pytest.mark.parametrize("wrong", [0, 3, 9])
def test_what_goes_wrong_is_raised_whoever_meets_it(
    free: Counted, processors: int, wrong: int
) -> None:
    free.set(processors)

    def work(number: int) -> int:
        time.sleep(0.001)
        if number == wrong:
            raise ValueError(number)
        return number

    with pytest.raises(ValueError, match=str(wrong)):
        shared_out(work, range(10))
    assert free.left() == processors
