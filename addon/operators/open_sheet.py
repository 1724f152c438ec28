"""Open the plan sheet of the pieces in the system's browser."""

from __future__ import annotations

import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING

import bpy

from ..pieces.built_job import file_stem
from ..pieces.kept_sheets import SheetFile, sheet_file, sheet_of
from ..pieces.piece_data import made_with, pieces_data
from ..surveys.sources import shown_source
from ..words.told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


class BOREWRIGHT_OT_open_sheet(bpy.types.Operator):
    """Open the plan sheet of the pieces in the browser: drawings, tables and steps for the bench"""

    bl_idname = "borewright.open_sheet"
    bl_label = "Open Plan Sheet"
    bl_options = {"REGISTER"}

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of pieces that were built since Blender started."""
        record = _shown_record(context)
        if record is None:
            cls.poll_message_set(
                told("Build pieces first, then make one of them or the part active")
            )
            return False
        if sheet_of(record) is None:
            cls.poll_message_set(
                told("The pieces were built in another session: build them again for their sheet")
            )
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Open the file that was saved; of pieces that were not, one that Blender deletes."""
        record = _shown_record(context)
        assert record is not None  # poll has seen it
        source = shown_source(context)
        stem = file_stem("part" if source is None else source.name)
        try:
            sheet = sheet_file(record, f"{stem}-sheet.html", Path(bpy.app.tempdir))
        except OSError as problem:
            self.report({"ERROR"}, told("The sheet cannot be written: {why}", why=str(problem)))
            return {"CANCELLED"}
        self.report({"INFO"}, _said(sheet, opened=_open(sheet)))
        return {"FINISHED"}


def _shown_record(context: bpy.types.Context) -> str | None:
    """Of the job whose pieces the active object is one of, or the part of."""
    chosen = context.active_object
    if chosen is None or chosen.type != "MESH":
        return None
    made = made_with(chosen)
    return None if made is None else pieces_data(made).record or None


def _open(sheet: SheetFile) -> bool:
    """Whether a browser opened it; in the background none is asked."""
    return not bpy.app.background and webbrowser.open(sheet.path.as_uri())


def _said(sheet: SheetFile, *, opened: bool) -> str:
    path = str(sheet.path)
    if opened and sheet.saved:
        return told("Plan sheet opened: {path}", path=path)
    if opened:
        return told("Plan sheet opened; Save Pieces keeps it, for {path} is temporary", path=path)
    if sheet.saved:
        return told("No browser was opened; the plan sheet is {path}", path=path)
    return told(
        "No browser was opened; the plan sheet is {path} until Blender ends; Save Pieces keeps it",
        path=path,
    )
