"""All that a file would keep of what is open, so that two moments can be compared."""

from __future__ import annotations

import hashlib
from typing import Any

import bpy
import numpy as np

State = dict[str, Any]

_KINDS = ("scenes", "objects", "meshes", "materials", "collections", "cameras", "node_groups",
          "curves", "images", "texts", "actions", "worlds", "libraries")  # fmt: skip

_PASSING = {"session_uid", "is_evaluated", "users", "original", "id_data", "rna_type", "tag",
            "is_updated", "is_updated_data", "preview", "animation_data", "name_property",
            "is_runtime_data", "depsgraph", "is_missing", "tool_settings", "use_nodes"}  # fmt: skip
"""What Blender computes, is about the moment or warns of; its undo keeps tool settings."""


def scene_state() -> State:
    """Every data block with its plain properties, those of ours, custom ones, and selections."""
    layer = bpy.context.view_layer
    layer.update()
    state: State = {
        f"{kind}/{data.name_full}": _block(data)
        for kind in _KINDS
        for data in getattr(bpy.data, kind)
    }
    active = layer.objects.active
    state["active"] = active.name if active is not None else None
    state["mode"] = bpy.context.mode
    state["selected"] = sorted(one.name for one in layer.objects if one.select_get())
    state["hidden"] = sorted(one.name for one in layer.objects if one.hide_get())
    return state


def differences(first: State, second: State) -> dict[str, tuple[Any, Any]]:
    """What is not the same in both, by its key."""
    return {
        key: _narrowed(first.get(key), second.get(key))
        for key in {*first, *second}
        if first.get(key) != second.get(key)
    }


def _narrowed(one: Any, other: Any) -> tuple[Any, Any]:
    """Of two groups only what is not the same."""
    if not (isinstance(one, dict) and isinstance(other, dict)):
        return one, other
    keys = [key for key in {*one, *other} if one.get(key) != other.get(key)]
    return {key: one.get(key) for key in keys}, {key: other.get(key) for key in keys}


def _block(data: bpy.types.ID) -> State:
    state = _group(data)
    known = {prop.identifier for prop in data.bl_rna.properties}
    state["custom"] = {key: str(data[key]) for key in {*data.keys()} - known}
    if isinstance(data, bpy.types.Mesh):
        state["geometry"] = _geometry(data)
    if isinstance(data, bpy.types.Object):
        state["place"] = [tuple(row) for row in data.matrix_world]
        state["modifiers"] = [one.name for one in data.modifiers]
    if isinstance(data, bpy.types.Collection):
        state["objects"] = sorted(one.name for one in data.objects)
        state["children"] = sorted(one.name for one in data.children)
    return state


def _group(group: bpy.types.bpy_struct) -> State:
    """A structure's plain values, names of the blocks it points to, and groups of an extension."""
    state: State = {}
    for prop in group.bl_rna.properties:
        name = prop.identifier
        if name in _PASSING or name.startswith("bl_"):
            continue
        value = getattr(group, name, None)
        if prop.type == "POINTER":
            if isinstance(value, bpy.types.ID):
                state[name] = value.name_full
            elif isinstance(value, bpy.types.PropertyGroup):
                state[name] = _group(value)
        elif prop.type == "COLLECTION":
            if isinstance(prop.fixed_type, bpy.types.PropertyGroup):
                state[name] = [_group(one) for one in value]
        else:
            state[name] = value if isinstance(value, (str, int, float)) else _plain(value)
    return state


def _plain(value: Any) -> Any:
    return tuple(map(_plain, value)) if hasattr(value, "__iter__") else str(value)


def _geometry(data: bpy.types.Mesh) -> str:
    """Hash of vertices, faces and what of them is selected."""
    summed = hashlib.sha256()
    for many, name, width, kind in (
        (data.vertices, "co", 3, np.float32), (data.vertices, "select", 1, bool),
        (data.edges, "select", 1, bool), (data.polygons, "select", 1, bool),
        (data.polygons, "loop_total", 1, np.int32), (data.loops, "vertex_index", 1, np.int32),
    ):  # fmt: skip
        flat = np.empty(width * len(many), kind)
        many.foreach_get(name, flat)
        summed.update(flat.tobytes())
    return summed.hexdigest()
