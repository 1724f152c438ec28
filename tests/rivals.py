"""Two runs into one folder at once: the real command, and two that do nothing but save."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.saved import faults, start_job

SAVING = "1 other run that saves into"
SAVED = "1 other run that saved into"

SECOND = 0.12
"""Clearance that the second command asks for, mm."""


def commands(part: Path, out: Path, late_s: float) -> list[str]:
    """Two commands, both stopped when they have looked at the folder, the second let go later.

    Broken promises, in words.
    """
    jobs = [_held_job(part, out), _held_job(part, out, "--clearance", str(SECOND))]
    jobs[0].send_signal(signal.SIGCONT)
    time.sleep(late_s)
    jobs[1].send_signal(signal.SIGCONT)
    said = [_last_words(job) for job in jobs]
    codes = [job.returncode for job in jobs]
    wrong = _judged(out, codes, said)
    settings = json.loads((out / "job.json").read_text())["settings"]
    if not wrong and (settings["clearance"] == SECOND) != (codes[1] == 0):
        wrong.append("it is the loser's job that is there")
    return wrong


def _held_job(part: Path, out: Path, *more: str) -> subprocess.Popen[str]:
    """The command, stopped once it has told its first stage: it has looked at the folder before.

    Started when the one before it is held, or it could be done before anybody looks.
    """
    job = start_job(part, out, *more)
    assert job.stderr is not None
    job.stderr.readline()
    job.send_signal(signal.SIGSTOP)
    return job


def _last_words(job: subprocess.Popen[str]) -> str:
    """The last line of a job that ends; `communicate` would miss what came with the first."""
    assert job.stderr is not None
    with job.stderr:
        last = job.stderr.read().splitlines()[-1]
    job.wait(timeout=120)
    return last


SAVER = """
import json, sys
from pathlib import Path
from borewright.addon.saving.output_folder import check_output, new_output
from borewright.addon.saving.output_refusal import OutputRefused
from borewright.addon.saving.own_files import file_sha256

out, name = Path(sys.argv[1]), sys.argv[2]
for go in sys.stdin:
    if go == "look\\n":
        place = check_output(out, overwrite=True)
        print("looked", flush=True)
        continue
    try:
        with new_output(place) as folder:
            pieces = []
            for number in range(10):
                path = folder / f"{name}-{number}.stl"
                path.write_text(name * 500)
                pieces.append({"file": path.name, "sha256": file_sha256(path)})
            record = {"schema": "borewright.job/1", "parts": [{"pieces": pieces}], "beds": []}
            (folder / "job.json").write_text(json.dumps(record))
            (folder / "timings.json").write_text("{}")
        print("saved", flush=True)
    except OutputRefused as problem:
        print(problem, flush=True)
"""


NAMES = ("left", "right")


def savers(out: Path, rounds: int) -> list[str]:
    """Two savers, round after round: both look, then both save. Broken promises, in words."""
    wrong = []
    pair = [_start_saver(out, name) for name in NAMES]
    for _ in range(rounds):
        _all_say(pair, "look")
        told = _all_say(pair, "save")
        wrong += _judged(out, [0 if line == "saved" else 1 for line in told], told)
        there = "left" if (out / "left-9.stl").exists() else "right"
        if told[NAMES.index(there)] != "saved":
            wrong.append("it is the loser's job that is there")
    for saver in pair:
        saver.communicate(timeout=60)
    return wrong


def _start_saver(out: Path, name: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", SAVER, str(out), name],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip


def _all_say(pair: list[subprocess.Popen[str]], word: str) -> list[str]:
    for saver in pair:
        assert saver.stdin is not None
        saver.stdin.write(f"{word}\n")
        saver.stdin.flush()
    return [saver.stdout.readline().rstrip("\n") for saver in pair if saver.stdout is not None]


def _judged(out: Path, codes: list[int], said: list[str]) -> list[str]:
    wrong = faults(out)
    if sorted(codes) != [0, 1]:
        wrong.append(f"codes {codes}, where one wins and one is refused: {said}")
    wrong += [
        f"the loser said {line!r}"
        for code, line in zip(codes, said, strict=True)
        if code == 1 and SAVING not in line and SAVED not in line
    ]
    beside = sorted(path.name for path in out.parent.iterdir() if path != out)
    return wrong + [f"left beside it: {name}" for name in beside]
