"""A cut dragged along the axis by its handle: past a side hole, back, given up, undone."""

from __future__ import annotations

import time

import bpy

from tests.window.buttons import enter_value, open_tab
from tests.window.hands import drag, let_go, move, press
from tests.window.plan_on_screen import handle_place, own, see_upright
from tests.window.session import Session
from tests.window.steps import Steps, pause, turns, until
from tests.window.themes import set_light_theme

HEIGHT = 250.0


def steps(session: Session) -> Steps:
    part = session.import_part()
    bpy.context.scene.borewright.envelope = (250.0, 250.0, HEIGHT)
    survey(session, part)
    yield from see_upright(session, part)
    yield from session.picture("handles")
    said = kept_status_texts()
    yield from a_drag_moves_the_cut_and_undo_brings_it_back(session, part)
    yield from a_hole_in_the_way_is_told_and_passed(session, part, said)
    yield from a_drag_that_is_given_up_leaves_all_as_it_was(session, part)
    session.note("status bar: " + " | ".join(dict.fromkeys(said)))
    yield from times_of_moves(session, part)
    yield from a_station_is_typed(session, part)
    bpy.context.scene.borewright.show_overlay = False
    yield from pause(0.5)
    yield from nothing_is_dragged(session, part)
    bpy.context.scene.borewright.show_overlay = True
    set_light_theme()
    yield from session.picture("light")


def survey(session: Session, part: bpy.types.Object) -> None:
    with session.in_viewport():
        bpy.ops.borewright.survey()
        bpy.ops.ed.undo_push(message="Survey Part")
    assert own("surveys.found").found_of(part) is not None


def cuts(part: bpy.types.Object) -> list[tuple[float, bool]]:
    return [(round(cut.station, 3), cut.insisted) for cut in part.borewright.cuts]


def planned(part: bpy.types.Object) -> list[float]:
    plan = own("surveys.found").found_of(part).parts[0].planned.plan
    return [round(cut.station, 3) for cut in plan.cuts]


def kept_status_texts() -> list[str]:
    """All that is said in the status bar from now on."""
    said: list[str] = []
    module = own("cuts.cut_drag")
    show = module.show_where

    def kept(context: bpy.types.Context, now: object) -> None:
        said.append(now.words())
        show(context, now)

    module.show_where = kept
    return said


def a_drag_moves_the_cut_and_undo_brings_it_back(session: Session, part: bpy.types.Object) -> Steps:
    ((before, _),) = cuts(part)
    start, end = handle_place(session, part, before), handle_place(session, part, before + 9.0)
    yield from drag(start, end, release=False)
    assert own("cuts.cut_drag").current_drag(part) is not None, "the handle was not taken hold of"
    yield from session.picture("dragging")
    yield from let_go()
    yield from until(lambda: own("cuts.cut_drag").current_drag(part) is None, "end of the drag")
    ((after, insisted),) = cuts(part)
    session.note(f"dragged from {before} to {after}")
    assert insisted
    assert abs(after - before - 9.0) < 1.5
    assert planned(part) == [after]
    yield from session.picture("dragged")
    yield from press("Z", ctrl=True)
    yield from until(lambda: cuts(part_again(part)) == [(before, False)], "undo")
    yield from until(lambda: planned(part_again(part)) == [before], "plan of before")
    yield from press("Z", ctrl=True, shift=True)
    yield from until(lambda: cuts(part_again(part)) == [(after, True)], "redo")
    yield from until(lambda: planned(part_again(part)) == [after], "plan of after")
    yield from session.picture("redone")


def part_again(_part: bpy.types.Object) -> bpy.types.Object:
    """The part, as undo left it."""
    return bpy.context.view_layer.objects.active


