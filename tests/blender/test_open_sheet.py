"""The plan sheet opened from Blender: which file, and what is said of it."""

from __future__ import annotations

from pathlib import Path
from types import ModuleType

import bpy
import pytest

from tests.blender.built_pieces import build, import_part, own, pieces_of, save
from tests.blender.conftest import EXTENSION


@pytest.fixture
def pipe(extension: ModuleType, tube_stl: Path) -> bpy.types.Object:
    assert extension.__name__ == EXTENSION
    part = import_part(tube_stl, "pipe")
    build()
    return part


def opened(capfd: pytest.CaptureFixture[str]) -> str:
    """What is said of it; in the background no browser is asked."""
    capfd.readouterr()
    assert bpy.ops.borewright.open_sheet() == {"FINISHED"}
    said = capfd.readouterr().out
    assert "No browser was opened; the plan sheet is " in said
    return said


def page_of(part: bpy.types.Object) -> str:
    made = own("addon.pieces.piece_data").made_of(part)
    page = own("addon.pieces.kept_sheets").sheet_of(
        own("addon.pieces.piece_data").pieces_data(made).record
    )
    assert isinstance(page, str)
    return page


def test_of_pieces_not_saved_it_is_a_whole_file_that_is_told_to_be_temporary(
    pipe: bpy.types.Object, capfd: pytest.CaptureFixture[str]
) -> None:
    path = Path(bpy.app.tempdir) / "pipe-sheet.html"
    assert f"{path} until Blender ends; Save Pieces keeps it" in opened(capfd)
    assert path.read_text(encoding="utf-8") == page_of(pipe)
    assert not path.with_name(".pipe-sheet.html").exists()


def test_of_saved_pieces_it_is_the_file_that_was_saved(
    pipe: bpy.types.Object, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    save(pipe, tmp_path / "out")
    bpy.context.view_layer.objects.active = pieces_of(pipe)[0]
    said = opened(capfd)
    assert str(tmp_path / "out" / "sheet.html") in said
    assert "until Blender ends" not in said


@pytest.mark.parametrize("what", ["altered", "gone"])
def test_a_saved_file_that_is_not_the_sheet_any_more_is_not_opened(
    pipe: bpy.types.Object, tmp_path: Path, capfd: pytest.CaptureFixture[str], what: str
) -> None:
    save(pipe, tmp_path / "out")
    sheet = tmp_path / "out" / "sheet.html"
    if what == "gone":
        sheet.unlink()
    else:
        sheet.write_text("<p>somebody else's</p>", encoding="utf-8")
    assert "until Blender ends" in opened(capfd)


def test_an_object_may_be_called_what_no_file_may(
    pipe: bpy.types.Object, capfd: pytest.CaptureFixture[str]
) -> None:
    pipe.name = "../a:b"
    opened(capfd)
    assert (Path(bpy.app.tempdir) / "_._a_b-sheet.html").exists()


def test_pieces_of_another_session_have_to_be_built_again(pipe: bpy.types.Object) -> None:
    made = own("addon.pieces.piece_data").made_of(pipe)
    own("addon.pieces.piece_data").pieces_data(
        made
    ).record += " "  # as no job of this session wrote it
    with pytest.raises(RuntimeError, match="built in another session: build them again"):
        bpy.ops.borewright.open_sheet()


@pytest.mark.usefixtures("pipe")
def test_a_folder_that_cannot_be_written_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    operator = own("addon.operators.open_sheet")
    monkeypatch.setattr(
        operator, "sheet_file", _refusing(own("addon.pieces.kept_sheets"), tmp_path)
    )
    with pytest.raises(RuntimeError, match=r"The sheet cannot be written: .*No such file"):
        bpy.ops.borewright.open_sheet()


def _refusing(sheets: ModuleType, folder: Path) -> object:
    return lambda record, name, _folder: sheets.sheet_file(record, name, folder / "none")
