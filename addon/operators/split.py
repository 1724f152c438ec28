"""The whole job on the active object, as one operator."""

from __future__ import annotations

import time
from dataclasses import replace
from typing import TYPE_CHECKING, cast

import bpy

from ...core.errors import CoreError
from ...core.fitting.fit_rules import fit_notes
from ...core.fitting.printer_profile import PrinterProfile
from ...core.job import split_parts
from ...core.values import Outcome, PassedOn, Settings
from ..meshes import convert
from ..pieces import piece_objects
from ..pieces.built_job import built_job
from ..profiles import profile_store
from ..properties import groups
from ..properties.groups import DEFAULTS, BOREWRIGHT_PG_job, BOREWRIGHT_PG_part
from ..properties.panel_settings import as_asked
from ..settings import options
from ..settings.printer_settings import printer_of
from ..settings.typed_numbers import as_typed
from ..surveys.sources import poll_mesh
from ..words.own_properties import StringProperty
from ..words.panel_words import panel_words
from ..words.told import told

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems


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

    profile: StringProperty(
        name="Printer Profile",
        description="Kept printer whose envelope, nozzle, clearances and compensation are used",
        search=_profile_names,
        update=_take_envelope,
    )
    envelope: groups.envelope_property(update=None)
    unit: groups.unit_property(update=None)
    joint: groups.joint_property(update=None)
    fit: groups.fit_property(update=None)
    choose_clearance: groups.choice_property("Set Clearance", update=None)
    clearance: groups.length_property(options.CLEARANCE, DEFAULTS.clearance, update=None)
    choose_engagement: groups.choice_property("Set Engagement", update=None)
    engagement: groups.length_property(options.ENGAGEMENT, 10.0, update=None)
    guard: groups.length_property(options.GUARD, DEFAULTS.guard, update=None)
    choose_bore: groups.choice_property("Set Bore", update=None)
    bore: groups.length_property(options.BORE, 16.0, update=None)
    max_move: groups.length_property(options.MAX_MOVE, DEFAULTS.max_move, update=None)
    true: groups.true_property(update=None)
    choose_least_wall: groups.choice_property("Set Least Wall", update=None)
    least_wall: groups.length_property(options.LEAST_WALL, DEFAULTS.least_wall, update=None)
    pieces: groups.pieces_property(update=None)
    flip: groups.flip_property(update=None)
    wind: groups.wind_property(update=None)

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Only on a mesh, in Object Mode."""
        return poll_mesh(cls, context)

    def invoke(
        self, context: bpy.types.Context, _event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Ask for the settings first: the job takes seconds."""
        return context.window_manager.invoke_props_dialog(
            self, width=340, confirm_text=told("Split"), translate=False
        )

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
        layout.prop(self, "wind")

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
            self.report({"ERROR"}, panel_words(str(problem)))
            return {"CANCELLED"}
        piece_objects.show(context, source, built)
        jointed = any(isinstance(one, Outcome) and one.plan.joints for one in outcomes)
        warnings = [said for outcome in outcomes for said in outcome.warnings]
        for said in (*fit_notes(settings, jointed=jointed), *warnings):
            self.report({"INFO"}, panel_words(said))
        self.report({"INFO"}, _told(outcomes, part.remark))
        return {"FINISHED"}

    def _settings(self) -> Settings:
        printer = printer_of(_profile_named(self.profile))
        if printer.envelope is None or self.properties.is_property_set("envelope"):
            x, y, z = map(as_typed, self.envelope)
            printer = replace(printer, envelope=(x, y, z))
        return as_asked(printer, cast("BOREWRIGHT_PG_job", self), cast("BOREWRIGHT_PG_part", self))


def _told(outcomes: tuple[Outcome | PassedOn, ...], remark: str) -> str:
    """What was made, in one line, and the unit that was taken."""
    count = sum(len(outcome.pieces) for outcome in outcomes)
    pieces = told("{count} pieces", count=count)
    if count == 1:
        pieces = told("1 piece: the part fits as it is")
    if len(outcomes) > 1:
        pieces = told("{pieces} of {parts} parts", pieces=pieces, parts=len(outcomes))
    proofs = sum(len(outcome.checks) for outcome in outcomes)
    return told(
        "{pieces}; {proofs} proofs hold. {remark}", pieces=pieces, proofs=proofs, remark=remark
    ).strip()
