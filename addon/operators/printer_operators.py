"""The kept printers: take one over into the scene, keep the scene's, remove one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

from ...core.errors import BadProfile, CoreError
from ...core.fitting.printer_profile import PrinterProfile
from ...core.fitting.profile_name import name_key
from ..profiles import profile_store
from ..profiles.kept_printers import kept_printer
from ..properties.panel_settings import job_properties, show_printer, shown_printer
from ..words.own_properties import BoolProperty, StringProperty
from ..words.panel_words import panel_words
from ..words.told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


class BOREWRIGHT_OT_choose_printer(bpy.types.Operator):
    """Take over the envelope, nozzle and all other values of this printer"""

    bl_idname = "borewright.choose_printer"
    bl_label = "Choose Printer"
    bl_options = {"UNDO"}

    name: StringProperty(name="Name", description="Of the kept printer")

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Read and show."""
        try:
            printer = profile_store.read_profile(self.name)
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        show_printer(job_properties(context.scene), printer)
        return {"FINISHED"}


class BOREWRIGHT_OT_save_printer(bpy.types.Operator):
    """Keep the values below under a name, for other scenes and for the command line"""

    bl_idname = "borewright.save_printer"
    bl_label = "Save Printer"
    bl_options = {"UNDO"}

    name: StringProperty(name="Name", description="Name to keep the printer under")
    replace: BoolProperty(
        name="Replace It",
        description="Give these values to the other printer that has the name already",
        default=False,
        options={"SKIP_SAVE"},
    )

    def invoke(
        self, context: bpy.types.Context, _event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Ask for the name first: of the printer that was chosen, if one was."""
        if not self.properties.is_property_set("name"):
            self.name = job_properties(context.scene).profile
        return context.window_manager.invoke_props_dialog(
            self, width=320, confirm_text=told("Save"), translate=False
        )

    def draw(self, context: bpy.types.Context) -> None:
        """The name; and whether to replace, where another printer has it."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(self, "name")
        question = layout.column()
        question.enabled = self._is_anothers(context)
        question.prop(self, "replace")

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Write the profile's file, and note in the scene where its values are from."""
        job = job_properties(context.scene)
        try:
            if self._is_anothers(context) and not self.replace:
                raise _taken(self.name)
            printer = shown_printer(job, self.name, _base(job.profile))
            profile_store.save_profile(printer)
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        job.profile = printer.name
        self.report({"INFO"}, told("Printer {name} is kept", name=printer.name))
        return {"FINISHED"}

    def _is_anothers(self, context: bpy.types.Context) -> bool:
        """Whether another printer than the scene's has the name."""
        chosen = job_properties(context.scene).profile
        return name_key(self.name) != name_key(chosen) and kept_printer(self.name) is not None


class BOREWRIGHT_OT_remove_printer(bpy.types.Operator):
    """Remove the printer from those that are kept; the values in the scene stay"""

    bl_idname = "borewright.remove_printer"
    bl_label = "Remove Printer"
    bl_options = {"UNDO"}

    name: StringProperty(
        name="Name", description="Of the kept printer; the one that was chosen where none is given"
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only of a printer that is kept."""
        if not job_properties(context.scene).profile:
            cls.poll_message_set(told("Choose a kept printer"))
            return False
        return True

    def invoke(
        self, context: bpy.types.Context, event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Ask first: its file is deleted, which no undo brings back."""
        return context.window_manager.invoke_confirm(
            self,
            event,
            title=told("Remove Printer"),
            message=told("Undo does not bring {name} back", name=self._asked(context)),
            confirm_text=told("Remove"),
            translate=False,
            icon="WARNING",
        )

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Delete the profile's file."""
        job = job_properties(context.scene)
        name = self._asked(context)
        try:
            profile_store.remove_profile(name)
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        if name_key(name) == name_key(job.profile):
            job.profile = ""
        self.report({"INFO"}, told("Printer {name} is removed", name=name))
        return {"FINISHED"}

    def _asked(self, context: bpy.types.Context) -> str:
        name: str = self.name or job_properties(context.scene).profile
        return name


def _base(name: str) -> PrinterProfile | None:
    """The printer that the scene's values came from, for what the scene has no values of."""
    return profile_store.read_profile(name) if name and profile_store.profile_path(name) else None


def _taken(name: str) -> BadProfile:
    return BadProfile(
        f"1 other printer of the name {name}", "a name of its own", "Replace It, or another name"
    )


CLASSES = (
    BOREWRIGHT_OT_choose_printer,
    BOREWRIGHT_OT_save_printer,
    BOREWRIGHT_OT_remove_printer,
)
