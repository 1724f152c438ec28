"""Buttons of the sidebar: the mouse goes over it until the right one answers.

Blender does not tell where a button is drawn, but it tells which operator or which property
the button under the mouse is for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import bpy

from tests.window.hands import Place, click, move, press, type_text
from tests.window.session import Session
from tests.window.steps import Steps, StepsTo, turns

ROW = 16
"""Pixels from one line of the search to the next; a button is some 24 high."""
FINE = 3
"""Pixels from try to try where the edges of a button are looked for."""
COLUMNS = (0.62, 0.25)
"""Parts of the sidebar's width at which buttons are looked for first."""
RARER_COLUMNS = (0.92, 0.78, 0.45, 0.1)
TAB = 20
"""Width of the tabs at the sidebar's right edge."""
MOST_PAGES = 12
NOTCHES = 8
"""Notches of the wheel that move the sidebar by less than its height."""


@dataclass(frozen=True, slots=True)
class Button:
    """What Blender tells of the button under the mouse.

    operator : its name as in `bpy.ops`, "" if it is none
    call : that operator with what the button sets, as a line of Python
    property : name of the property, without the data it belongs to, "" if it is none
    owner : the data block that holds it
    """

    operator: str
    call: str
    property: str
    owner: object


def button_under_mouse(session: Session) -> Button:
    """The button of the sidebar that the mouse is over; greyed ones too."""
    with session.in_viewport("UI"):
        call = ""
        if bpy.ops.ui.copy_python_command_button.poll():
            bpy.ops.ui.copy_python_command_button()
            call = bpy.context.window_manager.clipboard
        held = bpy.context.property
    owner, path = (held[0], held[1]) if held else (None, "")
    name = call.removeprefix("bpy.ops.").partition("(")[0]
    return Button(name, call, path.rpartition(".")[2], owner)


def find_button(session: Session, wanted: Callable[[Button], bool], what: str) -> StepsTo[Place]:
    """Where such a button of the sidebar's open tab is; the mouse is left on it.

    It is scrolled to if it must be.

    Raises
    ------
    LookupError : there is none
    """
    for columns in (COLUMNS, RARER_COLUMNS):
        yield from _scroll_to_top(session)
        for _ in range(MOST_PAGES):
            for place in _places(session.region("UI"), columns):
                if (yield from _answers(session, place, wanted)):
                    return (yield from _middle(session, place, wanted))
            if not (yield from _scroll(session, "WHEELDOWNMOUSE")):
                break
    raise LookupError(f"found: no button of {what} in the sidebar; needed: one")


def _answers(session: Session, place: Place, wanted: Callable[[Button], bool]) -> StepsTo[bool]:
    yield from move(place)
    return wanted(button_under_mouse(session))


