"""How long Blender's main thread was away: the times between the calls of a timer."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

import bpy

INTERVAL = 0.005
"""Seconds that the timer asks for; a gap is never much shorter."""


@dataclass(frozen=True, slots=True)
class Gap:
    """From one call of the timer to the next.

    start : seconds since the measuring began
    wall : seconds that passed, drawing and waiting included
    busy : seconds that the main thread itself computed
    """

    start: float
    wall: float
    busy: float


@dataclass(slots=True)
class Gaps:
    """All that were measured."""

    all: list[Gap] = field(default_factory=list)

    def longest(self) -> Gap:
        """The one that a user would notice most."""
        return max(self.all, key=lambda gap: gap.wall)

    def told(self) -> str:
        """What was measured, in one line."""
        walls = sorted(1e3 * gap.wall for gap in self.all)
        worst = self.longest()
        return (
            f"{len(walls)} gaps, {sum(walls) / 1e3:.1f} s; median {walls[len(walls) // 2]:.0f} ms, "
            f"longest {walls[-1]:.0f} ms ({1e3 * worst.busy:.0f} ms busy) at {worst.start:.1f} s"
        )


@contextmanager
def measured_gaps() -> Iterator[Gaps]:
    """Measure while the block runs; it must yield meanwhile, and take no pictures."""
    gaps = Gaps()
    began = time.perf_counter()
    last = [began, time.thread_time()]

    def note() -> float:
        now, busy = time.perf_counter(), time.thread_time()
        gaps.all.append(Gap(last[0] - began, now - last[0], busy - last[1]))
        last[:] = now, busy
        return INTERVAL

    bpy.app.timers.register(note, persistent=True)
    try:
        yield gaps
    finally:
        note()
        bpy.app.timers.unregister(note)
