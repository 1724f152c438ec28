"""The whole job on the active object, as one operator."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, Any

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
from ..properties.groups import JobSettings, PartSettings
from ..properties.panel_settings import as_asked, as_shown, printer_values
from ..settings.printer_settings import printer_of
from ..settings.typed_lists import AVOID, PREFER, SEAMS, TypedList
from ..surveys.sources import poll_mesh
from ..words.own_properties import StringProperty
from ..words.panel_words import panel_words
from ..words.told import label_told, told

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


def _take_printer(operator: BOREWRIGHT_OT_split, _context: bpy.types.Context) -> None:
    """Show the values of the profile that was chosen.

    operator : its properties, that is; its methods are not there
    """
    try:
        profile = _profile_named(operator.profile)
    except CoreError:
        return  # told when the job runs
    if profile is not None:
        for name, value in printer_values(profile).items():
            setattr(operator, name, value)


def _list_property(of: TypedList[Any]) -> object:
    """A field for several values of one part: the next one begins without them."""
    return StringProperty(name=of.label, description=of.tooltip, options={"SKIP_SAVE"})


class ChosenPrinter:
    """The printer profile, whose values go before those that are given beside it.

    Blender declares what the last base class has first, and sets a script's values in that order.
    """

    profile: StringProperty(
        name="Printer Profile",
        description="Kept printer that the values below are taken from, and gaps by fit",
        search=_profile_names,
        update=_take_printer,
    )


class BOREWRIGHT_OT_split(JobSettings, PartSettings, ChosenPrinter, bpy.types.Operator):
    """Split the active object into keyed pieces that fit the printer, and prove them"""

    bl_idname = "borewright.split"
    bl_label = "Split Tall Part"
    bl_options = {"REGISTER", "UNDO"}

    seams: _list_property(SEAMS)
    avoid: _list_property(AVOID)
    prefer: _list_property(PREFER)

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
        """The settings, those asked for most first; the others where the panel has them, closed."""
        layout = self.layout
        layout.use_property_split = True
        layout.use_property_decorate = False
        layout.prop(self, "profile")
        sides = layout.column(align=True)
        for axis, side in enumerate(_SIDES):
            sides.prop(self, "envelope", index=axis, text=told(_SIDES[side]), translate=False)
        for name in ("unit", "joint", "fit", "pieces", "flip", "lean", "wind"):
            layout.prop(self, name)
        for key, names in _CLOSED.items():
            header, body = layout.panel(f"borewright_split_{key}", default_closed=True)
            header.label(text=told(_TITLES[key]), translate=False)
            if body is not None:
                _draw_settings(body, self, names)

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
        """All that is asked for; of the printer's values its profile has those that are not set.

        Raises
        ------
        CoreError : there is no such profile, or the settings are at fault
        """
        profile = _profile_named(self.profile)
        if profile is not None:
            for name, value in printer_values(profile).items():
                if not self.properties.is_property_set(name):
                    setattr(self, name, value)
        return replace(
            as_asked(as_shown(printer_of(profile), self), self, self),
            cuts=tuple(sorted(SEAMS.values(self.seams))),
            avoid=AVOID.values(self.avoid),
            prefer=PREFER.values(self.prefer),
        )


def _draw_settings(
    layout: bpy.types.UILayout, operator: BOREWRIGHT_OT_split, names: Iterable[str]
) -> None:
    """Each, beside the choice to set it where there is one."""
    for name in names:
        if not hasattr(operator, f"choose_{name}"):
            layout.prop(operator, name)
            continue
        heading = label_told(operator.properties.bl_rna.properties[name].name)
        row = layout.row(align=True, heading=heading, translate=False)
        row.prop(operator, f"choose_{name}", text="")
        length = row.row()
        length.enabled = getattr(operator, f"choose_{name}")
        length.prop(operator, name, text="")


_SIDES = {"X": "Envelope X", "Y": "Y", "Z": "Z"}
"""What the envelope's lengths are called."""

_CLOSED = {
    "seams": ("seams", "avoid", "prefer"),
    "walls": ("clearance", "engagement", "guard", "least_wall"),
    "truing": ("true", "max_move", "bore"),
    "printer": (
        "nozzle", "layer", "hole_undersize", "first_layer_bulge", "shrink", "spread", "spacing",
    ),
    "filament": ("material", "filament", "lines", "solid_layers", "infill", "flow"),
}  # fmt: skip
"""Settings that are seldom touched."""

_TITLES = {
    "seams": "Seams",
    "walls": "Length and Walls",
    "truing": "Truing",
    "printer": "Printer",
    "filament": "Filament",
}
"""What they are shown under."""


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
