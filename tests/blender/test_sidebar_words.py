"""What a person reads can be translated: by Blender in our own context, or by `told`."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType, SimpleNamespace

import bpy
import pytest

from tests.blender.built_pieces import add_part, own
from tests.blender.conftest import EXTENSION, ROOT
from tests.labels import own_labels
from tests.parts import plain_tube

SOURCES = sorted((ROOT / "addon").rglob("*.py"))

BY_PLACE = {"report": 1, "poll_message_set": 0, "status_text_set": 0, "draw_text": 2}
"""Calls that show text, and which argument that is."""
NO_LAYOUTS = {"Label"}
"""Calls with such arguments that show nothing."""
BY_NAME = {"text", "heading", "title", "message", "confirm_text"}
"""Arguments of layouts and dialogs that are shown."""

LOOKED_UP = {"text", "heading", "confirm_text"}
"""Of these what Blender looks up itself, in its own dictionary, unless it is told not to. Names and
descriptions of operators, panels and properties it looks up in our context; all else is `told`."""

TEMPLATE_HOLDERS = {"self.reason.template", "label.template"}
"""Templates that are made beside Blender: `Reason` below, words of the overlay in its own test."""
OF_OVERLAY = {"word"}


def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def called(call: ast.Call) -> str:
    of = call.func
    return of.attr if isinstance(of, ast.Attribute) else getattr(of, "id", "")


def calls(tree: ast.AST) -> Iterator[ast.Call]:
    return (node for node in ast.walk(tree) if isinstance(node, ast.Call))


def shown(call: ast.Call) -> Iterator[ast.expr]:
    """What a call shows."""
    name = called(call)
    if name in BY_PLACE and len(call.args) > BY_PLACE[name]:
        yield call.args[BY_PLACE[name]]
    for given in call.keywords:
        if given.arg in BY_NAME and name not in NO_LAYOUTS:
            yield given.value


def assigned(function: ast.AST, name: str) -> Iterator[ast.expr]:
    """All that a name stands for in a function."""
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and any(
            isinstance(one, ast.Name) and one.id == name for one in node.targets
        ):
            yield node.value


def fault(text: ast.expr) -> str:
    """Why a translation of a text itself cannot be had; empty: it can."""
    if isinstance(text, ast.JoinedStr):
        return "an f-string"
    if isinstance(text, ast.Constant) and text.value:
        return "a literal that is not looked up"
    if isinstance(text, ast.Call) and called(text) == "str":
        return "a refusal that names options of the command"
    together = isinstance(text, ast.BinOp) or (
        isinstance(text, ast.Call) and called(text) in {"format", "join", "strip"}
    )
    return "text put together" if together else ""


def is_looked_up_twice(call: ast.Call) -> bool:
    """Whether Blender is to look up in its dictionary what we have looked up in ours."""
    given = {one.arg: ast.unparse(one.value) for one in call.keywords}
    shows = any(given.get(name, "''") != "''" for name in LOOKED_UP)
    return shows and given.get("translate") != "False" and called(call) not in NO_LAYOUTS


def faults(text: ast.expr, function: ast.AST) -> Iterator[str]:
    """The same of all that it may stand for."""
    own_fault = fault(text)
    if own_fault:
        yield own_fault
    stands_for: list[ast.expr] = []
    if isinstance(text, ast.IfExp):
        stands_for = [text.body, text.orelse]
    elif isinstance(text, ast.BoolOp):
        stands_for = text.values
    elif isinstance(text, ast.Name):
        stands_for = list(assigned(function, text.id))
    for one in stands_for:
        yield from faults(one, function)


def all_faults(tree: ast.Module) -> list[str]:
    found = []
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        for call in calls(function):
            for text in shown(call):
                found += [f"line {text.lineno}: {why}" for why in faults(text, function)]
            if is_looked_up_twice(call):
                found.append(f"line {call.lineno}: Blender looks it up in its own dictionary")
    return found


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_nothing_is_shown_that_cannot_be_translated(path: Path) -> None:
    assert all_faults(parsed(path)) == []


@pytest.mark.parametrize(
    "fault",
    [
        'self.report({"INFO"}, f"{count} cuts")',
        'said = f"{count} cuts"; self.report({"INFO"}, said)',
        'self.report({"INFO"}, "Cuts")',
        'self.report({"INFO"}, "Cuts: " + count)',
        'self.report({"INFO"}, "{} cuts".format(count))',
        'self.report({"ERROR"}, str(problem))',
        'layout.label(text=f"{count} cuts", translate=False)',
        'layout.label(text="Cuts: " + count, translate=False)',
        'layout.label(text="Cuts", translate=False)',
        'layout.label(text=told("Cuts"))',
        'layout.row(heading=told("Cuts"))',
        'cls.poll_message_set("Survey first")',
        'workspace.status_text_set("Esc" if count else told("Enter"))',
    ],
)
def test_the_test_before_finds_what_it_looks_for(fault: str) -> None:
    assert all_faults(ast.parse(f"def draw(self, count):\n    {fault}\n"))


def is_literal(template: ast.expr, tree: ast.Module) -> bool:
    """Whether it is a plain text, or one of a table's, which a translator's tools can find."""
    if isinstance(template, ast.Constant):
        return isinstance(template.value, str)
    if isinstance(template, ast.Subscript):
        table = template.value
        return isinstance(table, ast.Name) and any(
            isinstance(value, ast.Dict) and all(is_literal(one, tree) for one in value.values)
            for value in module_values(tree, table.id)
        )
    values = module_values(tree, template.id) if isinstance(template, ast.Name) else []
    return bool(values) and all(is_literal(value, tree) for value in values)


def module_values(tree: ast.Module, name: str) -> list[ast.expr]:
    """All that a name is given in a file."""
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, (ast.Assign, ast.AnnAssign)) and node.value is not None
        for target in (node.targets if isinstance(node, ast.Assign) else [node.target])
        if isinstance(target, ast.Name) and target.id == name
    ]


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_template_is_a_plain_literal(path: Path) -> None:
    tree = parsed(path)
    allowed = TEMPLATE_HOLDERS | (OF_OVERLAY if path.parent.name == "overlay" else set())
    templates = [
        call.args[0]
        for call in calls(tree)
        if isinstance(call.func, ast.Name) and call.func.id in {"told", "Reason"} and call.args
    ]
    wrong = [
        ast.unparse(one)
        for one in templates
        if not is_literal(one, tree) and ast.unparse(one) not in allowed
    ]
    assert wrong == []


def test_every_stage_of_the_work_has_words_that_can_be_translated(
    extension: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert extension.__name__ == EXTENSION
    work = own("addon.work.modal_work")
    stages = {
        call.args[0].value
        for path in (*SOURCES, *(ROOT / "core").rglob("*.py"))
        for call in calls(parsed(path))
        if called(call) == "progress" and call.args and isinstance(call.args[0], ast.Constant)
    }
    assert stages - {""} == set(work.STAGES)
    monkeypatch.setattr(work, "told", {"True up": "Ausrichten", "Prove": "Messen"}.get)
    assert work.stage_words("true up Pipe-a") == "Ausrichten Pipe-a"
    assert work.stage_words("prove") == "Messen"


def test_every_name_is_looked_up_in_our_own_context(extension: ModuleType) -> None:
    """So that Blender's dictionary, where lines are of text, is not asked."""
    assert extension.__name__ == EXTENSION
    labels = list(own_labels())
    assert {"Joint", "Survey Part", "Seams", "Default Folder", "Borewright"} <= {
        label for _, _, label in labels
    }
    assert [where for where, context, _ in labels if context != "Borewright"] == []


GERMAN = {
    "Survey the part first": "Erst das Teil vermessen",
    "Seams planned: {seams}": "Geplante Stöße: {seams}",
    "{summary}. {times}": "{times}: {summary}",
}


def test_a_message_is_told_in_the_language_of_a_translation(
    extension: ModuleType, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Blender as a module is built without languages; what a windowed one would find stands in."""
    assert extension.__name__ == EXTENSION
    translations = SimpleNamespace(pgettext_rpt=lambda said, _context: GERMAN.get(said, said))
    speaking = SimpleNamespace(app=SimpleNamespace(translations=translations))
    monkeypatch.setattr(own("addon.words.told"), "bpy", speaking)
    add_part(plain_tube().mesh, "Pipe")
    with pytest.raises(RuntimeError, match="Erst das Teil vermessen"):
        bpy.ops.borewright.plan()
    bpy.ops.borewright.survey()
    assert "s: Pipe was surveyed" in capfd.readouterr().out
    bpy.ops.borewright.plan()
    assert "Geplante Stöße: 1" in capfd.readouterr().out
