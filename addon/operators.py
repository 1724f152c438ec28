"""The whole job on the active object, as one operator."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import bpy

from ..core.errors import CoreError
from ..core.fitting.fit_rules import fit_notes
from ..core.fitting.printer_profile import PrinterProfile
from ..core.job import split_parts
from ..core.values import Outcome, PassedOn, Settings
from . import convert, options, pieces, profile_store
from .built_job import built_job
from .job_settings import printer_of, printer_settings
from .typed_numbers import as_typed

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

_DEFAULTS = Settings(envelope=(180.0, 180.0, 180.0))

_IN_MM: Final = "CAMERA"
"""The unit of lengths that are mm whatever the scene's scale; they show as mm."""


_JOINTS = (
    ("AUTO", "By the Section", "The kind that the section allows"),
    *((key, options.JOINT_LABELS[key], tip) for key, tip in options.JOINT_CHOICES.items()),
)
_FITS = (
    ("AUTO", "By the Joint", "Glue; take apart where the kind of joint has a groove"),
    *((key, key.replace("-", " ").title(), tip) for key, tip in options.FIT_CHOICES.items()),
)


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


def _profile_names(
    _operator: bpy.types.Operator, _context: bpy.types.Context, typed: str
) -> list[str]:
    """Names of the printer profiles that hold what was typed."""
    try:
        kept = profile_store.kept_profiles().profiles
    except CoreError:
        return []
    return [profile.name for profile in kept if typed.lower() in profile.name.lower()]


def _profile_named(name: str) -> PrinterProfile | None:
    """The printer profile of a name; None: none is named.

    Raises
    ------
    CoreError : there is none of that name, or it cannot be read
    """
    return profile_store.read_profile(name) if name else None


def _take_envelope(operator: BOREWRIGHT_OT_split, _context: bpy.types.Context) -> None:
    """Show the envelope of the profile that was chosen.

    operator : its properties, that is; its methods are not there
    """
    try:
        profile = _profile_named(operator.profile)
    except CoreError:
        return  # told when the job runs
    if profile is not None and profile.envelope is not None:
        operator.envelope = profile.envelope


class BOREWRIGHT_OT_split(bpy.types.Operator):
    """Split the active object into keyed pieces that fit the printer, and prove them"""

    bl_idname = "borewright.split"
    bl_label = "Split Tall Part"
    bl_options = {"REGISTER", "UNDO"}

    profile: bpy.props.StringProperty(
        name="Printer Profile",
        description="Kept printer whose envelope, nozzle, clearances and compensation are used",
        search=_profile_names,
        update=_take_envelope,
    )
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
    joint: bpy.props.EnumProperty(
        name="Joint",
        description="Kind of joint",
        items=_JOINTS,
        default="AUTO",
    )
    fit: bpy.props.EnumProperty(
        name="Fit",
        description="What the joint is for; it sets the clearance",
        items=_FITS,
        default="AUTO",
    )
    choose_clearance: bpy.props.BoolProperty(
        name="Set Clearance",
        description="Use the clearance below rather than the one of the fit",
        default=False,
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
    choose_least_wall: bpy.props.BoolProperty(
        name="Set Least Wall",
        description="Use the least wall below rather than two lines of the nozzle",
        default=False,
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
        layout.prop(self, "profile")
        layout.column().prop(self, "envelope")
        layout.prop(self, "unit")
        joint = layout.column(align=True)
        joint.prop(self, "joint")
        joint.prop(self, "fit")
        joint.prop(self, "guard")
        for name in ("clearance", "engagement", "least_wall", "bore"):
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
        began = time.perf_counter()
        try:
            part = convert.object_part(context, source, self.unit)
            read = time.perf_counter()
            settings = self._settings()
            outcomes = split_parts(
                part.mesh, source.name, lambda _: settings, part.scale_to_mm, lambda _stage: None
            )
            built = built_job(
                part,
                source.name,
                outcomes,
                [settings] * len(outcomes),
                import_s=read - began,
                core_s=time.perf_counter() - read,
            )
        except CoreError as problem:
            self.report({"ERROR"}, str(problem))
            return {"CANCELLED"}
        pieces.show(context, source, built)
        jointed = any(isinstance(one, Outcome) and one.plan.joints for one in outcomes)
        told = [said for outcome in outcomes for said in outcome.warnings]
        for said in (*fit_notes(settings, jointed=jointed), *told):
            self.report({"INFO"}, said)
        self.report({"INFO"}, f"{_told(outcomes)} {part.remark}".strip())
        return {"FINISHED"}

    def _settings(self) -> Settings:
        printer = printer_of(_profile_named(self.profile))
        if printer.envelope is None or self.properties.is_property_set("envelope"):
            x, y, z = map(as_typed, self.envelope)
            printer = replace(printer, envelope=(x, y, z))
        return replace(
            printer_settings(
                printer,
                None if self.joint == "AUTO" else self.joint,
                fit=None if self.fit == "AUTO" else self.fit,
                clearance=as_typed(self.clearance) if self.choose_clearance else None,
                least_wall=as_typed(self.least_wall) if self.choose_least_wall else None,
            ),
            engagement=as_typed(self.engagement) if self.choose_engagement else None,
            guard=as_typed(self.guard),
            max_move=as_typed(self.max_move),
            true=self.true,
            pieces=self.pieces if self.pieces > 1 else None,
            flip=self.flip,
            bore=as_typed(self.bore) if self.choose_bore else None,
        )


def _told(outcomes: tuple[Outcome | PassedOn, ...]) -> str:
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
