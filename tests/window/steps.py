"""How a scenario passes time: it yields, and Blender handles events and draws."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator
from typing import TypeAlias, TypeVar

Result = TypeVar("Result")
Steps: TypeAlias = Generator[float | None, None, None]
"""Each step may say how many seconds it need not be called again."""
StepsTo: TypeAlias = Generator[float | None, None, Result]
"""Steps that have a result in the end: ``result = yield from steps``."""

PATIENCE = 30.0
BEAT = 0.01
"""Seconds from look to look while time passes."""


def turns(count: int) -> Steps:
    """Let Blender handle its events and draw, so many times."""
    for _ in range(count):
        yield None


def pause(seconds: float) -> Steps:
    """Let Blender go on for a time."""
    end = time.perf_counter() + seconds
    yield None
    while time.perf_counter() < end:
        yield BEAT


def until(condition: Callable[[], object], what: str, patience: float = PATIENCE) -> Steps:
    """Let Blender go on until the condition holds.

    Raises
    ------
    TimeoutError : it does not within `patience`, seconds
    """
    end = time.perf_counter() + patience
    while not condition():
        if time.perf_counter() > end:
            raise TimeoutError(f"found: no {what} within {patience:g} s; needed: {what}")
        yield BEAT
