"""The objects that an operator works on, and whether it may."""

from __future__ import annotations

import bpy

from ..pieces.piece_data import made_with, piece_data, pieces_data
from ..words.told import told
from ..work.modal_work import poll_idle
from .found import found_of

_TO_MESH = {"CURVE", "FONT", "META", "SURFACE"}
"""Kinds of objects that Blender converts to meshes."""


def source_of(chosen: bpy.types.Object | None) -> bpy.types.Object | None:
    """The part that an object is, or is a piece of; None: of none."""
    if chosen is None or chosen.type != "MESH":
        return None
    if piece_data(chosen).role == "NONE":
        return chosen
    made = made_with(chosen)
    return None if made is None else pieces_data(made).source


def shown_source(context: bpy.types.Context) -> bpy.types.Object | None:
    """The part that panels and operators are about: of the active object."""
    return source_of(context.active_object)


def no_part_words(context: bpy.types.Context) -> str:
    """What to do where the active object is no part, nor a piece of one that is there."""
    chosen = context.active_object
    if chosen is not None and chosen.type in _TO_MESH:
        return told("{name} is no mesh: convert it by Object > Convert > Mesh", name=chosen.name)
    return gone_part_words(context) or told("Make a mesh object active")


def gone_part_words(context: bpy.types.Context) -> str:
    """The same of a piece whose part was deleted; empty: it is none."""
    chosen = context.active_object
    if chosen is None or shown_source(context) is not None:
        return ""
    if piece_data(chosen).role in {"NONE", "BED"}:
        return ""
    return told("The part that this piece was made of is gone: make another part active")


def chosen_sources(context: bpy.types.Context) -> tuple[bpy.types.Object, ...]:
    """That part first, then those of all other objects that are selected; each once."""
    others = [one for one in context.selected_objects if one != context.active_object]
    sources = map(source_of, (context.active_object, *others))
    return tuple(dict.fromkeys(one for one in sources if one is not None))


def source_by_uid(session_uid: int) -> bpy.types.Object | None:
    """An object that a job began with; None: it is not there any more."""
    for one in bpy.data.objects:
        if one.session_uid == session_uid:
            return one if one.users_scene else None
    return None


def poll_mesh(
    operator: type[bpy.types.Operator], context: bpy.types.Context, *, editing: bool = False
) -> bool:
    """Whether the active object is a part that can be worked on now; if not, why.

    editing : in Edit Mode too
    """
    source = shown_source(context)
    if source is None:
        operator.poll_message_set(no_part_words(context))
        return False
    if not source.is_editable:
        operator.poll_message_set(told("The object is linked from another file: make it local"))
        return False
    if context.mode != "OBJECT" and not (editing and context.mode == "EDIT_MESH"):
        operator.poll_message_set(
            told("Switch to Object Mode or Edit Mode") if editing else told("Switch to Object Mode")
        )
        return False
    return poll_idle(operator)


def poll_surveyed(
    operator: type[bpy.types.Operator], context: bpy.types.Context, *, editing: bool = False
) -> bool:
    """The same, and that it has been surveyed."""
    if not poll_mesh(operator, context, editing=editing):
        return False
    source = shown_source(context)
    assert source is not None
    if found_of(source) is None:
        operator.poll_message_set(told("Survey the part first"))
        return False
    return True
