"""Where the problems of an object lie, in the scene."""

from __future__ import annotations

import bpy

from ...core.errors import CoreError
from .found import found_of, refusal_of

Place = tuple[float, float, float]


def problems(source: bpy.types.Object) -> tuple[CoreError, ...]:
    """All that stands against an object's being split: of its mesh, or of its parts' plans."""
    refused, found = refusal_of(source), found_of(source)
    if refused is not None:
        return (refused.problem,)
    parts = found.parts if found is not None else ()
    return tuple(part.problem for part in parts if part.problem is not None)


def problem_places(source: bpy.types.Object) -> tuple[Place, ...]:
    """The places of all of them, in the world, in scene units, in the order they are told."""
    refused, found = refusal_of(source), found_of(source)
    scale = refused.scale_to_mm if refused is not None else None
    if found is not None and refused is None:
        scale = found.source.scale_to_mm
    if scale is None:
        return ()
    return tuple(
        (x / scale, y / scale, z / scale)
        for problem in problems(source)
        for x, y, z in problem.places
    )
