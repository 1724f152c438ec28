"""What operators share that compute for long: modal for a person, in one go for a script."""

from __future__ import annotations

from dataclasses import dataclass
from time import perf_counter
from typing import TYPE_CHECKING, Generic, TypeVar

import bpy

from ...core.errors import CoreError
from ..words.panel_words import panel_words
from ..words.told import told
from .redrawing import redraw_sidebars, redraw_viewports
from .worker import Progress, Work, WorkCancelled

if TYPE_CHECKING:
    from bpy.stub_internal.rna_enums import OperatorReturnItems

Snapshot = TypeVar("Snapshot")
Result = TypeVar("Result")

INTERVAL_S = 0.05
"""Between two looks at the work."""


@dataclass(frozen=True, slots=True)
class TakenOver:
    """What was made of a result.

    summary : one line, without a full stop; `warning` if it is not all good
    changed : whether anything in Blender is otherwise now
    """

    summary: str
    warning: bool = False
    changed: bool = True


@dataclass(frozen=True, slots=True)
class RunTimes:
    """Seconds that the last run took; Blender waited for the first and the last only."""

    snapshot: float
    work: float
    hand_over: float

    def told(self) -> str:
        """In words, for reports and the panel."""
        return told(
            "Snapshot {snapshot:.2f} s, work {work:.2f} s, hand-over {hand_over:.2f} s",
            snapshot=self.snapshot,
            work=self.work,
            hand_over=self.hand_over,
        )


@dataclass(frozen=True, slots=True, eq=False)
class _Running:
    """A work that goes on, and Blender's timer by which it is looked at."""

    work: Work[object]
    timer: bpy.types.Timer


_running: list[_Running] = []
"""One at a time."""

_shown_stage: list[str] = []
"""What the status bar says of it."""

_last_times: list[RunTimes] = []


STAGES = {
    "mend": "Mend",
    "survey": "Survey",
    "true up": "True up",
    "plan": "Plan",
    "build and prove": "Build and prove",
    "build": "Build",
    "prove": "Prove",
    "pack beds": "Pack beds",
}
"""Of the work, as the core calls them, in their order, and as they are shown."""


def stage_words(stage: str) -> str:
    """A stage, and the part that it is at, as they are shown."""
    name = next((one for one in STAGES if f"{stage} ".startswith(f"{one} ")), None)
    return stage if name is None else told(STAGES[name]) + stage[len(name) :]


def running_stage() -> str | None:
    """The stage of the work that goes on; None: none does."""
    if not _running:
        return None
    work = _running[0].work
    return told("Cancelling") if work.cancelled else work.stage


def last_times() -> RunTimes | None:
    """How long the last run took, for the panel; None: none was made."""
    return _last_times[0] if _last_times else None


def poll_idle(operator: type[bpy.types.Operator]) -> bool:
    """For the poll of whatever has to wait for the work that goes on."""
    if _running:
        operator.poll_message_set(told("Wait for the work that goes on, or cancel it with Esc"))
    return not _running


def stop_running() -> None:
    """End the work that goes on and wait for that: the extension is being disabled."""
    for running in tuple(_running):
        running.work.cancel()
        running.work.wait()
        _end(running)


def _end(running: _Running) -> None:
    _running.remove(running)
    _shown_stage.clear()
    bpy.context.window_manager.event_timer_remove(running.timer)
    for workspace in bpy.data.workspaces:
        workspace.status_text_set(None)
    redraw_viewports()


