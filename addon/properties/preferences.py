"""What is kept for the machine, whatever the file: its printer, and where pieces go."""

from __future__ import annotations

from pathlib import Path
from typing import cast

import bpy

from ...core.errors import CoreError
from ..extension import ROOT
from ..profiles.kept_printers import kept_now
from ..profiles.profile_store import read_profile
from ..words.own_properties import StringProperty
from .groups import BOREWRIGHT_PG_job
from .panel_settings import show_printer

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

    printer: StringProperty(
        name="Default Printer",
        description="Kept printer that a scene without one takes when its first part is surveyed",
        search=_names_like,
    )
    folder: StringProperty(
        name="Default Folder",
        description=(
            "Where the scene names no folder, pieces are saved in here, in one of their part's name"
        ),
        subtype="DIR_PATH",
    )

    def draw(self, _context: bpy.types.Context) -> None:
        """Both, as settings are shown."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(self, "printer")
        layout.prop(self, "folder")


def preferences() -> BOREWRIGHT_AP_preferences | None:
    """Those of this machine; None: a script has enabled the extension without any."""
    enabled = bpy.context.preferences.addons.get(ROOT)
    return None if enabled is None else cast("BOREWRIGHT_AP_preferences", enabled.preferences)


def take_default_printer(job: BOREWRIGHT_PG_job) -> None:
    """Give a scene the machine's printer, if none of its printer's values was ever set.

    Raises
    ------
    CoreError : that printer is no longer kept, or cannot be read
    """
    known = preferences()
    name = known.printer if known is not None else ""
    if not name or any(job.is_property_set(value) for value in PRINTER_VALUES):
        return
    try:
        show_printer(job, read_profile(name))
    except CoreError as problem:
        problem.remedy = f"another Default Printer in the preferences, or {problem.remedy}"
        raise


def default_folder(part: str) -> str:
    """Where the pieces of a part go if the scene does not say; empty: nobody said."""
    known = preferences()
    kept: str = known.folder if known is not None else ""
    return str(Path(bpy.path.abspath(kept)) / bpy.path.clean_name(part)) if kept else ""


CLASSES = (BOREWRIGHT_AP_preferences,)
