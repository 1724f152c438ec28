"""A request to end, from the system or by Ctrl-C: the job stops and tidies up."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Callable, Iterator
from types import FrameType
from typing import Any, NoReturn


class StopRequested(BaseException):
    """The system asked this process to end. No error: nothing went wrong."""


_Answer = signal.Handlers | Callable[[int, FrameType | None], Any]

_USUAL: dict[signal.Signals, _Answer] = {
    signal.SIGTERM: signal.SIG_DFL,
    signal.SIGINT: signal.default_int_handler,
}
"""Who answers each request where nobody else has taken it over."""


@contextlib.contextmanager
def stop_on_request() -> Iterator[None]:
    """Have a request to end raise in the body.

    Where somebody else looks after such requests, or may not be replaced, they
    go on to do so.

    Raises
    ------
    StopRequested, KeyboardInterrupt : from wherever the body is
    """
    ours = [number for number, usual in _USUAL.items() if signal.getsignal(number) == usual]
    if threading.current_thread() is not threading.main_thread():
        ours = []
    for number in ours:
        signal.signal(number, _stop)
    try:
        yield
    finally:
        for number in ours:
            signal.signal(number, _USUAL[number])
        _heard.clear()


def finish_undisturbed() -> None:
    """Hear no more requests until `stop_on_request` ends.

    For the moment in which the work is done for good: what is left takes no time,
    and to be told that nothing was written would be wrong from here on.

    Raises
    ------
    StopRequested, KeyboardInterrupt : one came before, and got lost where Python lets no error out
    """
    hear_no_more()
    if _heard:
        raise _answer(_heard[0])


def hear_no_more() -> None:
    """Ignore requests until `stop_on_request` ends: tidying up is not to be stopped."""
    if threading.current_thread() is threading.main_thread():
        for number in _USUAL:
            if signal.getsignal(number) is _stop:
                signal.signal(number, signal.SIG_IGN)


_heard: list[int] = []
"""Requests since `stop_on_request` began."""


def _stop(number: int, _frame: FrameType | None) -> NoReturn:
    _heard.append(number)
    raise _answer(number)


def _answer(number: int) -> BaseException:
    return KeyboardInterrupt() if number == signal.SIGINT else StopRequested()
