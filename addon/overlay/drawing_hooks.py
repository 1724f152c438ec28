"""Blender's calls to draw in a viewport, and what is drawn then."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import bpy
from mathutils import Vector

from ...core.showing.drawing import Label
from ...core.showing.label_places import Box
from ..properties import groups
from ..properties.panel_settings import job_properties
from ..words.told import told
from ..work.redrawing import redraw_viewports
from .shown_parts import ShownObject, ShownPart, forget, shown_object, what_is_shown
from .strokes import draw_strokes, make_strokes
from .view_scale import SeenPart, free_box, on_screen, see_part
from .words import Said, draw_words, said_label, said_there, set_text_size

STALE = "Stale: the mesh or its place has changed; survey it again"

_handles: list[object] = []
"""Of the registered calls, needed to take them back."""


@dataclass(frozen=True, slots=True)
class _Viewport:
    """The viewport that is being drawn.

    size : pixels
    free : of it, what lies under no header or sidebar
    """

    scene: bpy.types.Scene
    source: bpy.types.Object
    shown: ShownObject
    view: bpy.types.RegionView3D
    size: tuple[int, int]
    clip_start: float
    free: Box


def _draw_lines() -> None:
    """Before the interface is drawn: lines, in the scene's own space."""
    viewport = _viewport()
    if viewport is None or viewport.shown.found.stale:
        return
    for part, seen in _seen_parts(viewport):
        drawn = part.at_scale(
            what_is_shown(viewport.scene), seen.drawn_scale * _ui_scale(), make_strokes
        )
        draw_strokes(drawn.strokes, seen, viewport.size)


def _draw_words() -> None:
    """Over the lines: words, in pixels."""
    viewport = _viewport()
    if viewport is None:
        return
    set_text_size()
    said: list[Said] = []
    if viewport.shown.found.stale:
        said += _stale_words(viewport)
    else:
        for part, seen in _seen_parts(viewport):
            said += _part_words(viewport, part, seen)
    draw_words(said, viewport.size, viewport.free)


def _viewport() -> _Viewport | None:
    """What is drawn into, if something is to be drawn there."""
    context = bpy.context
    space, source, scene = context.space_data, context.active_object, context.scene
    view, region, area = context.region_data, context.region, context.area
    if not isinstance(space, bpy.types.SpaceView3D):
        return None
    if view is None or source is None or scene is None or region is None or area is None:
        return None
    wanted = space.overlay.show_overlays and job_properties(scene).show_overlay
    if not wanted or not source.visible_get():
        return None
    shown = shown_object(source)
    if shown is None:
        return None
    return _Viewport(
        scene=scene,
        source=source,
        shown=shown,
        view=view,
        size=(region.width, region.height),
        clip_start=space.clip_start,
        free=free_box(area, region),
    )


def _seen_parts(viewport: _Viewport) -> Iterator[tuple[ShownPart, SeenPart]]:
    scale = viewport.shown.found.source.scale_to_mm
    for part in viewport.shown.parts:
        exact = part.view.known.exact
        seen = see_part(
            exact.frame,
            scale,
            exact.length,
            viewport.view,
            width=viewport.size[0],
            clip_start=viewport.clip_start,
        )
        yield part, seen


def _part_words(viewport: _Viewport, part: ShownPart, seen: SeenPart) -> Iterator[Said]:
    drawn = part.at_scale(
        what_is_shown(viewport.scene), seen.drawn_scale * _ui_scale(), make_strokes
    )
    matrix = viewport.view.perspective_matrix @ seen.to_world @ seen.to_facing
    labels: tuple[Label, ...] = () if seen.along else drawn.drawing.labels
    for label in labels:
        said = said_label(label, matrix, *viewport.size)
        if said is not None:
            yield said
    if part.problem and what_is_shown(viewport.scene).section:
        yield from _said_at(viewport, seen, part.problem)


def _said_at(viewport: _Viewport, seen: SeenPart, text: str) -> Iterator[Said]:
    place = on_screen(viewport.view.perspective_matrix @ seen.to_world, (0, 0, 0), *viewport.size)
    if place is not None:
        yield said_there(text, "alert", place)


def _stale_words(viewport: _Viewport) -> Iterator[Said]:
    source = viewport.source
    middle = sum((Vector(corner) for corner in source.bound_box), Vector()) / 8.0
    matrix = viewport.view.perspective_matrix @ source.matrix_world
    place = on_screen(matrix, (middle.x, middle.y, middle.z), *viewport.size)
    if place is not None:
        yield said_there(told(STALE), "alert", place)


def _ui_scale() -> float:
    return bpy.context.preferences.system.ui_scale


def register() -> None:
    """Have Blender call; without windows there is nothing to draw, and no shaders."""
    groups.on_change.append(redraw_viewports)
    if bpy.app.background:
        return
    for draw, when in ((_draw_lines, "POST_VIEW"), (_draw_words, "POST_PIXEL")):
        handle = bpy.types.SpaceView3D.draw_handler_add(draw, (), "WINDOW", when)
        _handles.append(handle)


def unregister() -> None:
    """Take that back, and forget what was drawn."""
    for handle in _handles:
        bpy.types.SpaceView3D.draw_handler_remove(handle, "WINDOW")
    _handles.clear()
    groups.on_change.remove(redraw_viewports)
    forget()
