"""Command line, panel and Split Tall Part ask for the same things, save for stated reasons."""

from __future__ import annotations

import argparse
from types import ModuleType
from typing import Any

import bpy
import pytest
from borewright.addon.command_line.arguments import Parser
from borewright.addon.command_line.job_command import SPLIT
from borewright.addon.command_line.profile_command import PROFILE

from tests.blender.built_pieces import add_part, own
from tests.blender.conftest import EXTENSION
from tests.blender.test_panels import drawn, surveyed
from tests.parts import plain_tube
from tests.recorded_layout import RecordedLayout

IN_PANEL = {"units": "unit", "cut": "cuts", "out": "folder"}
"""What the panel calls an option, where that is not the option's own name."""
IN_SPLIT = {"units": "unit", "cut": "seams"}
"""What Split Tall Part calls it."""

LISTS = {"cuts": "station", "avoid": "start", "prefer": "station"}
"""A property that each line of a list in the panel shows."""

ONLY_OF_THE_COMMAND = {
    "help": "tooltips tell it",
    "parts": "the selected objects are the parts",
    "from": "a .blend file keeps its settings and its part",
    "trial": "Make Fit Trial is a button and an operator of its own",
    "quiet": "of the terminal: the progress bar takes no room",
    "json": "of the terminal: Save Pieces writes the record",
    "name": "of `profile`: the menu of printers",
    "remove": "of `profile`: Remove Printer is a button and an operator of its own",
}
ONLY_OF_THE_PANEL = {
    "active_cut": "the line of the list that is looked at",
    "surveyed": "set by the survey itself",
    "place": "where pieces stand in the scene",
    "explode": "where pieces stand in the scene",
    "show_overlay": "the viewport's", "show_holes": "the viewport's",
    "show_stretches": "the viewport's", "show_sizes": "the viewport's",
    "show_section": "the viewport's", "section_angle": "the viewport's",
    "choose_clearance": "an option that is not given", "choose_bore": "an option that is not given",
    "choose_engagement": "an option that is not given",
    "choose_least_wall": "an option that is not given",
}  # fmt: skip
NOT_IN_SPLIT = {
    "folder": "Save Pieces has it, as its directory",
    "overwrite": "Save Pieces has it",
}
NOT_DRAWN = {
    "surveyed": "set by the survey itself",
    "active_cut": "the list has it",
    "show_overlay": "the header of Show Plan has it",
    "profile": "the menu of printers shows and sets it",
}


def options(of: Any) -> set[str]:
    """All of a sub-command, as they are written, without their dashes."""
    parser = Parser(prog="borewright", allow_abbrev=False)
    of.add_arguments(parser)
    return {option(action) for action in parser._actions}  # noqa: SLF001 - argparse lists them nowhere else


def option(action: argparse.Action) -> str:
    flags = [flag for flag in action.option_strings if flag.startswith("--")]
    return flags[0].removeprefix("--").replace("-", "_") if flags else action.dest


def properties(rna: Any) -> set[str]:
    return {one.identifier for one in rna.properties if one.identifier not in rna.base.properties}


@pytest.fixture
def of_panel(extension: ModuleType) -> set[str]:
    assert extension.__name__ == EXTENSION
    groups = (bpy.types.Scene.bl_rna, bpy.types.Object.bl_rna)
    asked = (group.properties["borewright"].fixed_type for group in groups)
    return set().union(*map(properties, asked)) - {"name"}


@pytest.fixture
def of_split(extension: ModuleType) -> set[str]:
    assert extension.__name__ == EXTENSION
    return properties(bpy.ops.borewright.split.get_rna_type())


def test_every_option_is_in_the_panel(of_panel: set[str]) -> None:
    asked = {IN_PANEL.get(name, name) for name in options(SPLIT) | options(PROFILE)}
    assert asked - of_panel == ONLY_OF_THE_COMMAND.keys()


def test_every_setting_of_the_panel_is_an_option(of_panel: set[str]) -> None:
    asked = {IN_PANEL.get(name, name) for name in options(SPLIT) | options(PROFILE)}
    assert of_panel - asked == ONLY_OF_THE_PANEL.keys()


def test_every_setting_of_the_panel_is_one_of_split(of_panel: set[str], of_split: set[str]) -> None:
    chosen = {name for name in ONLY_OF_THE_PANEL if name.startswith("choose_")}
    wanted = (of_panel - ONLY_OF_THE_PANEL.keys()) | chosen
    renamed = {IN_PANEL[option]: IN_SPLIT.get(option, IN_PANEL[option]) for option in IN_PANEL}
    assert {renamed.get(name, name) for name in wanted} - of_split == NOT_IN_SPLIT.keys()
    assert {"directory", "overwrite"} <= properties(bpy.ops.borewright.save.get_rna_type())


def test_every_setting_of_split_is_drawn(of_split: set[str]) -> None:
    """All sub-panels open."""
    given = bpy.context.window_manager.operator_properties_last("borewright.split")
    layout = RecordedLayout()

    class Dialog:
        def __init__(self) -> None:
            self.layout, self.properties = layout, given

        def __getattr__(self, name: str) -> Any:
            return getattr(given, name)

    own("addon.operators.split").BOREWRIGHT_OT_split.draw(Dialog(), bpy.context)
    assert set(layout.drawn.properties) == of_split


def test_every_setting_of_the_panel_is_drawn(of_panel: set[str]) -> None:
    """With nothing of them hidden: what is set is shown where its checkbox is on."""
    part = add_part(plain_tube().mesh, "Pipe")
    bpy.context.scene.borewright.show_section = True
    for group in (bpy.context.scene.borewright, part.borewright):
        for name in properties(group.bl_rna):
            if name.startswith("choose_"):
                setattr(group, name, True)
    part.borewright.bore = 19.0
    surveyed(part)
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    assert bpy.ops.borewright.build() == {"FINISHED"}
    bpy.context.view_layer.objects.active = part
    part.borewright.avoid.add()
    part.borewright.prefer.add()
    shown = drawn().properties
    lists = {name for name, line in LISTS.items() if line in shown}
    assert of_panel - set(shown) - lists == NOT_DRAWN.keys()
