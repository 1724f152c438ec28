"""What is told: the panel's labels in place of the command's options, and one word for a seam."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from borewright.addon.words.panel_words import panel_words

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(path for folder in ("core", "addon") for path in (ROOT / folder).rglob("*.py"))


def test_the_panel_speaks_of_its_labels_not_of_options() -> None:
    assert (
        panel_words("try: --max-move 0.2, or --true none") == "try: Max Move 0.2, or Make True None"
    )
    assert panel_words("--overwrite, or another --out") == "Overwrite, or another Folder"
    assert panel_words("--unheard-of 1") == "--unheard-of 1"


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("--cut 150: a wall", "a seam at 150: a wall"),
        ("--cut 152.75, the nearest", "a seam at 152.75, the nearest"),
        ("no --cut 100, or no --cut 110.5.",
         "no seam insisted on at 100, or no seam insisted on at 110.5."),
        ("a --cut elsewhere; the wall", "a seam elsewhere; the wall"),
        ("without any --cut or --pieces", "without any seam insisted on or Least Pieces"),
        ("--bore and --wall, or --solid, without PART",
         "sizes given to the command borewright trial"),
        ("a joint, --bore and --wall or --solid for",
         "a joint, sizes given to the command borewright trial for"),
        ("borewright profile NAME --nozzle 0.4, or --fit push",
         "borewright profile NAME --nozzle 0.4, or Fit Push"),
    ],
)  # fmt: skip
def test_seams_and_commands_are_told_as_the_panel_has_them(said: str, told: str) -> None:
    assert panel_words(said) == told


OF_THE_COMMAND = {
    "from": "the panel keeps its settings in the file",
    "trial": "Make Fit Trial is an operator of its own",
    "solid": "of the command trial, as _SIZES has it",
    "wall": "of the command trial, as _SIZES has it",
}
"""Options that a sentence may name and the panel has not, each with its reason."""


def test_every_option_that_a_sentence_names_has_a_label() -> None:
    """Else a person with the panel before them reads of options."""
    named = {
        option
        for path in SOURCES
        if not {"command_line", "sheet"} & set(path.parts)  # options, and colours of a style
        for said in strings_in(path)
        for option in re.findall(r"--([a-z]+(?:-[a-z]+)*)", said)
    }
    assert {"cut", "guard", "prefer"} <= named
    left = {option for option in named if "--" in panel_words(f"--{option}")}
    assert left - OF_THE_COMMAND.keys() == set()


def strings_in(path: Path) -> Iterator[str]:
    """All strings of a file but docstrings, those of Blender's classes apart: they are tooltips."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    tooltips = {
        id(node.body[0])
        for node in ast.walk(tree)
        if isinstance(node, ast.ClassDef) and re.match(r"BOREWRIGHT_(OT|PT|MT|UL)_", node.name)
    }
    untold = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and id(node) not in tooltips
    }
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in untold
        ):
            yield node.value


CUT_AS_A_VERB = re.compile(
    r"(be|is|was|has|layers|prints|edges|slip and) cut\b|cut (open|off|through|short)\b|Cut away\b"
)
"""What is done to a part, a print, a file or a finger. What comes of it is a seam."""

NOT_READ = {
    "cut", "cuts",  # the option --cut, and keys of job.json
    "Cut",  # the core's value, and the option's label, which is not shown
    "BOREWRIGHT_UL_cuts", "BOREWRIGHT_PT_cuts",
    "a plane cuts at most two edges of a triangle", "bodies differ in cuts only",  # assertions
}  # fmt: skip


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_what_is_made_by_cutting_is_called_a_seam_wherever_it_is_told(path: Path) -> None:
    assert [said for said in strings_in(path) if calls_a_seam_a_cut(said)] == []


def calls_a_seam_a_cut(said: str) -> bool:
    """Of any sentence or part of one; options as they are written are none."""
    left = CUT_AS_A_VERB.sub("", said)
    return said not in NOT_READ and re.search(r"(?<![-\w.])[Cc]uts?\b", left) is not None


def test_the_test_before_finds_what_it_looks_for() -> None:
    assert all(
        map(calls_a_seam_a_cut, ("Cuts", "; cut ", "Add Cut", "no cuts", "Cut moved to {at}"))
    )
    assert not any(
        map(calls_a_seam_a_cut, ("try: --cut 15", "a part that has to be cut", "shortcut"))
    )
