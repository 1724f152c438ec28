"""Printers in the panel: chosen, kept and removed; one store with the command line."""

from __future__ import annotations

import json
from pathlib import Path
from types import ModuleType

import bpy
import pytest
from borewright.addon.command_line.command import main

from tests.blender.conftest import EXTENSION
from tests.blender.test_panels import made, own
from tests.parts import plain_tube

MINI = ["profile", "mini", "--envelope", "150x160x170", "--nozzle", "0.6", "--layer", "0.3",
        "--spread", "0.01", "--hole-undersize", "0.1", "--first-layer-bulge", "0.2",
        "--shrink", "0.5", "--material", "petg", "--filament", "2.85", "--lines", "2",
        "--solid-layers", "5", "--infill", "20", "--flow", "7.5",
        "--clearance", "0.22"]  # fmt: skip


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for profiles that is not there yet."""
    folder = tmp_path / "printers"
    monkeypatch.setenv("BOREWRIGHT_PROFILES", str(folder))
    return folder


@pytest.fixture
def job(extension: ModuleType, store: Path) -> bpy.types.PropertyGroup:
    """The scene's settings; the printer mini is kept."""
    assert extension.__name__ == EXTENSION
    assert main(MINI) == 0
    assert (store / "mini.json").exists()
    return bpy.context.scene.borewright


def kept(store: Path, name: str) -> dict[str, object]:
    document: dict[str, object] = json.loads((store / f"{name}.json").read_text())
    return document


def test_a_chosen_printer_is_taken_over(job: bpy.types.PropertyGroup) -> None:
    assert bpy.ops.borewright.choose_printer(name="mini") == {"FINISHED"}
    assert job.profile == "mini"
    assert list(job.envelope) == [150.0, 160.0, 170.0]
    assert (job.nozzle, job.layer, job.lines, job.solid_layers) == pytest.approx((0.6, 0.3, 2, 5))
    assert (job.material, job.infill, job.flow) == ("PETG", 20.0, 7.5)


def test_a_printer_kept_from_the_panel_is_the_same_to_the_last_digit(
    job: bpy.types.PropertyGroup, store: Path
) -> None:
    """Blender's numbers have 32 bits: 0.6 comes back as 0.6, 0.01 is within its range."""
    bpy.ops.borewright.choose_printer(name="mini")
    assert bpy.ops.borewright.save_printer(name="second") == {"FINISHED"}
    assert job.profile == "second"
    assert kept(store, "second") == kept(store, "mini") | {"name": "second"}


def test_saving_to_its_own_name_replaces_it(job: bpy.types.PropertyGroup, store: Path) -> None:
    bpy.ops.borewright.choose_printer(name="mini")
    job.nozzle = 0.8
    assert bpy.ops.borewright.save_printer(name="mini") == {"FINISHED"}
    assert kept(store, "mini")["nozzle"] == 0.8


def test_another_printer_is_replaced_only_when_told_to(
    job: bpy.types.PropertyGroup, store: Path
) -> None:
    before = kept(store, "mini")
    with pytest.raises(RuntimeError, match="1 other printer of the name Mini"):
        bpy.ops.borewright.save_printer(name="Mini")
    assert kept(store, "mini") == before
    assert job.profile == ""
    assert bpy.ops.borewright.save_printer(name="Mini", replace=True) == {"FINISHED"}
    assert kept(store, "mini")["nozzle"] == 0.4


@pytest.mark.usefixtures("job")
def test_a_name_that_is_none_for_a_file_is_refused(store: Path) -> None:
    with pytest.raises(RuntimeError, match=r"found: .*needed: .*try: "):
        bpy.ops.borewright.save_printer(name="a/b")
    assert [path.name for path in store.iterdir()] == ["mini.json"]


def test_a_printer_is_removed_and_the_scenes_values_stay(
    job: bpy.types.PropertyGroup, store: Path
) -> None:
    bpy.ops.borewright.choose_printer(name="mini")
    assert bpy.ops.borewright.remove_printer() == {"FINISHED"}
    assert not (store / "mini.json").exists()
    assert job.profile == ""
    assert job.nozzle == pytest.approx(0.6)


@pytest.mark.usefixtures("job")
def test_removing_is_greyed_until_a_printer_is_chosen() -> None:
    with pytest.raises(RuntimeError, match="Choose a kept printer"):
        bpy.ops.borewright.remove_printer()


@pytest.mark.usefixtures("job")
def test_a_printer_that_is_not_kept_is_refused_with_the_names_that_are() -> None:
    with pytest.raises(RuntimeError, match="one of mini"):
        bpy.ops.borewright.choose_printer(name="maxi")


@pytest.mark.usefixtures("job")
def test_the_menu_shows_what_the_folder_holds_now(store: Path) -> None:
    names = lambda: [one.name for one in own("profiles.kept_printers").kept_now().profiles]  # noqa: E731
    assert names() == ["mini"]
    assert main(["profile", "alpha", "--nozzle", "0.4"]) == 0
    assert names() == ["alpha", "mini"]
    (store / "mini.json").unlink()
    assert names() == ["alpha"]


@pytest.mark.usefixtures("job")
def test_files_are_read_only_when_one_has_changed(monkeypatch: pytest.MonkeyPatch) -> None:
    kept_printers = own("profiles.kept_printers")
    kept_printers.kept_now()
    monkeypatch.setattr(
        own("profiles.profile_store"), "kept_profiles", lambda: pytest.fail("read again")
    )
    assert len(kept_printers.kept_now().profiles) == 1


def test_the_default_printer_is_taken_by_a_scene_without_any_of_its_own(
    job: bpy.types.PropertyGroup,
) -> None:
    preferences = own("properties.preferences")
    preferences.preferences().printer = "mini"
    preferences.take_default_printer(job)
    assert job.profile == "mini"


def test_the_default_printer_leaves_alone_what_was_set(job: bpy.types.PropertyGroup) -> None:
    preferences = own("properties.preferences")
    preferences.preferences().printer = "mini"
    job.nozzle = 0.4
    preferences.take_default_printer(job)
    assert job.profile == ""


def test_choosing_a_printer_is_one_undo_step(job: bpy.types.PropertyGroup) -> None:
    assert job.profile == ""
    bpy.ops.ed.undo_push(message="Before")
    bpy.ops.borewright.choose_printer("EXEC_DEFAULT", True, name="mini")
    bpy.ops.ed.undo()
    assert bpy.context.scene.borewright.profile == ""


def test_the_first_survey_of_a_scene_takes_the_default_printer(
    job: bpy.types.PropertyGroup,
) -> None:
    own("properties.preferences").preferences().printer = "mini"
    made("Pipe", plain_tube().mesh)
    assert bpy.ops.borewright.survey() == {"FINISHED"}
    assert job.profile == "mini"


def test_a_default_printer_that_is_gone_is_told_with_what_to_do(
    job: bpy.types.PropertyGroup,
) -> None:
    own("properties.preferences").preferences().printer = "gone"
    made("Pipe", plain_tube().mesh)
    with pytest.raises(RuntimeError, match="another Default Printer in the preferences"):
        bpy.ops.borewright.survey()
    assert job.profile == ""


@pytest.mark.usefixtures("job")
def test_pieces_go_to_the_default_folder_where_the_scene_names_none(tmp_path: Path) -> None:
    own("properties.preferences").preferences().folder = str(tmp_path)
    made("Pipe", plain_tube().mesh)
    bpy.ops.borewright.survey()
    bpy.ops.borewright.build()
    assert bpy.ops.borewright.save() == {"FINISHED"}
    assert (tmp_path / "Pipe" / "job.json").exists()
