"""Object > Split Tall Part, found by search, answered in its dialog, undone by a key."""

from __future__ import annotations

from collections.abc import Iterable

import bpy

from tests.window.hands import answer_of_dialog, click, confirm_dialog, press, search
from tests.window.plan_on_screen import own
from tests.window.session import Session
from tests.window.steps import Steps, until

LEFT = 230
LOWEST, HIGH = (31, 21) if bpy.app.version >= (5, 0) else (35, 25)
"""Pixels: from the middle of the dialog's answer to its panels' headers, and between these."""

IN_VIEW = 3
"""Panels that may be open together before the dialog has to be scrolled."""


def steps(session: Session) -> Steps:
    source = session.import_part()
    name = source.name
    yield from session.picture("imported")
    yield from search("split tall part", session.middle())
    yield from session.picture("dialog")
    yield from open_each(session)
    yield from confirm_dialog()
    yield from until(lambda: f"{name} Pieces" in bpy.data.collections, "pieces")
    assert len(bpy.data.collections[f"{name} Pieces"].objects) == 3
    yield from session.picture("pieces")
    yield from press("Z", ctrl=True)
    yield from until(lambda: len(bpy.data.objects) == 1, "undo")
    yield from session.picture("undone")


def open_each(session: Session) -> Steps:
    """Closed panels of the dialog open at a click at their headers, the highest first."""
    split = own("operators.split")
    drawn: set[tuple[str, ...]] = set()
    draw = split._draw_settings  # noqa: SLF001 - who draws it knows whether a panel is open

    def note(layout: object, operator: object, names: Iterable[str]) -> None:
        drawn.add(tuple(names))
        draw(layout, operator, names)

    split._draw_settings = note  # noqa: SLF001
    try:
        closed = list(split._CLOSED.values())  # noqa: SLF001
        for number, names in enumerate(closed[:IN_VIEW], 1):
            middle, answer, _ = yield from answer_of_dialog()
            yield from click((middle - LEFT, answer + LOWEST + (len(closed) - number) * HIGH))
            yield from until(lambda names=names: names in drawn, f"open panel of {names}")
            yield from session.picture(f"open-{names[0]}")
    finally:
        split._draw_settings = draw  # noqa: SLF001
