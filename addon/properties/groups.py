"""What Blender keeps for Borewright: a job's settings on the scene, a part's own on its object.

Lengths are mm whatever the scene's scale. What was found of a part is not kept here
(`surveys/found.py`): it follows from the mesh.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Final

import bpy

from ...core.estimating.materials import MATERIALS
from ...core.fitting import printer_profile as ranges
from ...core.values import Printing, Settings
from ..meshes import convert
from ..settings import options
from ..words.own_properties import (
    BoolProperty,
    EnumProperty,
    FloatProperty,
    FloatVectorProperty,
    IntProperty,
    StringProperty,
)

DEFAULTS = Settings(envelope=(180.0, 180.0, 180.0))

IN_MM: Final = "CAMERA"
"""The unit of lengths that are mm whatever the scene's scale; they show as mm."""

DIGITS: Final = 5
"""Shown of such a length: where there is a unit Blender counts those before the point too."""

JOINTS = (
    ("AUTO", "By the Section", "The kind that the section allows"),
    *((key, options.JOINT_LABELS[key], tip) for key, tip in options.JOINT_CHOICES.items()),
)
FITS = (
    ("AUTO", "By the Joint", "Glue; take apart where the kind of joint has a groove"),
    *((key, key.replace("-", " ").title(), tip) for key, tip in options.FIT_CHOICES.items()),
)
PLACES = (
    ("ASSEMBLED", "Assembled", "In place in the part, apart as far as the slider says"),
    ("BED", "On the Bed", "As they print, on the beds that they are packed on"),
)

TRUE_CHOICES = tuple((key, key.title(), tip) for key, tip in options.TRUE_CHOICES.items())
MATERIAL_CHOICES = tuple(
    (name, material.words, material.density_words) for name, material in MATERIALS.items()
)
PRINTING = Printing()
Update = Callable[[bpy.types.PropertyGroup, bpy.types.Context], None]

NAME = "borewright"
"""Under which scenes and objects have their groups."""

on_change: list[Callable[[], None]] = []
"""Called after each change of a setting that a plan depends on."""

on_move: list[Callable[[bpy.types.Object], None]] = []
"""Called with the object of a part when its pieces are to stand elsewhere."""

on_cut_moved: list[Callable[[bpy.types.PropertyGroup, bpy.types.Context], None]] = []
"""Called with a cut whose station was set."""

_unheard: list[None] = []
"""As many as there are changes going on that are not to be told."""


@contextmanager
def untold_changes() -> Iterator[None]:
    """Changes made inside are what a plan came to, not what it depends on."""
    _unheard.append(None)
    try:
        yield
    finally:
        _unheard.pop()


def _changed(group: bpy.types.bpy_struct, _context: bpy.types.Context) -> None:
    """A setting was changed: what was planned with the old one is so no more.

    group : or an operator's properties, which no plan goes by
    """
    if _unheard or not isinstance(group, bpy.types.PropertyGroup):
        return
    for tell in on_change:
        tell()


def _moved(group: bpy.types.PropertyGroup, _context: bpy.types.Context) -> None:
    """The pieces of a part are to stand elsewhere."""
    source = group.id_data
    assert isinstance(source, bpy.types.Object)
    for tell in on_move:
        tell(source)


def _cut_moved(cut: bpy.types.PropertyGroup, context: bpy.types.Context) -> None:
    """A cut was given another station."""
    if _unheard:
        return
    for moved in on_cut_moved:
        moved(cut, context)


def length_property(option: options.LengthOption, default: float) -> object:
    """A property in mm, with the range and words of an option; a change of it is a new plan."""
    return FloatProperty(
        name=option.label,
        description=option.tooltip,
        default=default,
        min=option.low,
        max=option.high,
        unit=IN_MM,
        precision=DIGITS,
        update=_changed,
    )


def choice_property(name: str) -> object:
    """Whether the value below is used, or the rule's."""
    return BoolProperty(
        name=name,
        description="Use a value of your own in place of the one by the rule",
        default=False,
        update=_changed,
    )


def one_of(
    name: str, description: str, items: tuple[tuple[str, str, str], ...], default: str
) -> object:
    """A property that is one of several, each with a key, a label and a tooltip."""
    return EnumProperty(
        name=name, description=description, items=items, default=default, update=_changed
    )


def overwrite_property(*, remembered: bool) -> object:
    """Whether an earlier job in the folder may go."""
    return BoolProperty(
        name="Overwrite",
        description="Replace what an earlier job left in the folder; all other files stay",
        default=False,
        options={"ANIMATABLE"} if remembered else {"SKIP_SAVE"},
    )


