"""Long work beside Blender: computed in a thread, watched by a modal operator.

The thread never touches Blender's data: it gets a snapshot and gives a result, both
plain values. The operator looks at it a few times a second, shows the stage, and takes
the result over on the main thread.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

Result = TypeVar("Result")
Progress = Callable[[str], None]
Compute = Callable[[Progress], Result]


class WorkCancelled(BaseException):
    """Raised in the thread at the next stage after a cancel. No error: nothing went wrong."""


class Work(Generic[Result]):
    """One computation in a thread of its own.

    Parameters
    ----------
    compute : given a function to call with the name of each stage as it begins
    """

    def __init__(self, compute: Compute[Result]) -> None:
        self._compute = compute
        self._cancel = threading.Event()
        self._thread = threading.Thread(target=self._run, name="borewright", daemon=True)
        self._result: list[Result] = []
        self._problem: BaseException | None = None
        self.stage = ""

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    @property
    def done(self) -> bool:
        """Whether it has ended, one way or another."""
        return not self._thread.is_alive()

    def cancel(self) -> None:
        """Ask it to end at its next stage; `done` tells when it has. Its result is lost."""
        self._cancel.set()

    @property
    def cancelled(self) -> bool:
        """Whether it was asked to end."""
        return self._cancel.is_set()

    def wait(self) -> None:
        """Until it has ended."""
        self._thread.join()

    def result(self) -> Result:
        """What it came to.

        Raises
        ------
        WorkCancelled : it was cancelled
        BaseException : whatever it raised
        """
        assert self.done
        if self._cancel.is_set():
            raise WorkCancelled
        if self._problem is not None:
            raise self._problem
        return self._result[0]

    def _progress(self, stage: str) -> None:
        if self._cancel.is_set():
            raise WorkCancelled
        self.stage = stage

    def _run(self) -> None:
        try:
            self._progress("")
            self._result.append(self._compute(self._progress))
        except BaseException as problem:  # noqa: BLE001 - handed over to the main thread
            self._problem = problem
