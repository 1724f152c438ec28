"""An object's list of cuts, and the plan that it shows: changed together, or not at all."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.errors import CoreError, NoPlan
from ...core.stages import KnownPart
from ...core.values import Outcome, Plan, Settings
from ..properties.groups import BOREWRIGHT_PG_part, untold_changes
from ..properties.panel_settings import part_properties, settings_for
from .cut_places import CutPlaces, places_for_another, places_of
from .found import Found, FoundPart, plan_found

if TYPE_CHECKING:
    import bpy

Change = Callable[[BOREWRIGHT_PG_part], None]


@dataclass(frozen=True, slots=True, eq=False)
class PartInScene:
    """An object that was surveyed, for as long as one operator is at it."""

    scene: bpy.types.Scene
    source: bpy.types.Object
    found: Found

    @property
    def part(self) -> BOREWRIGHT_PG_part:
        """What is asked for it."""
        return part_properties(self.source)

    def settings(self, body: int) -> Settings:
        """All settings of one of its bodies.

        Raises
        ------
        CoreError : they are at fault
        """
        return settings_for(self.scene, self.source, body)


@dataclass(frozen=True, slots=True)
class _Listed:
    """A line of the list; `body`: which of the object's bodies it cuts."""

    body: int
    station: float
    insisted: bool


@dataclass(frozen=True, slots=True)
class _Asked:
    """What of an object's properties a change of its cuts may touch."""

    cuts: tuple[_Listed, ...]
    active: int
    pieces: int


def show_cuts(source: bpy.types.Object, found: Found) -> bool:
    """List the cuts that are planned; of a body that has no plan those insisted on.

    Whether the list was another one before.
    """
    part = part_properties(source)
    before = _listed(part)
    return _list(
        part, tuple(cut for body in range(len(found.parts)) for cut in _of(body, found, before))
    )


def plan_again(on: PartInScene) -> None:
    """Plan with the properties as they are now, and list the cuts."""
    plan_found(on.found, on.settings)
    show_cuts(on.source, on.found)


def change_cuts(on: PartInScene, body: int, change: Change) -> None:
    """Change what is asked and plan again.

    Raises
    ------
    CoreError : there is no such plan. If there was one before, all is as it was; if there
        was none either, the change stays
    """
    before, refused_before = _asked_of(on.part), on.found.parts[body].problem
    with untold_changes():
        change(on.part)
    plan_found(on.found, on.settings)
    problem = on.found.parts[body].problem or _overgrown(on)
    if problem is None or refused_before is not None:
        show_cuts(on.source, on.found)
    else:
        _put_back(on, before)
    if problem is not None:
        raise problem


_edited: list[None] = []
"""As many as there are lines being edited by hand."""


@contextmanager
def edited_line() -> Iterator[None]:
    """While a line is edited the list does not grow, for that would take it from under the hand."""
    _edited.append(None)
    try:
        yield
    finally:
        _edited.pop()


def _overgrown(on: PartInScene) -> CoreError | None:
    """The refusal of a plan that a list of which a line is edited has no room for."""
    plans = [plan_of(body) for body in on.found.parts]
    planned = sum(len(plan.cuts) for plan in plans if plan is not None)
    if not _edited or planned <= len(on.part.cuts):
        return None
    return NoPlan(
        f"{planned} seams would be needed in all",
        f"{len(on.part.cuts)} or fewer",
        "Plan Seams first",
    )


def _asked_of(part: BOREWRIGHT_PG_part) -> _Asked:
    """What is asked, to be put back if need be."""
    return _Asked(_listed(part), part.active_cut, part.pieces)


def _put_back(on: PartInScene, before: _Asked) -> None:
    """Ask what was asked before, and plan that again."""
    _list(on.part, before.cuts)
    with untold_changes():
        on.part.pieces, on.part.active_cut = before.pieces, before.active
    plan_again(on)


def activate(part: BOREWRIGHT_PG_part, body: int, station: float) -> None:
    """Make the line of a cut the active one."""
    for number, cut in enumerate(part.cuts):
        if (cut.part, cut.station) == (body, station):
            part.active_cut = number


def planned_number(on: PartInScene, index: int) -> int | None:
    """Which cut of its body's plan, from 0, a line of the list is; None: of none."""
    cuts = on.part.cuts
    body = cuts[index].part
    plan = plan_of(on.found.parts[body]) if body < len(on.found.parts) else None
    number = sum(cut.part == body for cut in cuts[:index])
    return number if plan is not None and number < len(plan.cuts) else None


def plan_of(part: FoundPart) -> Plan | None:
    """The plan of a body that is cut; None: it has none."""
    return part.planned.plan if isinstance(part.planned, Outcome) else None


def places_in(on: PartInScene, index: int) -> CutPlaces:
    """Where a cut of the list may lie.

    Raises
    ------
    CoreError : the settings are at fault
    """
    cut = on.part.cuts[index]
    body = on.found.parts[cut.part]
    exact, settings = _known(body).exact, on.settings(cut.part)
    plan, number = plan_of(body), planned_number(on, index)
    if plan is None or number is None:
        others = tuple(other for other in settings.cuts if other != cut.station)
        return places_for_another(exact, replace(settings, cuts=others))
    return places_of(exact, settings, plan, number)


def places_beside(on: PartInScene, body: int) -> CutPlaces:
    """Where a further cut of a body may lie, if all that are planned stay where they are.

    Raises
    ------
    CoreError : the settings are at fault
    """
    settings = on.settings(body)
    listed = {cut.station for cut in on.part.cuts if cut.part == body}
    kept = tuple(sorted(listed | set(settings.cuts)))
    return places_for_another(_known(on.found.parts[body]).exact, replace(settings, cuts=kept))


def _known(part: FoundPart) -> KnownPart:
    assert isinstance(part.known, KnownPart)  # only such have cuts
    return part.known


def _listed(part: BOREWRIGHT_PG_part) -> tuple[_Listed, ...]:
    return tuple(_Listed(cut.part, cut.station, cut.insisted) for cut in part.cuts)


def _of(body: int, found: Found, before: tuple[_Listed, ...]) -> list[_Listed]:
    insisted = [cut for cut in before if cut.body == body and cut.insisted]
    kept = sorted(insisted, key=lambda cut: cut.station)
    plan = plan_of(found.parts[body])
    if plan is None:
        return kept
    stations = {cut.station for cut in kept}
    return [_Listed(body, cut.station, cut.station in stations) for cut in plan.cuts]


def _as_kept(line: _Listed) -> _Listed:
    """A line with as much of its station as a property keeps."""
    return replace(line, station=float(np.float32(line.station)))


def _list(part: BOREWRIGHT_PG_part, wanted: tuple[_Listed, ...]) -> bool:
    """Write the list in place: a line that is being edited is not taken from under the hand.

    Nothing is written that is there already, for Blender takes each change for one of the object.
    """
    if _listed(part) == tuple(map(_as_kept, wanted)):
        return False
    with untold_changes():
        while len(part.cuts) > len(wanted):
            part.cuts.remove(len(part.cuts) - 1)
        while len(part.cuts) < len(wanted):
            part.cuts.add()
        for cut, line in zip(part.cuts, wanted, strict=True):
            cut.part, cut.station, cut.insisted = line.body, line.station, line.insisted
        part.active_cut = max(0, min(part.active_cut, len(wanted) - 1))
    return True
