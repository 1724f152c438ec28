"""Sheets of parts whose files, and of jobs whose printers, are called whatever a disk takes.

The real command, with real files: the page stays valid, holds no script and fetches nothing, and
says the name as far as it can be shown.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import html5lib
import pytest
from borewright.addon.command_line.command import main
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.core.test_sheet_page import assert_harmless
from tests.core.test_sheet_texts import BIDI
from tests.parts import tube
from tests.read_page import Element, read_page

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="other disks take other names")

NAMES = [
    "<script>alert(1)<", '"><img src=x onerror=alert(1)>', "' onload='alert(1)", "<!--", "]]>",
    "&lt;b&gt; & &#x3c;", "{0}${7*7}%s", "%3Cscript%3E", "a`b\\c", "new\nline\ttab\rreturn",
    "\x1b[31mred\x07", "\x85\x9b", "\ufdd0\ufffe\U0010ffff", "\u202egnp.exe",
    "a\u2066b\u2069c\u200f",
    "\u2028\u2029", "🎺👩‍🔧", "e" + "\u0301" * 40, "漢字かな", "العربية", " lead and trail ", "..",
    "x" * 240, "é" * 120, "-rf", "job", "bed-01", "sheet.html",
]  # fmt: skip

Split = Callable[[str], Path]


@cache
def _part() -> bytes:
    made: bytes = tube(length=200.0, bore=14.0, outside=26.0).mesh.export(file_type="stl")
    return made


@pytest.fixture
def split(tmp_path: Path) -> Split:
    """The folder of a job on a part in a file of that name."""

    def run(name: str) -> Path:
        part, out = tmp_path / f"{name}.stl", tmp_path / "made"
        part.write_bytes(_part())
        argv = ["split", "--envelope", "180x180x150", "--out", str(out), "--overwrite", "--quiet"]
        assert main([*argv, "--", str(part)]) == 0
        part.unlink()
        return out

    return run


def _page(folder: Path) -> Element:
    page = (folder / "sheet.html").read_text(encoding="utf-8")
    html5lib.HTMLParser(strict=True).parse(page)
    assert not set(BIDI) & set(page)
    read = read_page(page)
    assert_harmless(read)
    return read


def _assert_told(name: str, page: Element) -> None:
    """The heading has the name, character by character; what cannot be shown has a mark."""
    told = next(page.all("h1")).text.removesuffix(": plan sheet")
    for asked, shown in zip(name.replace("\r", "\n"), told, strict=True):
        assert shown in {asked, "\N{REPLACEMENT CHARACTER}"}
        assert shown == asked or not asked.isprintable()


@pytest.mark.parametrize("name", NAMES)
def test_a_file_of_any_name_has_a_sheet_that_says_it(split: Split, name: str) -> None:
    _assert_told(name, _page(split(name)))


@settings(max_examples=20, deadline=None)
@given(
    name=st.text(st.characters(codec="utf-8", exclude_characters="/\0"), min_size=1, max_size=50)
)
def test_a_file_of_a_random_name_has_a_sheet_that_says_it(
    tmp_path_factory: pytest.TempPathFactory, name: str
) -> None:
    folder = tmp_path_factory.mktemp("named")
    part = folder / f"{name}.stl"
    assume(part.stem == name and part.parent == folder)
    part.write_bytes(_part())
    out = folder / "made"
    argv = ["split", "--envelope", "180x180x150", "--out", str(out), "--quiet", "--", str(part)]
    assert main(argv) == 0
    _assert_told(name, _page(out))


@pytest.mark.parametrize("name", [b"\xff\xfe.stl", b"\xed\xa0\x80.stl", b"a\xc3.stl"])
def test_a_name_that_is_no_text_is_refused_and_nothing_written(
    tmp_path: Path, name: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half of a surrogate pair, or bytes of another code: no page and no record could say it."""
    part = tmp_path / os.fsdecode(name)
    part.write_bytes(_part())
    argv = ["split", "--envelope", "180x180x150", "--out", str(tmp_path / "made")]
    assert main([*argv, "--", str(part)]) == 2
    assert "UTF-8" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [part]


def test_a_name_that_leaves_no_room_for_a_pieces_number_is_refused_and_nothing_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    part = tmp_path / f"{'x' * 251}.stl"
    part.write_bytes(_part())
    argv = ["split", "--envelope", "180x180x150", "--out", str(tmp_path / "made"), "--quiet"]
    assert main([*argv, "--", str(part)]) == 1
    assert "try: a shorter name for the part" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [part]
