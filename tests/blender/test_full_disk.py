"""A disk without room: told as such, and all is as it was, whichever file it is that finds none."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from borewright.addon.command_line.command import main

from tests.blender.conftest import JOB
from tests.saved import bytes_of, faults

if os.name != "posix":
    pytest.skip("fills a disk the POSIX way", allow_module_level=True)

from tests.full_disk import LIMITED, pages_of, small_disk

MORE = ["--trial", "--quiet", "--overwrite"]


@pytest.fixture(scope="module")
def written(tube_stl: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    """The files of a job, in the order in which they are written."""
    out = tmp_path_factory.mktemp("roomy") / "out"
    assert main(["split", str(tube_stl), *JOB, *MORE, "--out", str(out)]) == 0
    return sorted(out.iterdir(), key=lambda path: path.stat().st_mtime_ns)


def test_a_job_writes_each_kind_of_file(written: list[Path]) -> None:
    names = [path.name for path in written]
    assert {"pipe-01.stl", "pipe-02.stl", "fit-trial.stl"} <= set(names)
    assert names[-2:] == ["job.json", "timings.json"]


def test_a_disk_that_is_full_at_any_of_the_files_is_told_and_left_as_it_was(
    written: list[Path], tube_stl: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    for number, path in enumerate(written):
        disk = tmp_path / f"{number}-{path.name}"
        disk.mkdir()
        room = sum(map(pages_of, written[: number + 1])) - 1  # one page short at this file
        with small_disk(disk, room + number % 2) as mounted:
            if not mounted:
                pytest.skip("no disk may be mounted here")
            out = disk / "out"
            if number % 2:  # somebody's file of a page, in every other folder
                out.mkdir()
                (out / "note.txt").write_text("mine")
            there = bytes_of(disk)
            assert main(["split", str(tube_stl), *JOB, *MORE, "--out", str(out)]) == 1, path.name
            assert bytes_of(disk) == there
        told = capfd.readouterr().err
        assert re.fullmatch(
            r"borewright: found: .*out cannot be written: No space left on device \(error 28\); "
            r"\d+\.\d{3} MB free, by what the disk says; needed: more than \d+\.\d{3} MB; "
            r"try: make room there, or another --out, on another disk\n",
            told,
        ), (path.name, told)


def test_a_disk_with_just_enough_room_takes_the_job(
    written: list[Path], tube_stl: Path, tmp_path: Path
) -> None:
    with small_disk(tmp_path, sum(map(pages_of, written)) + 1) as mounted:
        if not mounted:
            pytest.skip("no disk may be mounted here")
        out = tmp_path / "out"
        assert main(["split", str(tube_stl), *JOB, *MORE, "--out", str(out)]) == 0
        (out / "note.txt").write_text("mine")
        assert not faults(out)


@pytest.mark.parametrize("short", ["half", "one byte"])
def test_a_limit_on_the_length_of_files_is_told_and_leaves_all_as_it_was(
    short: str, tube_stl: Path, job: Path, tmp_path: Path
) -> None:
    longest = max(path.stat().st_size for path in job.iterdir())
    length = {"half": longest // 2, "one byte": longest - 1}[short]
    out = tmp_path / "out"
    shutil.copytree(job, out)
    there = bytes_of(tmp_path)
    argv = ["split", str(tube_stl), *JOB, "--quiet", "--overwrite", "--out", str(out)]
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(length), *argv],
        capture_output=True, text=True, timeout=120, check=False,
        env=os.environ,  # without what Blender has put there since
    )  # fmt: skip
    assert (done.returncode, done.stdout, bytes_of(tmp_path)) == (1, "", there)
    assert re.fullmatch(
        r"borewright: found: .*out cannot be written: File too large \(error 27\); "
        r"needed: files of more than \d+\.\d{3} MB; "
        r"try: a higher limit on the length of files, or another --out, on another disk\n",
        done.stderr,
    ), done.stderr
