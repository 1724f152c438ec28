"""Save the pieces of a part to a folder."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import bpy

from ...core.errors import CoreError
from ..pieces.piece_data import made_with
from ..pieces.save_pieces import save
from ..properties import groups
from ..properties.panel_settings import job_properties
from ..properties.preferences import default_folder
from ..surveys.sources import shown_source
from ..words.own_properties import BoolProperty, StringProperty
from ..words.panel_words import panel_words
from ..words.told import told
from ..work.modal_work import poll_idle

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


class BOREWRIGHT_OT_save(bpy.types.Operator):
    """Save the pieces as they print, their beds and the record of the job to a folder"""

    bl_idname = "borewright.save"
    bl_label = "Save Pieces"
    bl_options = {"REGISTER"}

    directory: StringProperty(
        name="Folder",
        description=(
            "Folder that is made for them; the scene's if none is given, else one in the default"
        ),
        subtype="DIR_PATH",
        options={"SKIP_SAVE"},
    )
    overwrite: groups.overwrite_property(remembered=False)
    filter_folder: BoolProperty(default=True, options={"HIDDEN", "SKIP_SAVE"})

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of pieces that were built, chosen by one of them or by the part itself."""
        chosen = context.active_object
        if chosen is None or chosen.type != "MESH" or made_with(chosen) is None:
            cls.poll_message_set(
                told("Build pieces first, then make one of them or the part active")
            )
            return False
        return poll_idle(cls)

    def invoke(
        self, context: bpy.types.Context, _event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Save to the scene's folder, or ask for one."""
        if self._asked_folder(context):
            return self.execute(context)
        context.window_manager.fileselect_add(self)
        return {"RUNNING_MODAL"}

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Save all of it, or nothing."""
        chosen = context.active_object
        made = made_with(chosen) if chosen is not None else None
        assert made is not None  # poll has seen it
        asked = self._asked_folder(context)
        if not asked:
            self.report({"ERROR"}, told("No folder is given, nor has the scene one"))
            return {"CANCELLED"}
        if asked.startswith("//") and not bpy.data.filepath:
            self.report({"ERROR"}, told("{folder} lies beside a file not saved yet", folder=asked))
            return {"CANCELLED"}
        folder = Path(bpy.path.abspath(asked))
        try:
            saved = save(context, made, folder, overwrite=self.overwrite)
        except CoreError as problem:
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        said = told(
            "Pieces saved: {pieces}, beds: {beds}, in {folder}",
            pieces=saved.pieces,
            beds=saved.beds,
            folder=str(saved.folder),
        )
        self.report({"INFO"}, said)
        if not saved.sheet:
            self.report({"INFO"}, told("No plan sheet is saved of pieces built in another session"))
        return {"FINISHED"}

    def _asked_folder(self, context: bpy.types.Context) -> str:
        """Given, else the scene's, else one of the part's name in the default; empty: none."""
        source = shown_source(context)
        name = "" if source is None else source.name
        own = self.directory or job_properties(context.scene).folder
        return own or (default_folder(name) if name else "")
