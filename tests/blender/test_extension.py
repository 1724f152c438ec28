"""The archive, what enabling it makes known, and what disabling it leaves."""

from __future__ import annotations

import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path
from types import ModuleType

import addon_utils
import bpy
import pytest

from tests.blender.conftest import EXTENSION, ROOT

OPERATORS = {
    "add_avoid",
    "add_cut",
    "add_prefer",
    "build",
    "choose_printer",
    "insist_cut",
    "move_cut",
    "open_sheet",
    "plan",
    "remove_avoid",
    "remove_cut",
    "remove_prefer",
    "remove_printer",
    "save",
    "save_printer",
    "show_part",
    "show_place",
    "split",
    "survey",
    "trial",
}


def test_archive_holds_the_extension_and_nothing_of_the_workshop(archive: Path) -> None:
    with zipfile.ZipFile(archive) as opened:
        names = opened.namelist()
    top = {name.split("/")[0] for name in names}
    assert top - {"README.md"} == {
        "LICENSE", "CHANGELOG.md", "blender_manifest.toml", "__init__.py", "__main__.py",
        "addon", "core",
    }  # fmt: skip
    sources = {str(path.relative_to(ROOT)) for folder in ("addon", "core")
               for path in (ROOT / folder).rglob("*.py")}  # fmt: skip
    assert {name for name in names if "/" in name} == sources


def test_archive_and_package_are_one_version() -> None:
    manifest = tomllib.loads((ROOT / "blender_manifest.toml").read_text())
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert manifest["version"] == project["version"]
    assert f"## {manifest['version']}" in (ROOT / "CHANGELOG.md").read_text()


def test_enabling_makes_known_operator_menu_entry_and_command(
    extension: ModuleType, capfd: pytest.CaptureFixture[str]
) -> None:
    assert extension.__name__ == EXTENSION
    assert set(dir(bpy.ops.borewright)) == OPERATORS
    assert sum(name.startswith(EXTENSION) for name in _menu_entries()) == 1
    assert _command_is_known(capfd)


def test_disabling_leaves_nothing_known(installed: str, capfd: pytest.CaptureFixture[str]) -> None:
    before = set(dir(bpy.types)), _menu_entries(), dir(bpy.ops.borewright)
    addon_utils.enable(installed, default_set=True)
    assert (set(dir(bpy.types)), _menu_entries(), dir(bpy.ops.borewright)) != before
    addon_utils.disable(installed, default_set=True)
    assert (set(dir(bpy.types)), _menu_entries(), dir(bpy.ops.borewright)) == before
    assert not _command_is_known(capfd)


def _menu_entries() -> list[str]:
    draws = bpy.types.VIEW3D_MT_object._dyn_ui_initialize()  # noqa: SLF001 - told nowhere else
    return [draw.__module__ for draw in draws]


def _command_is_known(capfd: pytest.CaptureFixture[str]) -> bool:
    """Blender warns of a second command of the same name; it lists commands nowhere."""
    capfd.readouterr()
    second = bpy.utils.register_cli_command("borewright", lambda _arguments: 0)
    bpy.utils.unregister_cli_command(second)
    return 'duplicate command "borewright"' in capfd.readouterr().err


def test_twenty_rounds_of_enabling_end_with_exit_code_0(installed: str) -> None:
    """Blender 4.5 hangs or crashes at exit over a command or handler left behind."""
    script = (
        "import addon_utils\n"
        "for _ in range(20):\n"
        f"    assert addon_utils.enable({installed!r}, default_set=True)\n"
        f"    addon_utils.disable({installed!r}, default_set=True)\n"
        f"assert addon_utils.enable({installed!r}, default_set=True)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", "import bpy\n" + script],
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert (done.returncode, done.stderr.decode()) == (0, "")
