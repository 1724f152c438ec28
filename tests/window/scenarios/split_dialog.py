"""Object > Split Tall Part, found by search, answered in its dialog, undone by a key."""

from __future__ import annotations

import bpy

from tests.window.hands import confirm_dialog, press, search
from tests.window.session import Session
from tests.window.steps import Steps, until


def steps(session: Session) -> Steps:
    source = session.import_part()
    name = source.name
    yield from session.picture("imported")
    yield from search("split tall part", session.middle())
    yield from session.picture("dialog")
    yield from confirm_dialog()
    yield from until(lambda: f"{name} Pieces" in bpy.data.collections, "pieces")
    assert len(bpy.data.collections[f"{name} Pieces"].objects) == 3
    yield from session.picture("pieces")
    yield from press("Z", ctrl=True)
    yield from until(lambda: len(bpy.data.objects) == 1, "undo")
    yield from session.picture("undone")