def _middle(session: Session, place: Place, wanted: Callable[[Button], bool]) -> StepsTo[Place]:
    """Half way between the button's upper and lower edge, from a place on it."""
    x, y = place
    edges = []
    for step in (FINE, -FINE):
        edge = y
        while (yield from _answers(session, (x, edge + step), wanted)):
            edge += step
        edges.append(edge)
    middle = (x, sum(edges) // 2)
    yield from move(middle)
    return middle


def find_operator(session: Session, operator: str) -> StepsTo[Place]:
    """Where the button of an operator is, by its name as in `bpy.ops`."""
    return (yield from find_button(session, lambda seen: seen.operator == operator, operator))


def find_property(session: Session, name: str) -> StepsTo[Place]:
    """Where the button or field of a property is, by the property's name."""
    return (yield from find_button(session, lambda seen: seen.property == name, name))


def click_operator(session: Session, operator: str) -> Steps:
    """Click at the button of an operator."""
    place = yield from find_operator(session, operator)
    yield from turns(3)
    yield from click(place)


def click_property(session: Session, name: str) -> Steps:
    """Click at the button or field of a property."""
    place = yield from find_property(session, name)
    yield from turns(3)
    yield from click(place)


def enter_value(session: Session, name: str, text: str) -> Steps:
    """Type a value into the field of a property: Return over it, the text, Return."""
    yield from find_property(session, name)
    yield from turns(3)
    yield from press("RET")
    yield from press("A", ctrl=True)
    yield from type_text(text)
    yield from press("RET")
    yield from turns(3)


def open_tab(session: Session, category: str) -> Steps:
    """Show the sidebar and click at its tab.

    Raises
    ------
    LookupError : there is no such tab
    """
    session.viewport().spaces.active.show_region_ui = True
    yield from turns(10)
    sidebar = session.region("UI")
    for y in range(sidebar.y + sidebar.height - ROW, sidebar.y, -2 * ROW):
        yield from click((sidebar.x + sidebar.width - TAB // 2, y))
        if sidebar.active_panel_category == category:
            yield from turns(5)
            return
    raise LookupError(f"found: no tab {category} in the sidebar; needed: that tab")


def open_panel(session: Session, panel: type[bpy.types.Panel]) -> Steps:
    """Open a closed panel of the open tab by a click at its header; an open one stays open.

    Raises
    ------
    LookupError : nothing that was clicked at opened it
    """
    drawn = []

    def note(_panel: bpy.types.Panel, _context: bpy.types.Context) -> None:
        drawn.append(True)

    overlap = bpy.context.preferences.system
    shared = overlap.use_region_overlap
    panel.append(note)
    overlap.use_region_overlap = False  # else a click beside the panels is one in the view
    try:
        yield from turns(5)
        yield from _open(session, drawn, panel.bl_idname)
    finally:
        overlap.use_region_overlap = shared
        panel.remove(note)
    yield from turns(5)


def _open(session: Session, drawn: list[bool], name: str) -> Steps:
    yield from _scroll_to_top(session)
    for _ in range(MOST_PAGES):
        if (yield from _is_drawn(session, drawn)):
            return
        sidebar = session.region("UI")
        for y in range(sidebar.y + sidebar.height - ROW, sidebar.y, -ROW):
            place = (sidebar.x + TAB, y)
            yield from move(place)
            seen = button_under_mouse(session)
            if seen.operator or seen.property:
                continue
            yield from click(place)
            if (yield from _is_drawn(session, drawn)):
                return
            yield from click(place)
        if not (yield from _scroll(session, "WHEELDOWNMOUSE")):
            break
    raise LookupError(f"found: panel {name} stays closed; needed: a header that opens it")


def _is_drawn(session: Session, drawn: list[bool]) -> StepsTo[bool]:
    drawn.clear()
    session.region("UI").tag_redraw()
    yield from turns(3)
    return bool(drawn)


def _places(sidebar: bpy.types.Region, columns: tuple[float, ...]) -> Iterator[Place]:
    """Places over the sidebar, column by column from above."""
    for column in columns:
        x = sidebar.x + round(column * (sidebar.width - TAB))
        for y in range(sidebar.y + sidebar.height - ROW, sidebar.y, -ROW):
            yield x, y


def _scroll(session: Session, wheel: str) -> StepsTo[bool]:
    """Turn the wheel over the sidebar's first panel; whether that moved it.

    Where the sidebar is empty the view behind it would take the wheel, and zoom.
    """
    sidebar = session.region("UI")
    before = _lowest_shown(sidebar)
    yield from move((sidebar.x + sidebar.width // 3, sidebar.y + sidebar.height - ROW))
    for _ in range(NOTCHES):
        yield from press(wheel)
    return _lowest_shown(sidebar) != before


def _lowest_shown(sidebar: bpy.types.Region) -> float:
    return sidebar.view2d.region_to_view(0, 0)[1]


def _scroll_to_top(session: Session) -> Steps:
    """Turn the wheel until the first panel shows; most often it does."""
    while session.region("UI").view2d.region_to_view(0, session.region("UI").height)[1] < -1:
        yield from _scroll(session, "WHEELUPMOUSE")
