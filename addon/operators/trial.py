"""Rings that try the fit of one of a part's joints, as objects."""

from __future__ import annotations

from dataclasses import dataclass

import bpy
from mathutils import Matrix

from ...core.trial.make_trial import make_trial
from ...core.trial.trial_set import FitTrial
from ...core.trial.tried_joint import joint_of_plans
from ...core.values import Mesh, Outcome
from ..meshes.convert import blender_mesh
from ..surveys.found import Found
from ..surveys.sources import poll_surveyed, shown_source, source_by_uid
from ..surveys.surveying import Wanted, keep_planned, want
from ..words.own_properties import IntProperty
from ..words.told import told
from ..work.modal_work import ModalWork, TakenOver
from ..work.worker import Progress

_MOST_JOINTS = 1000


@dataclass(frozen=True, slots=True, eq=False)
class _Tried:
    """What was found of the part, and the rings."""

    known: Found
    trial: FitTrial


class BOREWRIGHT_OT_trial(ModalWork[Wanted, _Tried], bpy.types.Operator):
    """Make a small set of rings that try the fit of a planned joint with several clearances"""

    bl_idname = "borewright.trial"
    bl_label = "Make Fit Trial"
    bl_options = {"REGISTER", "UNDO"}

    joint_number: IntProperty(
        name="Joint",
        description="Which joint of the part is tried, from 1 at the low end",
        default=1,
        min=1,
        max=_MOST_JOINTS,
    )

    @classmethod
    def poll(cls, context: bpy.types.Context) -> bool:
        """Of a part that was surveyed."""
        return poll_surveyed(cls, context)

    def snapshot(self, context: bpy.types.Context) -> Wanted:
        """The active object's plan."""
        source = shown_source(context)
        assert source is not None  # poll has seen it
        self._number = self.joint_number
        return want(context, source)

    def compute(self, snapshot: Wanted, progress: Progress) -> _Tried:
        """The rings of the joint, proven."""
        known = snapshot.found(progress)
        progress("build and prove")
        planned = [part.planned for part in known.parts if isinstance(part.planned, Outcome)]
        asked = next(
            (part.settings for part in known.parts if part.settings is not None), known.asked
        )
        problem = next((part.problem for part in known.parts if part.problem is not None), None)
        if problem is not None:
            raise problem
        tried = joint_of_plans(planned, self._number, asked)
        return _Tried(known, make_trial(tried, asked.envelope))

    def take_over(self, context: bpy.types.Context, snapshot: Wanted, result: _Tried) -> TakenOver:
        """Show the rings as they stand on the bed, whatever became of the part meanwhile."""
        source = source_by_uid(snapshot.session_uid)
        if source is not None:
            keep_planned(source, result.known)
        _show(context, snapshot.name, result)
        gaps = ", ".join(f"{ring.clearance:.2f}" for ring in result.trial.rings)
        return TakenOver(told("Rings of clearance {gaps} mm", gaps=gaps))


def _show(context: bpy.types.Context, part: str, tried: _Tried) -> None:
    """The rings as new, selected objects of a new collection, standing at the scene's origin."""
    collection = bpy.data.collections.new(f"{part} Fit Trial")
    context.scene.collection.children.link(collection)
    for selected in context.selected_objects:
        selected.select_set(False)
    scale = tried.known.source.scale_to_mm
    for piece in tried.trial.pieces:
        mesh = Mesh(piece.mesh.vertices / scale, piece.mesh.triangles)
        ring = bpy.data.objects.new(piece.name, blender_mesh(piece.name, mesh))
        ring.matrix_world = Matrix.Identity(4)
        collection.objects.link(ring)
        ring.select_set(True)
        context.view_layer.objects.active = ring
