"""What operators share that compute for long: modal for a person, in one go for a script."""

from __future__ import annotations

from typing import TYPE_CHECKING, Generic, TypeVar

import bpy

from ..core.errors import CoreError
from .told import told
from .work import Progress, Work, WorkCancelled

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

Snapshot = TypeVar("Snapshot")
Result = TypeVar("Result")

INTERVAL_S = 0.05
"""Between two looks at the work."""

_running: list[Work[object]] = []
"""The work that goes on, if any: one at a time."""


def running_stage() -> str | None:
    """The stage of the work that goes on; None: none does."""
    return _running[0].stage if _running else None


def stop_running() -> None:
    """End the work that goes on and wait for that: the extension is being disabled."""
    for work in _running:
        work.cancel()
        work.wait()
    _running.clear()


class ModalWork(Generic[Snapshot, Result]):
    """Mixin for an operator whose work is a snapshot, a computation and a taking over.

    `snapshot` and `take_over` run on the main thread, `compute` on any.
    """

    _work: Work[Result] | None = None
    _timer: bpy.types.Timer | None = None

    def snapshot(self, context: bpy.types.Context) -> Snapshot:
        """All that the computation needs, copied out of Blender.

        Raises
        ------
        CoreError : it cannot be done
        """
        raise NotImplementedError

    def compute(self, snapshot: Snapshot, progress: Progress) -> Result:
        """The computation. It touches nothing of Blender's.

        Raises
        ------
        CoreError : it cannot be done
        """
        raise NotImplementedError

    def take_over(
        self, context: bpy.types.Context, snapshot: Snapshot, result: Result
    ) -> set[OperatorReturnItems]:
        """Show the result, if what it is of is still there."""
        raise NotImplementedError

    def refuse(self, context: bpy.types.Context, problem: CoreError) -> set[OperatorReturnItems]:
        """Tell why it cannot be done."""
        del context
        self.report({"ERROR"}, str(problem))  # type: ignore[attr-defined]
        return {"CANCELLED"}

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """In one go, for scripts and for redo."""
        try:
            snapshot = self.snapshot(context)
            result = self.compute(snapshot, lambda _stage: None)
        except CoreError as problem:
            return self.refuse(context, problem)
        return self.take_over(context, snapshot, result)

    def invoke(
        self, context: bpy.types.Context, _event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Beside Blender, with the stage in the status bar and Esc to cancel."""
        if bpy.app.background or context.window is None:
            return self.execute(context)
        try:
            snapshot = self.snapshot(context)
        except CoreError as problem:
            return self.refuse(context, problem)
        self._snapshot = snapshot
        self._work = Work(lambda progress: self.compute(snapshot, progress))
        _running.append(self._work)  # type: ignore[arg-type]
        self._work.start()
        manager = context.window_manager
        self._timer = manager.event_timer_add(INTERVAL_S, window=context.window)
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Look at the work; all other events are Blender's."""
        work = self._work
        assert work is not None
        if event.type == "ESC" and event.value == "PRESS":
            work.cancel()
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if not work.done:
            _show_stage(context, work.stage)
            return {"PASS_THROUGH"}
        self._clean_up(context)
        try:
            result = work.result()
        except WorkCancelled:
            self.report({"INFO"}, told("Cancelled; nothing was changed"))  # type: ignore[attr-defined]
            return {"CANCELLED"}
        except CoreError as problem:
            return self.refuse(context, problem)
        return self.take_over(context, self._snapshot, result)

    def cancel(self, context: bpy.types.Context) -> None:
        """Blender ends the operator: another file is loaded, or it quits."""
        if self._work is not None:
            self._work.cancel()
            self._work.wait()
        self._clean_up(context)

    def _clean_up(self, context: bpy.types.Context) -> None:
        if self._timer is not None:
            context.window_manager.event_timer_remove(self._timer)
            self._timer = None
        if self._work in _running:
            _running.remove(self._work)  # type: ignore[arg-type]
        if context.workspace is not None:
            context.workspace.status_text_set(None)
        _redraw(context)


def _show_stage(context: bpy.types.Context, stage: str) -> None:
    context.workspace.status_text_set(told("Borewright: {stage}    [Esc] Cancel", stage=stage))
    _redraw(context)


def _redraw(context: bpy.types.Context) -> None:
    """The sidebars and overlays show what goes on."""
    screen = context.screen
    for area in screen.areas if screen is not None else ():
        if area.type == "VIEW_3D":
            area.tag_redraw()
