"""A run that is killed leaves its folder whole, or as it was."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.blender.conftest import JOB
from tests.kills import SIGNALS, Scene, set_scene, strike, strike_saver
from tests.saved import NOTE, faults

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills a process the POSIX way")


@pytest.fixture(scope="module")
def scene(tube_stl: Path, tmp_path_factory: pytest.TempPathFactory) -> Scene:
    return set_scene(tube_stl, tmp_path_factory.mktemp("scene"))


@pytest.mark.parametrize(("seed", "moment", "number"), [
    (1, "any", signal.SIGKILL), (2, "any", signal.SIGTERM), (3, "saving", signal.SIGKILL),
    (4, "saving", signal.SIGTERM), (5, "saving", signal.SIGINT),
])  # fmt: skip
def test_a_killed_job_leaves_the_folder_whole_or_as_it_was(
    scene: Scene, seed: int, moment: str, number: int
) -> None:
    struck = strike(scene, moment, number, np.random.default_rng(seed))
    assert not struck.faults, struck


@pytest.mark.parametrize("steps", ["one step", "two steps"])
@pytest.mark.parametrize("seed", range(3))
def test_a_saver_killed_at_a_random_moment_leaves_whole_jobs(
    tmp_path: Path, steps: str, seed: int
) -> None:
    if steps == "one step" and sys.platform != "linux":
        pytest.skip("only Linux swaps folders in one step")
    out = tmp_path / "out"
    out.mkdir()
    (out / NOTE).write_text("mine")
    struck = strike_saver(out, steps, SIGNALS[seed], np.random.default_rng(seed))
    assert not struck.faults, struck


STOPPED_LATE = """
import os, sys
from borewright.addon.saving import output_folder
from borewright.addon.command_line.command import main

swap = output_folder.swap

def stop_and_swap(made, folder):
    os.kill(os.getpid(), int(sys.argv[1]))
    before = swap(made, folder)
    os.kill(os.getpid(), int(sys.argv[1]))
    return before

output_folder.swap = stop_and_swap
sys.exit(main(sys.argv[2:]))
"""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_request_to_stop_in_the_moment_of_the_swap_comes_too_late(
    tube_stl: Path, job: Path, tmp_path: Path, number: int
) -> None:
    shutil.copytree(job, tmp_path / "out")
    out = str(tmp_path / "out")
    argv = [*JOB, "--overwrite", "--clearance", "0.2", "--quiet", "--out", out]
    done = subprocess.run(
        [sys.executable, "-c", STOPPED_LATE, str(int(number)), "split", str(tube_stl), *argv],
        capture_output=True, text=True, timeout=120, check=False,
        env=os.environ,  # without what Blender has put there since
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    record = json.loads((tmp_path / "out" / "job.json").read_text())
    assert record["settings"]["clearance"] == 0.2
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


STOP_LOST = """
import os, sys
from borewright.addon.jobs import headless
from borewright.addon.command_line.command import main

class Lost:
    def __del__(self):  # Python tells of an error in here, and goes on
        os.kill(os.getpid(), int(sys.argv[1]))

look = headless.check_output

def look_and_lose(*asked, **more):
    Lost()
    return look(*asked, **more)

headless.check_output = look_and_lose
sys.exit(main(sys.argv[2:]))
"""


@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 143), (signal.SIGINT, 130)])
def test_a_request_to_stop_that_python_lost_is_heard_before_the_swap(
    tube_stl: Path, tmp_path: Path, number: int, code: int
) -> None:
    argv = ["split", str(tube_stl), *JOB, "--quiet", "--out", str(tmp_path / "out")]
    done = subprocess.run(
        [sys.executable, "-c", STOP_LOST, str(int(number)), *argv],
        capture_output=True, text=True, timeout=120, check=False,
        env=os.environ,  # without what Blender has put there since
    )  # fmt: skip
    assert done.returncode == code
    assert done.stderr.endswith("0 files written\n")
    assert list(tmp_path.iterdir()) == []


def test_what_is_broken_is_noticed(job: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    shutil.copytree(job, out)
    (out / NOTE).write_text("mine")
    assert faults(out) == []
    (out / "pipe-02.stl").write_bytes((out / "pipe-02.stl").read_bytes()[:-1])
    (out / "pipe-01.stl").unlink()
    (out / "extra.stl").touch()
    assert faults(out) == ["pipe-01.stl", "pipe-02.stl", "extra.stl", "pipe-01.stl"]