class ModalWork(Generic[Snapshot, Result]):
    """Mixin for an operator whose work is a snapshot, a computation and a taking over.

    `snapshot` and `take_over` run on the main thread, `compute` on any.
    """

    def __class_getitem__(cls, _types: object) -> type:
        """The class itself: its types are for the type checker only.

        `typing` would keep what it makes of them until the very end, and Blender 4.5 does
        not end while a class derived from one of its own is kept.
        """
        return cls

    _job: _Running | None = None
    _marks: tuple[float, ...] = ()

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
    ) -> TakenOver:
        """Show the result, if what it is of is still there.

        Raises
        ------
        CoreError : it is not, or nothing can be made of it; nothing was changed
        """
        raise NotImplementedError

    def execute(self, context: bpy.types.Context) -> set[OperatorReturnItems]:
        """In one go, for scripts and for redo."""
        try:
            snapshot = self._timed_snapshot(context)
            result = self.compute(snapshot, lambda _stage: None)
        except CoreError as problem:
            return self._refuse(problem)
        return self._timed_take_over(context, snapshot, result)

    def invoke(
        self, context: bpy.types.Context, _event: bpy.types.Event
    ) -> set[OperatorReturnItems]:
        """Beside Blender, with the stage in the status bar and Esc to cancel."""
        if bpy.app.background or context.window is None:
            return self.execute(context)
        try:
            snapshot = self._timed_snapshot(context)
        except CoreError as problem:
            return self._refuse(problem)
        self._snapshot = snapshot
        work: Work[Result] = Work(lambda progress: self.compute(snapshot, progress))
        manager = context.window_manager
        timer = manager.event_timer_add(INTERVAL_S, window=context.window)
        self._job = _Running(work, timer)  # type: ignore[arg-type]
        _running.append(self._job)
        manager.modal_handler_add(self)  # type: ignore[arg-type]
        work.start()
        return {"RUNNING_MODAL"}

    def modal(self, context: bpy.types.Context, event: bpy.types.Event) -> set[OperatorReturnItems]:
        """Look at the work; all other events are Blender's."""
        job = self._job
        assert job is not None
        if event.type == "ESC" and event.value == "PRESS":
            job.work.cancel()
            return {"RUNNING_MODAL"}
        if event.type != "TIMER":
            return {"PASS_THROUGH"}
        if not job.work.done:
            _show_stage(context, running_stage() or "")
            return {"PASS_THROUGH"}
        _end(job)
        try:
            result = job.work.result()
        except WorkCancelled:
            self.report({"INFO"}, told("Cancelled; nothing was changed"))  # type: ignore[attr-defined]
            return {"CANCELLED"}
        except CoreError as problem:
            return self._refuse(problem)
        return self._timed_take_over(context, self._snapshot, result)  # type: ignore[arg-type]

    def cancel(self, _context: bpy.types.Context) -> None:
        """Blender ends the operator: another file is loaded, or it quits."""
        job = self._job
        if job in _running:
            job.work.cancel()
            job.work.wait()
            _end(job)

    def _timed_snapshot(self, context: bpy.types.Context) -> Snapshot:
        started = perf_counter()
        snapshot = self.snapshot(context)
        self._marks = started, perf_counter()
        return snapshot

    def _timed_take_over(
        self, context: bpy.types.Context, snapshot: Snapshot, result: Result
    ) -> set[OperatorReturnItems]:
        computed = perf_counter()
        try:
            taken = self.take_over(context, snapshot, result)
        except CoreError as problem:
            return self._refuse(problem)
        started, copied = self._marks
        times = RunTimes(copied - started, computed - copied, perf_counter() - computed)
        _last_times[:] = [times]
        level = "WARNING" if taken.warning else "INFO"
        said = told("{summary}. {times}", summary=taken.summary, times=times.told())
        self.report({level}, said)  # type: ignore[attr-defined]
        return {"FINISHED"} if taken.changed else {"CANCELLED"}

    def _refuse(self, problem: CoreError) -> set[OperatorReturnItems]:
        """Tell why it cannot be done."""
        self.report({"ERROR"}, panel_words(str(problem)))  # type: ignore[attr-defined]
        return {"CANCELLED"}


def _show_stage(context: bpy.types.Context, stage: str) -> None:
    """Have the status bar and the sidebars tell it; what the viewports show is as it was."""
    if _shown_stage and _shown_stage[0] == stage:
        return
    _shown_stage[:] = [stage]
    context.workspace.status_text_set(
        told("Borewright: {stage}    [Esc] Cancel", stage=stage_words(stage))
    )
    redraw_sidebars()
