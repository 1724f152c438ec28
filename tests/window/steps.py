"""How a scenario passes time: it yields, and Blender handles events and draws."""

from __future__ import annotations

import time
from collections.abc import Callable, Generator
from typing import TypeAlias, TypeVar

Result = TypeVar("Result")
Steps: TypeAlias = Generator[None, None, None]
StepsTo: TypeAlias = Generator[None, None, Result]
"""Steps that have a result in the end: ``result = yield from steps``."""

PATIENCE = 30.0


def turns(count: int) -> Steps:
    """Let Blender handle its events and draw, so many times."""
    for _ in range(count):
        yield


def pause(seconds: float) -> Steps:
    """Let Blender go on for a time."""
    end = time.perf_counter() + seconds
    yield
    while time.perf_counter() < end:
        yield


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
        yield
