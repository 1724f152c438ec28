"""Two runs into one folder at once: one wins whole, the other says so and changes nothing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.rivals import commands, savers
from tests.saved import NOTE, first_job

pytestmark = pytest.mark.skipif(os.name != "posix", reason="holds processes the POSIX way")


@pytest.fixture(scope="module")
def out(tube_stl: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What an earlier job left."""
    folder = tmp_path_factory.mktemp("parent") / "out"
    first_job(tube_stl, folder)
    return folder


@pytest.mark.parametrize("late_s", [0.0, 0.4])
def test_of_two_commands_at_once_one_wins_whole_and_the_other_says_so(
    tube_stl: Path, out: Path, late_s: float
) -> None:
    assert commands(tube_stl, out, late_s) == []


def test_of_two_savers_at_once_one_wins_whole_every_time(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / NOTE).write_text("mine")
    assert savers(out, rounds=20) == []
