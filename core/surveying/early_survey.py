"""The survey of a part while its mesh is still being checked, on another processor."""

from __future__ import annotations

from copy import copy

import numpy as np

from ..errors import CoreError
from ..meshes.mend import MendedBody
from ..values import Mesh, Survey
from .survey import survey_part

_MOST_VERTICES = 0.7
"""Vertices a triangle, above which a mesh is in loose pieces: a closed one has half of one."""


def survey_early(mesh: Mesh, *, max_move: float, flip: bool) -> Survey | CoreError | None:
    """The survey of a mesh that may be unsound, or its refusal: None where nothing comes of it.

    What is told holds only if the mesh proves sound as it is: one body, nothing mended.

    Parameters
    ----------
    mesh, max_move, flip : as in `survey_part`
    """
    if len(mesh.vertices) > _MOST_VERTICES * len(mesh.triangles):
        return None
    if not len(mesh.triangles) or not np.isfinite(mesh.vertices).all():
        return None
    body = MendedBody(mesh, (), np.broadcast_to(np.int64(-1), len(mesh.triangles)), ())
    try:
        with np.errstate(all="ignore"):
            return survey_part(body, max_move=max_move, flip=flip)
    except CoreError as refusal:
        return copy(refusal)  # without what it was raised from, and all arrays there
    except Exception:  # noqa: BLE001 - whatever an unsound mesh does here, mending will tell
        return None
