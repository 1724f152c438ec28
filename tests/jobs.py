"""The job on parts that can be surveyed, as tests ask for it."""

from __future__ import annotations

from collections.abc import Iterable

from borewright.core.job import plan_parts, split_parts
from borewright.core.values import Mesh, Outcome, PassedOn, Settings


def split_surveyed(
    mesh: Mesh, name: str, settings: Settings, scale_to_mm: float = 1.0
) -> tuple[Outcome, ...]:
    """Every part split with the same settings; each must have been surveyed."""
    return _surveyed(split_parts(mesh, name, lambda _: settings, scale_to_mm, lambda _: None))


def plan_surveyed(
    mesh: Mesh, name: str, settings: Settings, scale_to_mm: float = 1.0
) -> tuple[Outcome, ...]:
    """Every part planned with the same settings; each must have been surveyed."""
    return _surveyed(plan_parts(mesh, name, lambda _: settings, scale_to_mm, lambda _: None))


def _surveyed(done: Iterable[Outcome | PassedOn]) -> tuple[Outcome, ...]:
    outcomes = []
    for one in done:
        assert isinstance(one, Outcome)
        outcomes.append(one)
    return tuple(outcomes)
