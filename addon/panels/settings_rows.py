"""Settings in a panel: the name beside the value, or over it where the panel is narrow."""

from __future__ import annotations

import bpy

from ..words.told import label_told, told
from .wrapped_text import draw_text, fits_as_value, fits_beside, fits_in_menu


def draw_setting(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    group: bpy.types.bpy_struct,
    setting: str,
    *,
    name: str | None = None,
) -> None:
    """A setting, under its own name or another."""
    shown = name or setting_name(group, setting)
    if fits_beside(context, shown) and _choices_fit(context, group, setting):
        layout.prop(group, setting, text=shown, translate=False)
        return
    column = layout.column(align=True)
    column.use_property_split = False
    draw_text(column, context, shown)
    column.prop(group, setting, text="")


def draw_lengths(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    group: bpy.types.bpy_struct,
    setting: str,
) -> None:
    """A setting that has a length along each of X, Y and Z, each with its letter."""
    name = setting_name(group, setting)
    column = layout.column(align=True)
    beside = fits_beside(context, f"{name} X")
    if not beside:
        column.use_property_split = False
        draw_text(column, context, name)
    for axis, letter in enumerate("XYZ"):
        first = beside and axis == 0
        shown = told("{name} {axis}", name=name, axis=letter) if first else letter
        column.prop(group, setting, index=axis, text=shown, translate=False)


def draw_chosen(
    layout: bpy.types.UILayout,
    context: bpy.types.Context,
    group: bpy.types.bpy_struct,
    setting: str,
    otherwise: str,
    reason: str = "",
) -> None:
    """A value that may be set; where it is not, what holds instead, and why if there is room."""
    name, chosen = setting_name(group, setting), f"choose_{setting}"
    if fits_beside(context, name):
        row = layout.row(align=True, heading=name, translate=False)
    else:
        draw_text(layout, context, name)
        row = layout.row(align=True)
        row.use_property_split = False
    row.prop(group, chosen, text="")
    if getattr(group, chosen):
        row.prop(group, setting, text="")
        return
    both = told("{value}, {reason}", value=otherwise, reason=reason) if reason else otherwise
    row.label(text=both if fits_as_value(context, both) else otherwise, translate=False)


def _choices_fit(context: bpy.types.Context, group: bpy.types.bpy_struct, setting: str) -> bool:
    """Whether each choice of a setting, if it has choices, has room in a menu beside its name."""
    prop = group.bl_rna.properties[setting]
    if not isinstance(prop, bpy.types.EnumProperty):
        return True
    return all(fits_in_menu(context, label_told(choice.name)) for choice in prop.enum_items)


def setting_name(group: bpy.types.bpy_struct, setting: str) -> str:
    """Its name in the language that Blender speaks."""
    return label_told(group.bl_rna.properties[setting].name)
