"""Switched off and on again with a part surveyed, nothing runs on; translations are found."""

from __future__ import annotations

import contextlib
import importlib
import sys
from collections.abc import Iterator
from types import FrameType

import addon_utils
import bpy

from tests.labels import own_labels
from tests.window.buttons import open_tab
from tests.window.session import Session
from tests.window.steps import Steps, pause, turns

EXTENSION = "bl_ext.user_default.borewright"
OWN_FILES = "/user_default/borewright/"
ROUNDS = 5
CONTEXT = "Borewright"

GERMAN = {
    (CONTEXT, "Seams planned: {seams}"): "Geplante Stöße: {seams}",
    (CONTEXT, "Make a mesh object active"): "Erst ein Netz aktiv machen",
    (CONTEXT, "Survey Part"): "Teil vermessen",
    (CONTEXT, "Plan Seams"): "Stöße planen",
    (CONTEXT, "Envelope"): "Bauraum",
    (CONTEXT, "Length"): "Länge",
}


def steps(session: Session) -> Steps:
    part = session.import_part()
    yield from open_tab(session, "Borewright")
    survey(session)
    with own_calls() as called:
        yield from drawn_anew(session)
    assert any("overlay" in one for one in called), "the overlay is not drawn"
    assert any("handles" in one for one in called), "no handle is drawn"
    assert any("panels" in one for one in called), "no panel is drawn"
    for _ in range(ROUNDS):
        yield from off_and_on(session, part)
    yield from session.picture("on-again")
    yield from translated(session)


def off_and_on(session: Session, part: bpy.types.Object) -> Steps:
    """Nothing of ours is called once it is off, and all of it works again once it is on."""
    part.borewright.pieces = 2  # a plan is due, soon
    addon_utils.disable(EXTENSION, default_set=True)
    with own_calls() as called:
        part.location.x += 1.0  # whoever still waits for changes is told
        yield from drawn_anew(session)
    assert not called, f"of an extension that is off: {sorted(called)}"
    assert not hasattr(part, "borewright")
    assert not [name for name in dir(bpy.types) if "borewright" in name.lower()]
    assert addon_utils.enable(EXTENSION, default_set=True)
    survey(session)


def drawn_anew(session: Session) -> Steps:
    """Longer than a plan that follows its settings waits."""
    session.viewport().tag_redraw()
    yield from pause(0.2)
    session.viewport().tag_redraw()
    yield from turns(5)


def survey(session: Session) -> None:
    with session.in_viewport():
        assert bpy.ops.borewright.survey("EXEC_DEFAULT") == {"FINISHED"}


@contextlib.contextmanager
def own_calls() -> Iterator[set[str]]:
    """Functions of the extension that Blender calls meanwhile."""
    called: set[str] = set()

    def note(frame: FrameType, event: str, _argument: object) -> None:
        if event == "call" and OWN_FILES in frame.f_code.co_filename:
            file = frame.f_code.co_filename.partition(OWN_FILES)[2]
            called.add(f"{file}: {frame.f_code.co_name}")

    sys.setprofile(note)
    try:
        yield called
    finally:
        sys.setprofile(None)


def translated(session: Session) -> Steps:
    """Blender finds our words in a translation, those that it draws and those that we tell."""
    if not bpy.app.build_options.international:
        session.note("This Blender was built without languages")
        return
    view = bpy.context.preferences.view
    before = view.language
    view.language = "de_DE"
    view.use_translate_interface = view.use_translate_tooltips = True
    view.use_translate_reports = True
    blenders_words_are_not_taken_for_ours()
    yield from session.picture("untranslated")
    bpy.app.translations.register("borewright_test", {"de_DE": GERMAN})
    told = importlib.import_module(f"{EXTENSION}.addon.words.told").told
    assert told("Seams planned: {seams}", seams=3) == "Geplante Stöße: 3"
    yield from session.picture("german")
    try:
        bpy.context.view_layer.objects.active = None
        with session.in_viewport():
            bpy.ops.borewright.survey("EXEC_DEFAULT")
    except RuntimeError as refusal:
        assert "Erst ein Netz aktiv machen" in str(refusal), refusal  # noqa: PT017 - no pytest here
    else:
        message = "a survey of nothing"
        raise AssertionError(message)
    view.language = before
    bpy.app.translations.unregister("borewright_test")


def blenders_words_are_not_taken_for_ours() -> None:
    """German Blender has labels of ours for other things: Fit is to fit in, Lines are of text."""
    looked_up = bpy.app.translations.pgettext_iface
    labels = list(own_labels())
    known = {label for _, _, label in labels if looked_up(label) != label}
    assert {"Seams", "Fit", "Lines"} <= known, known
    assert [where for where, context, label in labels if looked_up(label, context) != label] == []