def a_hole_in_the_way_is_told_and_passed(
    session: Session, part: bpy.types.Object, said: list[str]
) -> Steps:
    """From the stretch that the cut is in to a hole, into all other stretches, and back."""
    part = part_again(part)
    ((before, _),) = cuts(part)
    known = own("surveys.found").found_of(part).parts[0].known
    hole = max((one for one in known.exact.side_holes if one.station < before),
               key=lambda one: one.station)  # fmt: skip
    here = handle_place(session, part, before)
    yield from drag(here, handle_place(session, part, hole.station), release=False)
    going = own("cuts.cut_drag").current_drag(part)
    own_stretch = next(span for span in going.places.spans if span[0] <= before <= span[1])
    assert abs(going.station - own_stretch[0]) < 1.0 / 1024.0, (
        "it does not stay at the end of its stretch"
    )
    assert "ide hole" in said[-1], said[-1]
    assert f" at {hole.station:.2f}" in said[-1], said[-1]
    yield from session.picture("hindered")
    others = [span for span in going.places.spans if not span[0] <= before <= span[1]]
    session.note(f"{len(others)} other free stretches")
    for low, high in others:
        yield from move(handle_place(session, part, (low + high) / 2.0))
        yield from turns(3)
        assert low <= going.station <= high
        assert going.reason is None
    wished = sum(own_stretch) / 2.0
    yield from move(handle_place(session, part, wished))
    yield from turns(3)
    assert going.reason is None
    yield from let_go()
    ((after, _),) = cuts(part)
    assert abs(after - wished) < 1.5
    assert planned(part) == [after]


def a_drag_that_is_given_up_leaves_all_as_it_was(session: Session, part: bpy.types.Object) -> Steps:
    part = part_again(part)
    before, plan = cuts(part), planned(part)
    for key in ("ESC", "RIGHTMOUSE"):
        here = handle_place(session, part, before[0][0])
        yield from drag(here, (here[0], here[1] + 40), release=False)
        going = own("cuts.cut_drag").current_drag(part)
        assert going.station != before[0][0]
        yield from press(key)
        yield from let_go()
        yield from pause(0.3)
        assert own("cuts.cut_drag").current_drag(part) is None
        assert cuts(part) == before, f"{key} kept the drag"
        assert planned(part) == plan


def times_of_moves(session: Session, part: bpy.types.Object) -> Steps:
    """How long each move of the mouse keeps the main thread."""
    part = part_again(part)
    operator, costs = own("cuts.cut_drag").Drag, []
    follow = operator.follow

    def timed(self: object, mouse: float | None) -> None:
        began = time.perf_counter()
        follow(self, mouse)
        costs.append(1e3 * (time.perf_counter() - began))

    operator.follow = timed
    here = handle_place(session, part, cuts(part)[0][0])
    yield from drag(here, (here[0], here[1] + 300), moves=30, release=False)
    yield from press("ESC")
    yield from let_go()
    operator.follow = follow
    session.note(
        f"{len(costs)} moves, ms: most {max(costs):.2f}, mean {sum(costs) / len(costs):.2f}"
    )


def a_station_is_typed(session: Session, part: bpy.types.Object) -> Steps:
    """In the list of the panel, at the middle of a hole: the cut goes to the nearest free one."""
    part = part_again(part)
    known = own("surveys.found").found_of(part).parts[0].known
    ((before, _),) = cuts(part)
    hole = min(known.exact.side_holes, key=lambda one: abs(one.station - before))
    yield from open_tab(session, "Borewright")
    yield from enter_value(session, "station", f"{hole.station:.2f}")
    yield from until(lambda: cuts(part_again(part)) != [(before, True)], "another station")
    ((after, insisted),) = cuts(part_again(part))
    session.note(f"typed {hole.station:.2f}, came to {after}")
    assert insisted
    assert 0.0 < abs(after - hole.station) < abs(before - hole.station)
    assert planned(part_again(part)) == [after]
    yield from session.picture("typed")
    yield from move(session.middle())
    yield from press("Z", ctrl=True)
    yield from until(lambda: cuts(part_again(part)) == [(before, True)], "undo of what was typed")
    session.viewport().spaces.active.show_region_ui = False
    yield from pause(0.5)


def nothing_is_dragged(session: Session, part: bpy.types.Object) -> Steps:
    """Where the plan is not shown there are no handles."""
    part = part_again(part)
    here = handle_place(session, part, cuts(part)[0][0])
    yield from drag(here, (here[0], here[1] + 40), release=False)
    assert own("cuts.cut_drag").current_drag(part) is None
    yield from press("ESC")
    yield from let_go()