class JobSettings:
    """What is asked for a job: settings of a scene, and of Split Tall Part."""

    envelope: FloatVectorProperty(
        name=options.ENVELOPE.label,
        description=options.ENVELOPE.tooltip,
        size=3,
        default=DEFAULTS.envelope,
        min=options.ENVELOPE.low,
        max=options.ENVELOPE.high,
        unit=IN_MM,
        precision=DIGITS,
        update=_changed,
    )
    nozzle: length_property(options.NOZZLE, DEFAULTS.nozzle)
    layer: length_property(options.LAYER, DEFAULTS.layer)
    spread: length_property(options.SPREAD, DEFAULTS.spread)
    hole_undersize: length_property(options.HOLE_UNDERSIZE, 0.0)
    first_layer_bulge: length_property(options.FIRST_LAYER_BULGE, 0.0)
    shrink: FloatProperty(
        name="Shrink",
        description="By how much of every length a print is shorter than its file, in percent",
        default=0.0,
        min=ranges.SHRINK_RANGE[0],
        max=ranges.SHRINK_RANGE[1],
        precision=2,
        subtype="PERCENTAGE",
        update=_changed,
    )
    unit: one_of(
        "Unit", "How long one unit of the scene is on the printer", convert.SCENE_UNITS, "AUTO"
    )
    joint: one_of("Joint", "Kind of every joint", JOINTS, "AUTO")
    fit: one_of("Fit", "What the joint is for; it sets the clearance", FITS, "AUTO")
    choose_clearance: choice_property("Set Clearance")
    clearance: length_property(options.CLEARANCE, DEFAULTS.clearance)
    choose_engagement: choice_property("Set Engagement")
    engagement: length_property(options.ENGAGEMENT, 10.0)
    guard: length_property(options.GUARD, DEFAULTS.guard)
    choose_least_wall: choice_property("Set Least Wall")
    least_wall: length_property(options.LEAST_WALL, DEFAULTS.least_wall)
    true: one_of("Make True", "Which surfaces are made exact", TRUE_CHOICES, DEFAULTS.true)
    max_move: length_property(options.MAX_MOVE, DEFAULTS.max_move)
    spacing: length_property(options.SPACING, DEFAULTS.spacing)
    wind: BoolProperty(
        name="Wind Instrument",
        description="Tell with the pieces, in record and sheet, what the split does to the tuning",
        default=False,
        update=_changed,
    )
    material: EnumProperty(
        name="Material",
        description="What is printed; its density tells the mass",
        items=MATERIAL_CHOICES,
        default=PRINTING.material,
    )
    filament: length_property(options.FILAMENT, PRINTING.filament)
    lines: IntProperty(
        name="Lines",
        description="Lines of plastic side by side along each wall",
        default=PRINTING.lines,
        min=ranges.LINES_RANGE[0],
        max=ranges.LINES_RANGE[1],
    )
    solid_layers: IntProperty(
        name="Solid Layers",
        description="Layers without infill under and over each level face",
        default=PRINTING.solid_layers,
        min=ranges.SOLID_LAYERS_RANGE[0],
        max=ranges.SOLID_LAYERS_RANGE[1],
    )
    infill: FloatProperty(
        name="Infill",
        description="Percent of the inside that is plastic",
        default=PRINTING.infill_percent,
        min=ranges.INFILL_RANGE[0],
        max=ranges.INFILL_RANGE[1],
        subtype="PERCENTAGE",
    )
    flow: FloatProperty(
        name="Flow",
        description="Plastic that the printer lays, in mm3 a second; 0: not known, no time is told",
        default=0.0,
        min=0.0,
        max=ranges.FLOW_RANGE[1],
    )


class PartSettings:
    """What is asked for one part: settings of an object, and of Split Tall Part."""

    flip: BoolProperty(
        name="Flip",
        description="Take the other end of the part as its low end, which stands on the bed",
        default=False,
        update=_changed,
    )
    pieces: IntProperty(
        name="Least Pieces",
        description="Make at least this many pieces",
        default=options.LEAST_PIECES,
        min=options.LEAST_PIECES,
        max=options.MOST_PIECES,
        update=_changed,
    )
    lean: BoolProperty(
        name="Lean",
        description="Stand the part leaning, in one piece, where it fits so",
        default=False,
        update=_changed,
    )
    choose_bore: choice_property("Set Bore")
    bore: length_property(options.BORE, 16.0)


