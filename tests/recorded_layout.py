"""A layout that notes what is drawn, and refuses what Blender would not draw.

It holds panels to what Blender does with a property, operator, menu or icon that is not there:
Blender prints a warning at every draw, or shows nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace

import bpy

ICONS = set(bpy.types.UILayout.bl_rna.functions["prop"].parameters["icon"].enum_items.keys())


@dataclass
class Drawn:
    """All that was drawn, in order."""

    labels: list[str] = field(default_factory=list)
    properties: list[str] = field(default_factory=list)
    operators: list[str] = field(default_factory=list)
    menus: list[str] = field(default_factory=list)
    bars: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        return " ".join(self.labels)


class RecordedLayout:
    """Stands in for `bpy.types.UILayout`; its parts note into the same `Drawn`."""

    def __init__(self, drawn: Drawn | None = None) -> None:
        self.drawn = drawn if drawn is not None else Drawn()

    def label(self, *, text: str = "", icon: str = "NONE", **_more: object) -> None:
        assert icon in ICONS
        self.drawn.labels.append(text)

    def prop(self, data: bpy.types.bpy_struct, name: str, **more: object) -> None:
        assert name in data.bl_rna.properties, name
        assert more.get("icon", "NONE") in ICONS
        self.drawn.properties.append(name)

    def operator(self, name: str, **more: object) -> SimpleNamespace:
        family, own = name.split(".")
        assert own in dir(getattr(bpy.ops, family)), name
        assert more.get("icon", "NONE") in ICONS
        self.drawn.operators.append(name)
        return SimpleNamespace()

    def context_pointer_set(self, name: str, data: bpy.types.bpy_struct) -> None:
        assert name.startswith("borewright_")
        assert isinstance(data, bpy.types.bpy_struct)

    def menu(self, name: str, **_more: object) -> None:
        assert hasattr(bpy.types, name), name
        self.drawn.menus.append(name)

    def template_list(
        self,
        kind: str,
        _name: str,
        data: bpy.types.bpy_struct,
        lines: str,
        active_data: bpy.types.bpy_struct,
        active: str,
        **_more: int,
    ) -> None:
        """Every line, as Blender draws those that it has room for."""
        assert active in active_data.bl_rna.properties
        draw_item = getattr(bpy.types, kind).draw_item
        for number, line in enumerate(getattr(data, lines)):
            draw_item(None, bpy.context, self, data, line, 0, active_data, active, number)

    def progress(self, *, factor: float, text: str, **_more: object) -> None:
        assert 0.0 <= factor <= 1.0
        self.drawn.bars.append(text)

    def panel(self, _name: str, **_more: object) -> tuple[RecordedLayout, RecordedLayout]:
        return self._part(), self._part()

    def _part(self, **_more: object) -> RecordedLayout:
        return RecordedLayout(self.drawn)

    row = column = box = split = _part
