"""What is drawn of the active object, found once after each change and kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import bpy

from ...core.errors import CoreError
from ...core.jointing.split import build_pieces
from ...core.showing.drawing import Drawing, Line
from ...core.showing.drawn_part import PartView, Shown, draw_part
from ...core.showing.section_view import CutFace, cut_face, cut_pieces
from ...core.values import Outcome, Piece
from ..properties.panel_settings import job_properties
from ..surveys.found import Found, FoundPart, found_of
from .strokes import Strokes

MOST_DRAWN = 8
"""Scales at which a drawing is kept: one for each viewport, and a few that were left."""

MakeStrokes = Callable[[Iterable[Line], float], Strokes]


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """A part's drawing, and its lines on the graphics card."""

    drawing: Drawing
    strokes: Strokes


@dataclass(slots=True, eq=False)
class ShownPart:
    """One part that is drawn.

    pieces : once a section was asked for; none where they cannot be built, for `problem`
    """

    view: PartView
    planned: Outcome | None
    pieces: tuple[Piece, ...] | None = None
    problem: str = ""
    _faces: dict[float, tuple[CutFace, ...]] = field(default_factory=dict)
    _drawn: dict[tuple[Shown, float], Drawn] = field(default_factory=dict)

    def at_scale(self, shown: Shown, mm_per_pixel: float, make_strokes: MakeStrokes) -> Drawn:
        """Its drawing, made when it is wanted for the first time."""
        key = shown, mm_per_pixel
        if key not in self._drawn:
            if len(self._drawn) >= MOST_DRAWN:
                del self._drawn[next(iter(self._drawn))]
            faces = self._cut(shown.angle) if shown.section else ()
            drawing = draw_part(replace(self.view, faces=faces), shown, mm_per_pixel)
            self._drawn[key] = Drawn(drawing, make_strokes(drawing.lines, mm_per_pixel))
        return self._drawn[key]

    def _cut(self, angle: float) -> tuple[CutFace, ...]:
        if angle not in self._faces:
            self._faces = {angle: self._cut_anew(angle)}
        return self._faces[angle]

    def _cut_anew(self, angle: float) -> tuple[CutFace, ...]:
        known = self.view.known
        if self.pieces is None:
            self.pieces = self._built()
        if not self.pieces:
            return (cut_face(known.trued.mesh, angle),)
        return tuple(cut_pieces(self.pieces, known.exact.frame, angle))

    def _built(self) -> tuple[Piece, ...]:
        known = self.view.known
        if self.planned is None or self.view.leans:
            return ()
        plan, settings = self.planned.plan, self.view.settings
        try:
            return build_pieces(known.exact, known.trued, plan, settings, known.name)
        except CoreError as problem:
            self.problem = str(problem)
            return ()


@dataclass(frozen=True, slots=True, eq=False)
class ShownObject:
    """All parts of an object, of one version of what was found of it."""

    found: Found
    version: int
    parts: tuple[ShownPart, ...]


_kept: list[ShownObject] = []
"""Of the object that was drawn last."""


def shown_object(source: bpy.types.Object) -> ShownObject | None:
    """What is drawn of an object; None: it was not surveyed."""
    found = found_of(source)
    if found is None:
        return None
    if _kept and _kept[0].found is found and _kept[0].version == found.version:
        return _kept[0]
    parts = tuple(_shown_part(part.view, part) for part in found.parts if part.view is not None)
    _kept[:] = [ShownObject(found, found.version, parts)]
    return _kept[0]


def forget() -> None:
    """Keep nothing."""
    _kept.clear()


def what_is_shown(scene: bpy.types.Scene) -> Shown:
    """As the panel has it."""
    job = job_properties(scene)
    return Shown(
        holes=job.show_holes,
        stretches=job.show_stretches,
        sizes=job.show_sizes,
        section=job.show_section,
        angle=job.section_angle,
    )


def _shown_part(view: PartView, part: FoundPart) -> ShownPart:
    return ShownPart(view, part.planned if isinstance(part.planned, Outcome) else None)
