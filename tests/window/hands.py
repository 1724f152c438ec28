"""Mouse and keyboard as Blender's events. Places are pixels of the window, from its lower left.

Each function yields until Blender has handled what was done.
"""

from __future__ import annotations

import bpy

from tests.window.pictures import screen_pixels, widest_bar
from tests.window.steps import Steps, StepsTo, pause, turns

Place = tuple[int, int]

_at: Place = (0, 0)
"""Where the mouse is: every event of Blender tells it, those of keys too."""


def _send(kind: str, value: str, **more: object) -> None:
    window = bpy.context.window_manager.windows[0]
    window.event_simulate(kind, value, x=_at[0], y=_at[1], **more)


def move(place: Place) -> Steps:
    """Move the mouse in one leap."""
    global _at  # noqa: PLW0603 # there is one mouse
    _at = (round(place[0]), round(place[1]))
    _send("MOUSEMOVE", "NOTHING")
    yield from turns(2)  # after one, Blender still tells of the place before


def press(key: str, **modifiers: bool) -> Steps:
    """Press and release a key or a button of the mouse, by Blender's name for it.

    modifiers : shift, ctrl, alt
    """
    _send(key, "PRESS", **modifiers)
    yield None
    _send(key, "RELEASE", **modifiers)
    yield from turns(3)


def click(place: Place, button: str = "LEFTMOUSE", **modifiers: bool) -> Steps:
    """Move there and click."""
    yield from move(place)
    yield from press(button, **modifiers)


def drag(start: Place, end: Place, moves: int = 10, *, release: bool = True) -> Steps:
    """Press at the start, go to the end in some moves, release there if asked.

    Without the release the button is still held: `let_go` follows, or `press("ESC")`.
    """
    yield from move(start)
    yield from turns(3)
    _send("LEFTMOUSE", "PRESS")
    yield from turns(2)
    for step in range(1, moves + 1):
        part = step / moves
        yield from move(tuple(round(a + part * (b - a)) for a, b in zip(start, end, strict=True)))
    yield from turns(2)
    if release:
        yield from let_go()


def let_go() -> Steps:
    """Release the left button of the mouse."""
    _send("LEFTMOUSE", "RELEASE")
    yield from turns(3)


_KEYS = {" ": "SPACE", ".": "PERIOD", "-": "MINUS", ",": "COMMA", "/": "SLASH", ":": "SEMI_COLON"}
_DIGITS = ("ZERO", "ONE", "TWO", "THREE", "FOUR", "FIVE", "SIX", "SEVEN", "EIGHT", "NINE")


def _key(character: str) -> str:
    if character.isdigit():
        return _DIGITS[int(character)]
    return _KEYS.get(character, character.upper())


def type_text(text: str) -> Steps:
    """Type letters, digits, spaces and simple marks."""
    for character in text:
        _send(_key(character), "PRESS", unicode=character, shift=character.isupper())
        _send(_key(character), "RELEASE", shift=character.isupper())
        yield None
    yield from turns(2)


def confirm_dialog() -> Steps:
    """Click at the button of an open dialog that is drawn as its answer."""
    x, y, _ = yield from answer_of_dialog()
    yield from click((x, y))


def answer_of_dialog() -> StepsTo[tuple[int, int, int]]:
    """The middle of the button of an open dialog that is drawn as its answer, and its width."""
    window = bpy.context.window_manager.windows[0]
    theme = bpy.context.preferences.themes[0].user_interface.wcol_regular.inner_sel
    colour = tuple(round(255 * channel) for channel in theme[:3])
    yield from pause(0.3)
    x, y, width = widest_bar(screen_pixels(window.width, window.height), colour)
    assert width > 100, f"found: a bar {width} pixels wide; needed: a dialog's button"
    return x, y, width


def search(text: str, place: Place) -> Steps:
    """Run an operator by Blender's search (F3): its name is typed and the first hit taken.

    place : where the mouse is meanwhile; it decides which editor's operators are found
    """
    yield from move(place)
    yield from turns(3)
    yield from press("F3")
    yield from turns(5)
    yield from type_text(text)
    yield from turns(5)
    yield from press("RET")
    yield from turns(5)
