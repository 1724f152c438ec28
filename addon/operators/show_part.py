"""Go back from the pieces to the part that they were made of, and forth again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import bpy

from ..pieces.piece_data import made_of
from ..pieces.piece_objects import show_instead
from ..surveys.sources import poll_mesh, shown_source
from ..words.own_properties import BoolProperty
from ..words.told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


class BOREWRIGHT_OT_show_part(bpy.types.Operator):
    """Show the part in place of its pieces, with its plan, or the pieces again"""

    bl_idname = "borewright.show_part"
    bl_label = "Show Part"
    bl_options = {"REGISTER", "UNDO"}

    pieces: BoolProperty(
        name="Pieces",
        description="Show the pieces in place of the part",
        default=False,
        options={"SKIP_SAVE"},
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part that pieces were built of."""
        if not poll_mesh(cls, context):
            return False
        source = shown_source(context)
        assert source is not None  # poll_mesh has seen it
        if made_of(source) is None:
            cls.poll_message_set(told("Build pieces first"))
            return False
        return True

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Hide the ones, and show and select the other."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        show_instead(context, source, pieces=self.pieces)
        return {"FINISHED"}
