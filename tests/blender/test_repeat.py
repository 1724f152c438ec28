"""A job repeated by its record, on the same mesh and on a changed one; options that name a part."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from borewright.addon.command_line.command import main

from tests.blender.conftest import ENVELOPE, JOB, refused, tree
from tests.parts import Hole, plain_tube

ASKED = [
    "--cut",
    "pipe:140",
    "--avoid",
    "200-210",
    "--clearance",
    "0.12",
    "--spacing",
    "7",
    "--infill",
    "30",
]


def save(folder: Path, name: str, station: float) -> str:
    """The tube with two side holes, one of them at a station."""
    path = folder / name
    plain_tube(holes=(Hole(station, 0.0, 7.0), Hole(240.0, 90.0, 6.0))).save(path)
    return str(path)


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job that was done on pipe.stl, beside its output folder."""
    folder = tmp_path_factory.mktemp("first")
    part, out = save(folder, "pipe.stl", 60.0), str(folder / "out")
    assert main(["split", part, *JOB, *ASKED, "--out", out, "--quiet"]) == 0
    return folder


def record_of(command: list[str], capfd: pytest.CaptureFixture[str]) -> dict[str, Any]:
    capfd.readouterr()
    assert main([*command, "--json", "--quiet"]) == 0
    record: dict[str, Any] = json.loads(capfd.readouterr().out)
    return record


def test_the_same_mesh_gives_the_same_pieces_and_says_so(first: Path, tmp_path: Path) -> None:
    old, out = first / "out" / "job.json", tmp_path / "out"
    argv = ["split", str(first / "pipe.stl"), "--from", str(old), "--out", str(out), "--quiet"]
    assert main(argv) == 0
    record = json.loads((out / "job.json").read_text())
    (told,) = record["changes"]
    assert told.startswith("Nothing moved: ")
    before = json.loads(old.read_text())
    assert record["settings"] == before["settings"]
    assert {**record, "changes": []} == before
    one, other = tree(first / "out"), tree(out)
    assert all(one[name] == other[name] for name in one if name.endswith(".stl"))


def test_a_changed_mesh_is_split_as_before_and_what_moved_is_told(
    first: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    old = str(first / "out" / "job.json")
    part, out = save(tmp_path, "pipe-v2.stl", 62.5), tmp_path / "out"
    assert main(["split", part, "--from", old, "--out", str(out), "--quiet"]) == 0
    table = capfd.readouterr().out
    moved = [
        "pipe-v2: comes from pipe-v2.stl, before from pipe.stl and is held against part pipe.",
        "pipe-v2: side hole 1, station 62.50 mm, before 60.00.",
    ]
    record = json.loads((out / "job.json").read_text())
    assert [said for said in record["changes"] if "Asked for" not in said][:2] == moved
    assert [cut["station"] for cut in record["parts"][0]["cuts"]] == [140.0]
    assert list(record["settings"]["own"]) == ["pipe-v2"]
    section = table[table.index(f"\nSince the job of {old}\n") :]
    assert all(said in " ".join(section.split()) for said in moved)


def test_an_option_beats_the_record_and_is_told_with_what_follows(
    first: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv = ["plan", str(first / "pipe.stl"), "--from", str(first / "out" / "job.json")]
    before = tree(first)
    record = record_of([*argv, "--cut", "130", "--fit", "push"], capfd)
    assert (record["settings"]["cut"], record["settings"]["own"]) == ([130.0], {})
    assert (record["settings"]["fit"], record["settings"]["clearance"]) == ("push", 0.10)
    assert (record["settings"]["spacing"], record["settings"]["engagement"]) == (7.0, 11.0)
    asked, moved = record["changes"]
    assert "fit push, before glue" in asked
    assert "pipe cut none, before 140" in asked
    assert moved.startswith("pipe: seam 1, station 130.00 mm, before 140.00; ")
    assert "clearance 0.10 mm, before 0.12" in moved
    assert tree(first) == before


def test_a_record_may_be_the_one_that_the_new_job_replaces(tmp_path: Path) -> None:
    part, out = save(tmp_path, "pipe.stl", 60.0), tmp_path / "out"
    assert main(["split", part, *JOB, "--out", str(out), "--quiet"]) == 0
    save(tmp_path, "pipe.stl", 64.0)
    again = ["split", part, "--from", str(out / "job.json"), "--out", str(out), "--quiet"]
    assert main([*again, "--overwrite"]) == 0
    record = json.loads((out / "job.json").read_text())
    assert "pipe: side hole 1, station 64.00 mm, before 60.00." in record["changes"]


def test_a_record_that_cannot_be_read_leaves_all_as_it_was(
    first: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    record = tmp_path / "job.json"
    text = (first / "out" / "job.json").read_text()
    record.write_text(text[: len(text) // 2])
    argv = ["split", str(first / "pipe.stl"), "--from", str(record), "--out", str(tmp_path / "out")]
    assert main([*argv, "--quiet"]) == 1
    refused(1, capfd.readouterr(), r"in .*job\.json: no JSON: .*; needed: 1 JSON object; try: ")
    assert [path.name for path in tmp_path.iterdir()] == ["job.json"]


def test_several_parts_are_asked_for_by_name_wherever_they_stand(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    head, body = save(tmp_path, "head.stl", 60.0), save(tmp_path, "body.stl", 60.0)
    record = record_of(["plan", head, *JOB, "--cut", "body:130", body, "--cut", "head:150"], capfd)
    cuts = {part["name"]: [cut["station"] for cut in part["cuts"]] for part in record["parts"]}
    assert cuts == {"head": [150.0], "body": [130.0]}


def test_a_body_that_a_file_does_not_have_is_refused(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    part = save(tmp_path, "pipe.stl", 60.0)
    assert main(["plan", part, *ENVELOPE, "--cut", "pipe-b:130", "--quiet"]) == 1
    refused(1, capfd.readouterr(), "0 parts called pipe-b, .*needed: a name among pipe; ")
