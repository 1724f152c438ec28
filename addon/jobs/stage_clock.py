"""How long each stage took, a line a stage, for the person who waits."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(slots=True)
class StageClock:
    """Tells of each stage as it ends.

    tell : called with one line a stage
    """

    tell: Callable[[str], None]
    _stage: str | None = None
    _began: float = 0.0

    def start(self, stage: str) -> None:
        """End the stage before and begin this one."""
        self.stop()
        self._stage, self._began = stage, time.perf_counter()

    def stop(self) -> None:
        """End the stage that runs, if one does."""
        if self._stage is not None:
            self.tell(f"{self._stage} {time.perf_counter() - self._began:.2f} s")
        self._stage = None
