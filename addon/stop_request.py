"""A request to end, from the system: the job stops and tidies up, as it does for Ctrl-C."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType
from typing import NoReturn


class StopRequested(BaseException):
    """The system asked this process to end. No error: nothing went wrong."""


@contextlib.contextmanager
def stop_on_request() -> Iterator[None]:
    """Have a request to end raise `StopRequested` in the body, once.

    Where somebody else looks after such requests, or may not be replaced, they
    go on to do so.

    Raises
    ------
    StopRequested : from wherever the body is
    """
    before = signal.getsignal(signal.SIGTERM)
    ours = before == signal.SIG_DFL and threading.current_thread() is threading.main_thread()
    if not ours:
        yield
        return
    signal.signal(signal.SIGTERM, _stop)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def _stop(_number: int, _frame: FrameType | None) -> NoReturn:
    signal.signal(signal.SIGTERM, signal.SIG_IGN)  # tidying up is not to be stopped
    raise StopRequested
