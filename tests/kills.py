"""Killing runs: the real command, and a saver that does nothing else.

A run is struck either at any moment of its life, or once its temporary folder has
appeared, within the time that saving takes.
"""

from __future__ import annotations

import shutil
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tests.saved import bytes_of, clear_up, faults, first_job, start_job

SIGNALS = (signal.SIGKILL, signal.SIGTERM, signal.SIGINT)


@dataclass(frozen=True, slots=True)
class Struck:
    """A run that was struck, and what it left.

    left : names beside the output folder
    faults : promises that were broken, in words
    """

    moment: str
    signal: str
    after_s: float
    code: int
    state: str
    left: tuple[str, ...]
    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """A job to be struck, again and again, over the same earlier one.

    life_s, saving_s : how long it lives, and how long its temporary folder does
    """

    part: Path
    out: Path
    kept: Path
    before: dict[str, bytes | None]
    after: dict[str, bytes | None]
    life_s: float
    saving_s: float


def set_scene(part: Path, place: Path) -> Scene:
    """An earlier job, and one run that nobody disturbs, to know how long it takes."""
    out, kept = place / "parent" / "out", place / "kept"
    out.parent.mkdir(parents=True)
    before = first_job(part, out)
    shutil.copytree(out, kept)
    began = time.perf_counter()
    with start_job(part, out, "--quiet") as job:
        appeared = _wait_for_temporary(job, out)
        while _temporary(out):
            time.sleep(0.0005)
        gone = time.perf_counter()
        assert job.wait(timeout=120) == 0
    life = time.perf_counter() - began
    assert not faults(out)
    return Scene(part, out, kept, before, bytes_of(out), life, gone - appeared)


def strike(scene: Scene, moment: str, number: int, rng: np.random.Generator) -> Struck:
    """One run over the earlier job, struck; `moment` is "any" or "saving"."""
    shutil.rmtree(scene.out)
    shutil.copytree(scene.kept, scene.out)
    with start_job(scene.part, scene.out, "--quiet") as job:
        if moment == "saving":
            _wait_for_temporary(job, scene.out)
        after = float(rng.uniform(0.0, scene.saving_s if moment == "saving" else scene.life_s))
        time.sleep(after)
        job.send_signal(number)
        said = job.communicate(timeout=60)[1]
    return _judged(scene, moment, signal.Signals(number).name, after, job.returncode, said)


def _judged(
    scene: Scene, moment: str, name: str, after: float, code: int, said: str
) -> Struck:  # fmt: skip
    left = tuple(_temporary(scene.out))
    state = _state(scene)
    wrong = faults(scene.out)
    if state == "broken":
        wrong.append("neither as it was nor as the job makes it")
    if "0 files written" in said and (state != "as it was" or left):
        wrong.append(f"told that nothing was written, but it is {state}, with {left} left")
    if code == 0 and state != "new":
        wrong.append("done, but not there")
    clear_up(scene.out)
    if _state(scene) != state or _temporary(scene.out):
        wrong.append("not cleared up by the next run")
    return Struck(moment, name, after, code, state, left, tuple(wrong))


def _state(scene: Scene) -> str:
    there = bytes_of(scene.out)
    if there == scene.before:
        return "as it was"
    timeless = [{**tree, "timings.json": b""} for tree in (there, scene.after)]
    return "new" if timeless[0] == timeless[1] and "timings.json" in there else "broken"


def _temporary(out: Path) -> list[str]:
    return sorted(path.name for path in out.parent.iterdir() if path != out)


def _wait_for_temporary(job: subprocess.Popen[str], out: Path) -> float:
    """The moment at which something appears beside the output folder, or the job ends."""
    while job.poll() is None and not _temporary(out):
        time.sleep(0.0002)
    return time.perf_counter()


SAVER = """
import json, sys
from pathlib import Path
from borewright.addon.saving import folder_swap
from borewright.addon.saving.output_folder import check_output, new_output
from borewright.addon.saving.own_files import file_sha256

out = Path(sys.argv[1])
if sys.argv[2] == "two steps":
    folder_swap.exchange = lambda *_: False
run = 0
while True:
    run += 1
    with new_output(check_output(out, overwrite=True)) as folder:
        pieces = []
        for number in range(20):
            path = folder / f"{run}-{number}.stl"
            path.write_text(f"{run} {number}" * 500)
            pieces.append({"file": path.name, "sha256": file_sha256(path)})
        record = {"schema": "borewright.job/1", "parts": [{"pieces": pieces}], "beds": []}
        (folder / "job.json").write_text(json.dumps(record))
        (folder / "timings.json").write_text("{}")
    print("saved", run, flush=True)
"""
"""Saves one job over the other until it is killed; each with files of its own names."""


def strike_saver(out: Path, steps: str, number: int, rng: np.random.Generator) -> Struck:
    """Kill a process that does nothing but save, into a folder that has somebody's file."""
    with subprocess.Popen(
        [sys.executable, "-c", SAVER, str(out), steps],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    ) as saver:  # fmt: skip
        assert saver.stdout is not None
        saver.stdout.readline()
        began = time.perf_counter()
        saver.stdout.readline()
        after = float(rng.uniform(0.0, time.perf_counter() - began))  # anywhere in the third save
        time.sleep(after)
        saver.send_signal(number)
        saver.communicate(timeout=60)
    left = tuple(_temporary(out))
    whole = out.is_dir()
    wrong = faults(out) if whole or steps == "one step" else []
    clear_up(out)
    wrong += faults(out)
    if _temporary(out):
        wrong.append("not cleared up by the next run")
    state = "whole" if whole else "away"
    name = signal.Signals(number).name
    return Struck(f"saver, {steps}", name, after, saver.returncode, state, left, tuple(wrong))
