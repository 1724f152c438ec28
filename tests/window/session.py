"""What a scenario is handed: the window, a part to work on, a folder for its pictures."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import bpy
from bpy_extras.view3d_utils import location_3d_to_region_2d

from tests.window.pictures import save_picture
from tests.window.steps import Steps, pause, turns


@dataclass(frozen=True, slots=True)
class Session:
    """One run of one scenario in one Blender.

    part : an STL file, 1 unit = 1 mm
    out : folder for pictures and whatever else is to be kept
    """

    part: Path
    out: Path

    @property
    def window(self) -> bpy.types.Window:
        """Blender's one window, whatever file is loaded."""
        return bpy.context.window_manager.windows[0]

    def picture(self, name: str) -> Steps:
        """Save a picture of the screen once all is drawn, with smooth edges."""
        system = bpy.context.preferences.system
        system.viewport_aa = "8"
        self.viewport().tag_redraw()
        yield from pause(0.2)
        yield from turns(20)
        save_picture(self.out / f"{name}.png")
        system.viewport_aa = "OFF"

    def note(self, line: str) -> None:
        """Keep a line, a measurement, beside the pictures."""
        with (self.out / "notes.txt").open("a", encoding="utf-8") as notes:
            notes.write(f"{line}\n")

    def import_part(self) -> bpy.types.Object:
        """The part as the active object of a scene with nothing else, seen whole."""
        for thing in tuple(bpy.data.objects):
            bpy.data.objects.remove(thing)
        with self.in_viewport():
            bpy.ops.wm.stl_import(filepath=str(self.part))
            bpy.ops.view3d.view_selected()
        bpy.ops.ed.undo_push(message="Import Part")
        made = bpy.context.view_layer.objects.active
        assert made is not None, f"nothing was imported from {self.part}"
        return made

    def viewport(self) -> bpy.types.Area:
        """The 3D viewport."""
        return next(area for area in self.window.screen.areas if area.type == "VIEW_3D")

    def region(self, kind: str = "WINDOW") -> bpy.types.Region:
        """A region of the 3D viewport: WINDOW, UI (its sidebar), HEADER, TOOLS."""
        return next(region for region in self.viewport().regions if region.type == kind)

    def middle(self) -> tuple[int, int]:
        """The middle of the 3D view, a place for the mouse."""
        view = self.region()
        return view.x + view.width // 2, view.y + view.height // 2

    def place_of(self, point: tuple[float, float, float]) -> tuple[int, int]:
        """Where a point of the scene is seen in the 3D view."""
        view = self.region()
        seen = location_3d_to_region_2d(view, self.viewport().spaces.active.region_3d, point)
        assert seen is not None, f"{point} is behind the eye"
        return view.x + round(seen.x), view.y + round(seen.y)

    def in_viewport(self, kind: str = "WINDOW") -> object:
        """A context as operators have it that start in a region of the 3D viewport."""
        return bpy.context.temp_override(
            window=self.window, area=self.viewport(), region=self.region(kind)
        )
