"""One run of the core, its stages timed, and one with its memory watched."""

from __future__ import annotations

import tracemalloc
from dataclasses import dataclass
from time import perf_counter

from borewright.core.job import split_parts
from borewright.core.values import Joint, Mesh, Outcome, Settings

SETTINGS = Settings(envelope=(180.0, 180.0, 180.0))


@dataclass(frozen=True, slots=True)
class CoreRun:
    """stages : seconds of each, in their order"""

    seconds: float
    stages: dict[str, float]
    joints: tuple[Joint, ...]
    trued: int


def run_core(mesh: Mesh) -> CoreRun:
    """From mesh arrays to the arrays of proven pieces."""
    marks: list[tuple[str, float]] = []
    start = perf_counter()
    outcomes = split_parts(
        Mesh(mesh.vertices, mesh.triangles),
        "part",
        lambda _: SETTINGS,
        1.0,
        lambda stage: marks.append((stage, perf_counter())),
    )
    stop = perf_counter()
    ends = [at for _, at in marks[1:]] + [stop]
    stages = {name: end - at for (name, at), end in zip(marks, ends, strict=True)}
    (outcome,) = outcomes
    assert isinstance(outcome, Outcome)
    return CoreRun(stop - start, stages, _checked(outcome), len(outcome.trued.mesh.triangles))


def _checked(outcome: Outcome) -> tuple[Joint, ...]:
    """The joints of a run that really did the job."""
    assert len(outcome.pieces) == len(outcome.plan.joints) + 1 > 1
    assert all(check.ok for check in outcome.checks)
    return outcome.plan.joints


def peak_memory(mesh: Mesh) -> int:
    """Bytes held at the peak of a run, the mesh arrays themselves included."""
    tracemalloc.start()
    try:
        split_parts(mesh, "part", lambda _: SETTINGS, 1.0, lambda _: None)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    return peak + mesh.vertices.nbytes + mesh.triangles.nbytes