class BOREWRIGHT_PG_job(JobSettings, bpy.types.PropertyGroup):
    """A job's settings, on the scene, and what is shown of it."""

    profile: StringProperty(
        name="Printer Profile", description="Kept printer that the values below were taken from"
    )
    folder: StringProperty(
        name="Folder",
        description="Folder that the pieces, beds and record are saved to",
        subtype="DIR_PATH",
    )
    overwrite: overwrite_property(remembered=True)
    show_overlay: BoolProperty(
        name="Show Plan",
        description="Draw axis, holes, stretches, seams and heights in the viewport",
        default=True,
    )
    show_holes: BoolProperty(
        name="Holes", description="Side holes, and the stretches that they keep", default=True
    )
    show_stretches: BoolProperty(
        name="Stretches", description="Where a seam may lie along the part", default=True
    )
    show_sizes: BoolProperty(
        name="Sizes", description="Stations, heights and diameters as text", default=True
    )
    show_section: BoolProperty(
        name="Section",
        description="Draw the part and its joints as they will be, cut open along the axis",
        default=False,
    )
    section_angle: FloatProperty(
        name="Section Angle",
        description="Of the plane of the section about the axis",
        default=0.0,
        subtype="ANGLE",
    )


class BOREWRIGHT_PG_cut(bpy.types.PropertyGroup):
    """A cut of a part, on its object."""

    station: FloatProperty(
        name="Station",
        description="Distance of the seam from the part's low end",
        min=0.0,
        max=options.CUT.high,
        unit=IN_MM,
        precision=DIGITS,
        update=_cut_moved,
    )
    insisted: BoolProperty(
        name="Insist",
        description="Keep this seam where it is, whatever else changes",
        default=False,
        update=_changed,
    )
    part: IntProperty(
        name="Part", description="Which of the object's bodies it is in, from 0", min=0
    )


class BOREWRIGHT_PG_stretch(bpy.types.PropertyGroup):
    """A stretch of a part that seams keep out of."""

    start: FloatProperty(
        name="From",
        description="Station where it begins",
        min=0.0,
        unit=IN_MM,
        precision=DIGITS,
        update=_changed,
    )
    stop: FloatProperty(
        name="To",
        description="Station where it ends",
        min=0.0,
        unit=IN_MM,
        precision=DIGITS,
        update=_changed,
    )


class BOREWRIGHT_PG_preferred(bpy.types.PropertyGroup):
    """A station of a part that seams are drawn to."""

    station: FloatProperty(
        name="Station",
        description="Distance from the part's low end; a seam near it is better than elsewhere",
        min=options.PREFER.low,
        max=options.PREFER.high,
        unit=IN_MM,
        precision=DIGITS,
        update=_changed,
    )


class BOREWRIGHT_PG_part(PartSettings, bpy.types.PropertyGroup):
    """What is asked for one part, on its object."""

    cuts: bpy.props.CollectionProperty(type=BOREWRIGHT_PG_cut)
    active_cut: IntProperty(name="Active Seam", min=0)
    avoid: bpy.props.CollectionProperty(type=BOREWRIGHT_PG_stretch)
    prefer: bpy.props.CollectionProperty(type=BOREWRIGHT_PG_preferred)
    surveyed: IntProperty(
        name="Surveyed",
        description="Which survey of the part counts, 0: none; set by the survey itself",
        options={"HIDDEN"},
    )
    place: EnumProperty(
        name="Place",
        description="Where the pieces stand",
        items=PLACES,
        default="ASSEMBLED",
        update=_moved,
    )
    explode: FloatProperty(
        name="Apart",
        description="How far the pieces stand apart along the axis when they are assembled",
        default=0.0,
        min=0.0,
        max=1000.0,
        soft_max=100.0,
        unit=IN_MM,
        precision=DIGITS,
        update=_moved,
    )


CLASSES = (
    BOREWRIGHT_PG_job,
    BOREWRIGHT_PG_cut,
    BOREWRIGHT_PG_stretch,
    BOREWRIGHT_PG_preferred,
    BOREWRIGHT_PG_part,
)
"""In the order in which they are registered."""


def register() -> None:
    """Add the groups to scenes and objects."""
    setattr(bpy.types.Scene, NAME, bpy.props.PointerProperty(type=BOREWRIGHT_PG_job))
    setattr(bpy.types.Object, NAME, bpy.props.PointerProperty(type=BOREWRIGHT_PG_part))


def unregister() -> None:
    """Take them back; what files keep of them stays in the files."""
    delattr(bpy.types.Object, NAME)
    delattr(bpy.types.Scene, NAME)
