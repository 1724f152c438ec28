"""The sub-menu of the viewport's Object and Mesh menus, by which search finds the operators."""

from __future__ import annotations

import bpy


class BOREWRIGHT_MT_job(bpy.types.Menu):
    """Split tubular prints that are too tall into keyed pieces"""

    bl_idname = "BOREWRIGHT_MT_job"
    bl_label = "Borewright"

    def draw(self, context: bpy.types.Context) -> None:
        """In the order of the job; what is done to objects in Object Mode only."""
        layout = self.layout
        layout.operator("borewright.survey")
        layout.operator("borewright.show_place")
        layout.operator("borewright.plan")
        if context.mode != "OBJECT":
            return
        layout.operator("borewright.build")
        layout.operator("borewright.show_part")
        layout.operator("borewright.save")
        layout.operator("borewright.open_sheet")
        layout.operator("borewright.trial")
        layout.separator()
        layout.operator("borewright.split")


def _draw_entry(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    menu.layout.separator()
    menu.layout.menu(BOREWRIGHT_MT_job.bl_idname)


CLASSES = (BOREWRIGHT_MT_job,)


def register() -> None:
    """Add the sub-menu."""
    bpy.types.VIEW3D_MT_object.append(_draw_entry)
    bpy.types.VIEW3D_MT_edit_mesh.append(_draw_entry)


def unregister() -> None:
    """Take it back."""
    bpy.types.VIEW3D_MT_edit_mesh.remove(_draw_entry)
    bpy.types.VIEW3D_MT_object.remove(_draw_entry)
