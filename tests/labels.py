"""What the extension names in Blender, each with the context that translations are looked up in."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import bpy

LABELLED = (bpy.types.Operator, bpy.types.Panel, bpy.types.Menu)
OTHERS = (bpy.types.PropertyGroup, bpy.types.AddonPreferences)


def own_labels() -> Iterator[tuple[str, str, str]]:
    """Where a label is, its context and itself: of classes, properties and choices."""
    for kind in LABELLED:
        for one in own_classes(kind):
            yield one.__name__, one.bl_rna.translation_context, one.bl_label
    for kind in OTHERS:
        for one in own_classes(kind):
            yield from labels_in(one.__name__, one.bl_rna)
    for name in dir(bpy.ops.borewright):
        yield from labels_in(name, getattr(bpy.ops.borewright, name).get_rna_type())


def own_classes(kind: Any) -> Iterator[Any]:
    """Those that are registered, of one of Blender's kinds."""
    for one in kind.__subclasses__():
        if one.__name__.startswith("BOREWRIGHT_") and one.is_registered:
            yield one
        yield from own_classes(one)


def labels_in(where: str, rna: Any) -> Iterator[tuple[str, str, str]]:
    """Of the properties that a class has beyond those of its kind, and of their choices."""
    for prop in rna.properties:
        if prop.identifier in rna.base.properties or prop.type in {"POINTER", "COLLECTION"}:
            continue
        there = f"{where}.{prop.identifier}"
        yield there, prop.translation_context, prop.name
        for item in getattr(prop, "enum_items", ()):
            yield f"{there} {item.identifier}", prop.translation_context, item.name
