"""The whole job on the active object, as one operator."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import bpy

from ..core.errors import CoreError
from ..core.job import split_parts
from ..core.values import Outcome, Settings
from . import convert, options

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

_DEFAULTS = Settings(envelope=(180.0, 180.0, 180.0))

_IN_MM: Final = "CAMERA"
"""The unit of lengths that are mm whatever the scene's scale; they show as mm."""


def _length(option: options.LengthOption, default: float) -> object:
    """A property in mm, with the range and words of an option."""
    return bpy.props.FloatProperty(
        name=option.label,
        description=option.tooltip,
        default=default,
        min=option.low,
        max=option.high,
        unit=_IN_MM,
        precision=2,
    )


class BOREWRIGHT_OT_split(bpy.types.Operator):
    """Split the active object into keyed pieces that fit the printer, and prove them"""

    bl_idname = "borewright.split"
    bl_label = "Split Tall Part"
    bl_options = {"REGISTER", "UNDO"}

    envelope: bpy.props.FloatVectorProperty(
        name=options.ENVELOPE.label,
        description=options.ENVELOPE.tooltip,
        size=3,
        default=_DEFAULTS.envelope,
        min=options.ENVELOPE.low,
        max=options.ENVELOPE.high,
        unit=_IN_MM,
        precision=1,
    )
    unit: bpy.props.EnumProperty(
        name="Unit",
        description="How long one unit of the scene is on the printer",
        items=tuple((unit, label, tip) for unit, label, tip in convert.SCENE_UNITS),
        default="AUTO",
    )
    clearance: _length(options.CLEARANCE, _DEFAULTS.clearance)
    choose_engagement: bpy.props.BoolProperty(
        name="Set Engagement",
        description="Use the engagement below rather than one that suits the joint's diameter",
        default=False,
    )
    engagement: _length(options.ENGAGEMENT, 10.0)
    guard: _length(options.GUARD, _DEFAULTS.guard)
    choose_bore: bpy.props.BoolProperty(
        name="Set Bore",
        description="Bring the bore to the diameter below rather than to the one found",
        default=False,
    )
    bore: _length(options.BORE, 16.0)
    max_move: _length(options.MAX_MOVE, _DEFAULTS.max_move)
    true: bpy.props.EnumProperty(
        name="Make True",
        description="Which surfaces are made exact",
        items=tuple((key, key.title(), tip) for key, tip in options.TRUE_CHOICES.items()),
        default=_DEFAULTS.true,
    )
    least_wall: _length(options.LEAST_WALL, _DEFAULTS.least_wall)
    pieces: bpy.props.IntProperty(
        name="Least Pieces",
        description="Make at least this many pieces",
        default=options.LEAST_PIECES,
        min=options.LEAST_PIECES,
        max=options.MOST_PIECES,
    )
    flip: bpy.props.BoolProperty(
        name="Flip",
        description="Take the other end of the part as its low end, which stands on the bed",
        default=False,
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only on a mesh, in Object Mode."""
        if context.active_object is None or context.active_object.type != "MESH":
            cls.poll_message_set("Make a mesh object active")
            return False
        if context.mode != "OBJECT":
            cls.poll_message_set("Switch to Object Mode")
            return False
        return True

    def invoke(
        self, context: bpy.types.Context, _event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Ask for the settings first: the job takes seconds."""
        return context.window_manager.invoke_props_dialog(self, width=340, confirm_text="Split")

    def draw(self, _context: bpy.types.Context) -> None:
        """The settings, those asked for most first."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.column().prop(self, "envelope")
        layout.prop(self, "unit")
        joint = layout.column(align=True)
        joint.prop(self, "clearance")
        joint.prop(self, "guard")
        joint.prop(self, "least_wall")
        for name in ("engagement", "bore"):
            layout.prop(self, f"choose_{name}")
            length = layout.column()
            length.enabled = getattr(self, f"choose_{name}")
            length.prop(self, name)
        surfaces = layout.column(align=True)
        surfaces.prop(self, "true")
        surfaces.prop(self, "max_move")
        layout.prop(self, "pieces")
        layout.prop(self, "flip")

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """Read, run, show."""
        source = context.active_object
        assert source is not None  # poll has seen it
        try:
            part = convert.object_part(context, source, self.unit)
            outcomes = split_parts(
                part.mesh, source.name, self._settings(), part.scale_to_mm, lambda _stage: None
            )
        except CoreError as problem:
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        pieces = tuple(piece for outcome in outcomes for piece in outcome.pieces)
        convert.show_pieces(context, source.name, pieces, part.scale_to_mm)
        for warning in (said for outcome in outcomes for said in outcome.warnings):
            self.report({"INFO"}, warning)
        self.report({"INFO"}, f"{_told(outcomes)} {part.remark}".strip())
        return {"FINISHED"}

    def _settings(self) -> Settings:
        return Settings(
            envelope=tuple(self.envelope),
            clearance=self.clearance,
            engagement=self.engagement if self.choose_engagement else None,
            guard=self.guard,
            max_move=self.max_move,
            true=self.true,
            least_wall=self.least_wall,
            pieces=self.pieces if self.pieces > 1 else None,
            flip=self.flip,
            bore=self.bore if self.choose_bore else None,
        )


def _told(outcomes: tuple[Outcome, ...]) -> str:
    """What was made, in one line."""
    count = sum(len(outcome.pieces) for outcome in outcomes)
    proofs = sum(len(outcome.checks) for outcome in outcomes)
    pieces = "1 piece: the part fits as it is" if count == 1 else f"{count} pieces"
    parts = "" if len(outcomes) == 1 else f" of {len(outcomes)} parts"
    return f"{pieces}{parts}; {proofs} proofs hold."


def draw_menu_entry(menu: bpy.types.Menu, _context: bpy.types.Context) -> None:
    """The operator's place in the Object menu, by which search finds it."""
    menu.layout.separator()
    menu.layout.operator(BOREWRIGHT_OT_split.bl_idname)
