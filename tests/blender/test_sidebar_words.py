"""What a person reads can be translated: by Blender itself, or by `told`."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType, SimpleNamespace

import bpy
import pytest

from tests.blender.built_pieces import add_part, own
from tests.blender.conftest import EXTENSION, ROOT
from tests.parts import plain_tube

SOURCES = sorted((ROOT / "addon").rglob("*.py"))

BY_PLACE = {"report": 1, "poll_message_set": 0, "status_text_set": 0, "draw_text": 2}
"""Calls that show text, and which argument that is."""
BY_NAME = {"text", "heading", "title", "message", "confirm_text"}
"""Arguments of layouts and dialogs that are shown."""

BLENDER_TRANSLATES = {"text", "heading", "confirm_text"}
"""Plain literals in these: Blender looks them up itself (and so it does names and descriptions of
operators, panels and properties). Those of a poll, a report or the status bar go through `told`."""

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


def shown(call: ast.Call) -> Iterator[tuple[str, ast.expr]]:
    """What a call shows, by how it is handed over."""
    name = called(call)
    if name in BY_PLACE and len(call.args) > BY_PLACE[name]:
        yield name, call.args[BY_PLACE[name]]
    for given in call.keywords:
        if given.arg in BY_NAME and name != "Label":
            yield given.arg, given.value


def assigned(function: ast.AST, name: str) -> Iterator[ast.expr]:
    """All that a name stands for in a function."""
    for node in ast.walk(function):
        if isinstance(node, ast.Assign) and any(
            isinstance(one, ast.Name) and one.id == name for one in node.targets
        ):
            yield node.value


def fault(how: str, text: ast.expr) -> str:
    """Why a translation of a text itself cannot be had; empty: it can."""
    if isinstance(text, ast.JoinedStr):
        return "an f-string"
    if isinstance(text, ast.Constant) and text.value and how not in BLENDER_TRANSLATES:
        return "a literal that Blender does not look up"
    together = isinstance(text, ast.BinOp) or (
        isinstance(text, ast.Call) and called(text) in {"format", "join", "strip"}
    )
    return "text put together" if together else ""


def faults(how: str, text: ast.expr, function: ast.AST) -> Iterator[str]:
    """The same of all that it may stand for."""
    own_fault = fault(how, text)
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
        yield from faults(how, one, function)


def all_faults(tree: ast.Module) -> list[str]:
    found = []
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        for call in calls(function):
            for how, text in shown(call):
                found += [f"line {text.lineno}: {why}" for why in faults(how, text, function)]
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
        'layout.label(text=f"{count} cuts")',
        'layout.label(text="Cuts: " + count)',
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


GERMAN = {
    "Survey the part first": "Erst das Teil vermessen",
    "Cuts planned: {cuts}": "Geplante Schnitte: {cuts}",
    "{summary}. {times}": "{times}: {summary}",
}


def test_a_message_is_told_in_the_language_of_a_translation(
    extension: ModuleType, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """Blender as a module is built without languages; what a windowed one would find stands in."""
    assert extension.__name__ == EXTENSION
    translations = SimpleNamespace(pgettext_rpt=lambda said: GERMAN.get(said, said))
    speaking = SimpleNamespace(app=SimpleNamespace(translations=translations))
    monkeypatch.setattr(own("addon.words.told"), "bpy", speaking)
    add_part(plain_tube().mesh, "Pipe")
    with pytest.raises(RuntimeError, match="Erst das Teil vermessen"):
        bpy.ops.borewright.plan()
    bpy.ops.borewright.survey()
    assert "s: Pipe was surveyed" in capfd.readouterr().out
    bpy.ops.borewright.plan()
    assert "Geplante Schnitte: 1" in capfd.readouterr().out
