"""What a job left in its folder, judged by its record alone, and runs that save there."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from borewright.addon.saving.output_folder import check_output, new_output

NOTE = "note.txt"
"""Somebody's file in the output folder."""

FOUND = "found: "


class _Enough(Exception):
    pass


def bytes_of(folder: Path) -> dict[str, bytes | None]:
    """Every path under a folder, with its bytes."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
    }


def faults(folder: Path) -> list[str]:
    """What the record lists and is not there so, and what is there and nobody's."""
    try:
        record = json.loads((folder / "job.json").read_text())
    except (OSError, ValueError) as problem:
        return [f"record: {problem}"]
    hashes = {entry["file"]: entry["sha256"] for entry in _listed(record)}
    wrong = [name for name in hashes if _sha256(folder / name) != hashes[name]]
    there = {path.name for path in folder.iterdir()}
    return wrong + sorted(there ^ {*hashes, "job.json", "timings.json", NOTE})


def _listed(record: dict[str, list[dict[str, object]]]) -> Iterator[dict[str, str]]:
    pieces = [piece for part in record["parts"] for piece in part["pieces"]]  # type: ignore[attr-defined]
    trial = [record[key] for key in ("trial", "sheet") if record.get(key)]
    yield from [*pieces, *record["beds"], *trial]


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "missing"


def clear_up(out: Path) -> None:
    """A following run into the folder, which fails as soon as it would write."""
    with pytest.raises(_Enough), new_output(check_output(out, overwrite=True)):
        raise _Enough


def start_job(part: Path, out: Path, *more: str) -> subprocess.Popen[str]:
    """The real command in a process of its own, over what an earlier job left."""
    argv = ["split", str(part), "--envelope", "180x180x180", "--out", str(out), "--overwrite"]
    return subprocess.Popen(
        [sys.executable, "-m", "borewright", *argv, *more],
        stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, env=os.environ,
    )  # fmt: skip


def first_job(part: Path, out: Path) -> dict[str, bytes | None]:
    """An earlier job with other options, and somebody's file beside it; their bytes."""
    with start_job(part, out, "--clearance", "0.2", "--quiet") as job:
        assert job.wait(timeout=120) == 0
    (out / NOTE).write_text("mine")
    return bytes_of(out)
