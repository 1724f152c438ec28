"""What is kept for the machine, whatever the file: its printer, and where pieces go."""

from __future__ import annotations

from typing import cast

import bpy

from ..core.errors import CoreError
from .kept_printers import kept_now
from .panel_settings import show_printer
from .profile_store import read_profile
from .properties import BOREWRIGHT_PG_job

ROOT = (__package__ or "").rpartition(".")[0]
"""The package of the whole extension, by which Blender knows its preferences."""

PRINTER_VALUES = (
    "profile", "envelope", "nozzle", "layer", "spread", "hole_undersize", "first_layer_bulge",
    "shrink", "material", "filament", "lines", "solid_layers", "infill", "flow",
)  # fmt: skip
"""Settings of a scene that a printer profile has."""


def _names_like(
    _preferences: bpy.types.AddonPreferences, _context: bpy.types.Context, typed: str
) -> list[str]:
    """Names of the kept printers that hold what was typed."""
    names = [profile.name for profile in kept_now().profiles]
    return [name for name in names if typed.lower() in name.lower()]


class BOREWRIGHT_AP_preferences(bpy.types.AddonPreferences):
    """The machine's own settings."""

    bl_idname = ROOT

    printer: bpy.props.StringProperty(
        name="Default Printer",
        description="Kept printer that a scene without one takes when its first part is surveyed",
        search=_names_like,
    )
    folder: bpy.props.StringProperty(
        name="Default Folder",
        description="Folder that pieces are saved to where the scene names none",
        subtype="DIR_PATH",
    )

    def draw(self, _context: bpy.types.Context) -> None:
        """Both, as settings are shown."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(self, "printer")
        layout.prop(self, "folder")


def preferences() -> BOREWRIGHT_AP_preferences:
    """Those of this machine."""
    known = bpy.context.preferences.addons[ROOT].preferences
    return cast("BOREWRIGHT_AP_preferences", known)


def take_default_printer(job: BOREWRIGHT_PG_job) -> None:
    """Give a scene the machine's printer, if none of its printer's values was ever set.

    Raises
    ------
    CoreError : that printer is no longer kept, or cannot be read
    """
    name = preferences().printer
    if not name or any(job.is_property_set(value) for value in PRINTER_VALUES):
        return
    try:
        show_printer(job, read_profile(name))
    except CoreError as problem:
        problem.remedy = f"another Default Printer in the preferences, or {problem.remedy}"
        raise


def register() -> None:
    """Show them among the extension's preferences."""
    bpy.utils.register_class(BOREWRIGHT_AP_preferences)


def unregister() -> None:
    """Take them back."""
    bpy.utils.unregister_class(BOREWRIGHT_AP_preferences)
