"""Operators on where seams are wished: stretches that they avoid, stations that they prefer."""

from __future__ import annotations

from collections.abc import Callable

import bpy

from ...core.errors import BadSetting
from ...core.stages import KnownPart
from ..properties.groups import BOREWRIGHT_PG_part, untold_changes
from ..surveys.cut_lists import PartInScene, plan_again
from ..words.told import told
from .cut_operators import CutOperator, checked_line, index_property, station_property


class BOREWRIGHT_OT_add_avoid(CutOperator, bpy.types.Operator):
    """Add a stretch of the part that no seam may lie in"""

    bl_idname = "borewright.add_avoid"
    bl_label = "Avoid Stretch"
    bl_options = {"REGISTER", "UNDO"}

    start: station_property("From", "Station where the stretch begins")
    stop: station_property("To", "Station where the stretch ends")

    @classmethod
    def missing(cls, _part: BOREWRIGHT_PG_part) -> str:
        """Nothing more is needed."""
        return ""

    def carry_out(self, on: PartInScene) -> str:
        """Add it to the object's stretches."""
        if not self.start < self.stop:
            raise BadSetting(
                f"a stretch from {self.start:.2f} to {self.stop:.2f} mm",
                "its end above its beginning",
                f"from {self.stop:.2f} to {self.start + 10.0:.2f} mm",
            )

        def add(part: BOREWRIGHT_PG_part) -> None:
            made = part.avoid.add()
            made.start, made.stop = self.start, self.stop

        def take_back(part: BOREWRIGHT_PG_part) -> None:
            part.avoid.remove(len(part.avoid) - 1)

        _change_avoided(on, add, take_back)
        return told("No seam from {start:.2f} to {stop:.2f} mm", start=self.start, stop=self.stop)


class BOREWRIGHT_OT_remove_avoid(CutOperator, bpy.types.Operator):
    """Let seams lie in a stretch again"""

    bl_idname = "borewright.remove_avoid"
    bl_label = "Allow Stretch"
    bl_options = {"REGISTER", "UNDO"}

    index: index_property()

    @classmethod
    def missing(cls, part: BOREWRIGHT_PG_part) -> str:
        """A stretch is needed."""
        return "" if len(part.avoid) else told("No stretch is avoided")

    def carry_out(self, on: PartInScene) -> str:
        """Take it off the object's stretches."""
        part = on.part
        index = checked_line(len(part.avoid), self.index)
        start, stop = part.avoid[index].start, part.avoid[index].stop
        _change_avoided(on, lambda part: part.avoid.remove(index), None)
        return told("Seams may lie from {start:.2f} to {stop:.2f} mm", start=start, stop=stop)


class BOREWRIGHT_OT_add_prefer(CutOperator, bpy.types.Operator):
    """Add a station near which a seam is better than elsewhere"""

    bl_idname = "borewright.add_prefer"
    bl_label = "Prefer Station"
    bl_options = {"REGISTER", "UNDO"}

    station: station_property("Station", "Where a seam is wished; the active seam's if not given")

    @classmethod
    def missing(cls, _part: BOREWRIGHT_PG_part) -> str:
        """Nothing more is needed."""
        return ""

    def carry_out(self, on: PartInScene) -> str:
        """Add it to the object's stations, and plan again."""
        part = on.part
        if not self.properties.is_property_set("station"):
            self.station = _station_in_hand(on)
        with untold_changes():
            part.prefer.add().station = self.station
        plan_again(on)
        return told("Seams near {station:.2f} mm are preferred", station=self.station)


def _station_in_hand(on: PartInScene) -> float:
    """That of the active seam, where there is one; else the middle of the first body."""
    cuts = on.part.cuts
    if on.part.active_cut < len(cuts):
        return float(cuts[on.part.active_cut].station)
    known = next((one.known for one in on.found.parts if isinstance(one.known, KnownPart)), None)
    return 0.0 if known is None else known.survey.length / 2.0


class BOREWRIGHT_OT_remove_prefer(CutOperator, bpy.types.Operator):
    """Prefer a station no longer"""

    bl_idname = "borewright.remove_prefer"
    bl_label = "Stop Preferring"
    bl_options = {"REGISTER", "UNDO"}

    index: index_property()

    @classmethod
    def missing(cls, part: BOREWRIGHT_PG_part) -> str:
        """A station is needed."""
        return "" if len(part.prefer) else told("No station is preferred")

    def carry_out(self, on: PartInScene) -> str:
        """Take it off the object's stations, and plan again."""
        part = on.part
        index = checked_line(len(part.prefer), self.index)
        station = part.prefer[index].station
        with untold_changes():
            part.prefer.remove(index)
        plan_again(on)
        return told("Seams near {station:.2f} mm are preferred no longer", station=station)


def _change_avoided(
    on: PartInScene,
    change: Callable[[BOREWRIGHT_PG_part], None],
    take_back: Callable[[BOREWRIGHT_PG_part], None] | None,
) -> None:
    """Change what is avoided and plan again; where that is refused take it back, if told how."""
    part, found = on.part, on.found
    planned_before = all(one.problem is None for one in found.parts)
    with untold_changes():
        change(part)
    plan_again(on)
    problem = next((one.problem for one in found.parts if one.problem is not None), None)
    if problem is None or take_back is None or not planned_before:
        return
    with untold_changes():
        take_back(part)
    plan_again(on)
    raise problem


CLASSES = (
    BOREWRIGHT_OT_add_avoid,
    BOREWRIGHT_OT_remove_avoid,
    BOREWRIGHT_OT_add_prefer,
    BOREWRIGHT_OT_remove_prefer,
)
