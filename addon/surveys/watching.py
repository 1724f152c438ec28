"""Changes of objects as Blender tells them: of mesh or place, by undo, by another file."""

from __future__ import annotations

from collections.abc import Iterable

import bpy

from . import found, replanning

_watched: dict[int, bool] = {}
"""Objects that a job is at, by their `session_uid`, and whether they changed since it began."""


def watch(session_uids: Iterable[int]) -> None:
    """Note from now on whether these objects change."""
    _watched.clear()
    _watched.update(dict.fromkeys(session_uids, False))


def changed(session_uid: int) -> bool:
    """Whether an object that is watched may have changed since."""
    return _watched.get(session_uid, False)


@bpy.app.handlers.persistent  # type: ignore[untyped-decorator] # the stub has no types for it
def _note_changes(_scene: bpy.types.Scene, depsgraph: bpy.types.Depsgraph) -> None:
    """What was found of an object may hold no more once its mesh or place changes."""
    cared_for = found.kept_objects() | _watched.keys()
    if not cared_for:
        return
    for update in depsgraph.updates:
        if not (update.is_updated_geometry or update.is_updated_transform):
            continue
        touched = update.id.original
        if isinstance(touched, bpy.types.Object) and touched.session_uid in cared_for:
            _suspect(touched.session_uid)


@bpy.app.handlers.persistent  # type: ignore[untyped-decorator] # the stub has no types for it
def _note_undo(*_arguments: object) -> None:
    """Undo and redo may change any object, and the settings."""
    for session_uid in found.kept_objects() | _watched.keys():
        _suspect(session_uid)


def _suspect(session_uid: int) -> None:
    if found.suspect(session_uid):
        replanning.schedule()
    if session_uid in _watched:
        _watched[session_uid] = True


@bpy.app.handlers.persistent  # type: ignore[untyped-decorator] # the stub has no types for it
def _forget_on_load(*_arguments: object) -> None:
    found.forget_all()
    _watched.clear()


def register() -> None:
    """Have Blender tell of changes."""
    told = bpy.app.handlers
    told.depsgraph_update_post.append(_note_changes)
    told.undo_post.append(_note_undo)
    told.redo_post.append(_note_undo)
    told.load_pre.append(_forget_on_load)


def unregister() -> None:
    """Take that back, and forget everything."""
    told = bpy.app.handlers
    told.load_pre.remove(_forget_on_load)
    told.redo_post.remove(_note_undo)
    told.undo_post.remove(_note_undo)
    told.depsgraph_update_post.remove(_note_changes)
    found.forget_all()
    _watched.clear()
