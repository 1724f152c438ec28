"""Blender's properties, whose names and choices are looked up in our own translations alone."""

from __future__ import annotations

from functools import partial

import bpy

from .told import CONTEXT

BoolProperty = partial(bpy.props.BoolProperty, translation_context=CONTEXT)
EnumProperty = partial(bpy.props.EnumProperty, translation_context=CONTEXT)
FloatProperty = partial(bpy.props.FloatProperty, translation_context=CONTEXT)
FloatVectorProperty = partial(bpy.props.FloatVectorProperty, translation_context=CONTEXT)
IntProperty = partial(bpy.props.IntProperty, translation_context=CONTEXT)
StringProperty = partial(bpy.props.StringProperty, translation_context=CONTEXT)
