"""The output folder: whole or not at all, and nothing in it replaced that is not ours."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from borewright.addon import output_folder
from borewright.addon.output_folder import OutputRefused, file_sha256, new_output


def write_job(folder: Path, pieces: dict[str, str]) -> None:
    """What a job leaves, with the record of it."""
    listed = []
    for name, content in pieces.items():
        (folder / name).write_text(content)
        listed.append({"file": name, "sha256": file_sha256(folder / name)})
    record = {"schema": "borewright.job/1", "parts": [{"pieces": listed}]}
    (folder / "job.json").write_text(json.dumps(record))
    (folder / "timings.json").write_text("{}")


def run_job(out: Path, pieces: dict[str, str], *, overwrite: bool) -> None:
    with new_output(out, overwrite=overwrite) as folder:
        write_job(folder, pieces)


def contents(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): path.read_text()
        for path in folder.rglob("*")
        if path.is_file() and path.name not in ("job.json", "timings.json")
    }


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


OLD = {"a-01.stl": "old 1", "a-02.stl": "old 2"}
NEW = {"a-01.stl": "new 1"}


@pytest.fixture(params=["in one step", "in two steps"])
def out(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An output folder with a job in it, on a system that can swap folders or cannot."""
    if request.param == "in two steps":
        monkeypatch.setattr(output_folder, "_exchange", lambda _one, _other: False)
    elif sys.platform != "linux":
        pytest.skip("only Linux swaps folders in one step")
    folder = tmp_path / "out"
    run_job(folder, OLD, overwrite=False)
    return folder


def test_overwrite_replaces_an_earlier_job_whole(out: Path) -> None:
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW
    assert names(out.parent) == ["out"]


def test_overwrite_keeps_what_is_not_ours(out: Path) -> None:
    (out / "note.txt").write_text("mine")
    (out / "deep" / "er").mkdir(parents=True)
    (out / "deep" / "er" / "old.stl").write_text("mine too")
    (out / "link").symlink_to("note.txt")
    out.chmod(0o750)
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW | {
        "note.txt": "mine", "deep/er/old.stl": "mine too", "link": "mine",
    }  # fmt: skip
    assert (out / "link").readlink() == Path("note.txt")
    assert out.stat().st_mode & 0o777 == 0o750


def test_overwrite_in_a_folder_of_others_keeps_it_all(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "note.txt").write_text("mine")
    run_job(tmp_path / "out", NEW, overwrite=True)
    assert contents(tmp_path / "out") == NEW | {"note.txt": "mine"}


def test_a_deleted_piece_is_no_hindrance(out: Path) -> None:
    (out / "a-02.stl").unlink()
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW


def refused(out: Path, match: str, *, overwrite: bool = True) -> None:
    before = contents(out.parent)
    with pytest.raises(OutputRefused, match=match):
        run_job(out, NEW, overwrite=overwrite)
    assert contents(out.parent) == before
    assert not list(out.parent.glob(".*"))


def test_without_overwrite_a_folder_that_holds_something_is_refused(out: Path) -> None:
    refused(out, r"holds 4 entries", overwrite=False)


def test_a_folder_that_cannot_be_read_is_told(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_path: Path) -> None:  # who runs as root may read everything
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(output_folder, "file_sha256", refuse)
    refused(out, r"cannot be written.*error 13")


def test_a_piece_changed_by_hand_is_not_replaced(out: Path) -> None:
    (out / "a-02.stl").write_text("sanded")
    refused(out, r"1 file changed.*a-02\.stl")


def test_a_folder_in_the_place_of_a_piece_is_not_replaced(out: Path) -> None:
    (out / "a-02.stl").unlink()
    (out / "a-02.stl").mkdir()
    refused(out, r"1 file changed.*a-02\.stl")


def test_a_file_of_others_in_the_way_is_not_replaced(out: Path) -> None:
    (out / "b-01.stl").write_text("theirs")
    with pytest.raises(OutputRefused, match=r"1 file in the way.*b-01\.stl"):
        run_job(out, {"b-01.stl": "new"}, overwrite=True)
    assert contents(out) == OLD | {"b-01.stl": "theirs"}
    assert names(out.parent) == ["out"]


@pytest.mark.parametrize(
    "record", ["", "{", "[]", "{}", '{"schema": "other/1", "parts": []}', '{"parts": 1}']
)
def test_a_record_of_others_is_not_replaced(tmp_path: Path, record: str) -> None:
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "job.json").write_text(record)
    refused(tmp_path / "out", r"1 file that is no record")


def test_a_record_cannot_name_files_elsewhere(out: Path) -> None:
    outside = out.parent / "precious"
    outside.write_text("mine")
    listed = [{"file": "../precious", "sha256": file_sha256(outside)}]
    record = {"schema": "borewright.job/1", "parts": [{"pieces": listed}]}
    (out / "job.json").write_text(json.dumps(record))
    run_job(out, {"b-01.stl": "new"}, overwrite=True)
    assert outside.read_text() == "mine"
    assert contents(out) == OLD | {"b-01.stl": "new"}


def test_a_disk_full_of_files_is_not_an_output_folder(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(output_folder, "MOST_KEPT", 3)
    (out / "deep").mkdir()
    for number in range(3):
        (out / "deep" / str(number)).write_text("mine")
    refused(out, r"4 files.*at most 3")


def test_a_failure_while_writing_leaves_all_as_it_was(out: Path) -> None:
    with pytest.raises(KeyError, match="a-01"), new_output(out, overwrite=True) as folder:
        raise KeyError((folder / "a-01.stl").write_text("half") and "a-01")
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


def test_a_disk_that_fills_up_is_told_and_leaves_all_as_it_was(out: Path) -> None:
    with pytest.raises(OutputRefused, match="error 28"), new_output(out, overwrite=True):
        raise OSError(28, "No space left on device")
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


def test_a_failing_swap_leaves_all_as_it_was(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rename = Path.rename

    def fail_for_new(self: Path, target: Path) -> Path:
        if target == out and not self.name.endswith("-old"):
            raise OSError(28, "no room", str(target))
        return rename(self, target)

    monkeypatch.setattr(output_folder, "_exchange", lambda _one, _other: False)
    monkeypatch.setattr(Path, "rename", fail_for_new)
    with pytest.raises(OutputRefused, match="error 28"):
        run_job(out, NEW, overwrite=True)
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


def test_a_stop_between_the_steps_of_a_swap_leaves_all_as_it_was(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rename = Path.rename

    def stop_after(self: Path, target: Path) -> Path:
        rename(self, target)
        if target.name.endswith("-old"):
            raise KeyboardInterrupt
        return target

    monkeypatch.setattr(output_folder, "_exchange", lambda _one, _other: False)
    monkeypatch.setattr(Path, "rename", stop_after)
    with pytest.raises(KeyboardInterrupt):
        run_job(out, NEW, overwrite=True)
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


KILLED = """
import os, signal, sys
from pathlib import Path
from borewright.addon import output_folder
from borewright.addon.output_folder import new_output

def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)

where, out = sys.argv[1], Path(sys.argv[2])
if where == "between":
    output_folder._exchange = lambda *_: False
    rename = Path.rename
    Path.rename = lambda self, target: rename(self, target) if self == out else die()
elif where == "after":
    output_folder.shutil.rmtree = die
with new_output(out, overwrite=True) as folder:
    (folder / "a-01.stl").write_text("new 1")
    if where == "before":
        die()
"""


@pytest.mark.skipif(os.name != "posix", reason="kills a process the POSIX way")
@pytest.mark.parametrize(("where", "left"), [("before", OLD), ("between", None), ("after", NEW)])
def test_a_killed_job_leaves_old_or_new_and_the_next_cleans_up(
    tmp_path: Path, where: str, left: dict[str, str] | None
) -> None:
    out = tmp_path / "out"
    run_job(out, OLD, overwrite=False)
    done = subprocess.run([sys.executable, "-c", KILLED, where, str(out)], timeout=60, check=False)
    assert done.returncode == -9
    assert len(list(tmp_path.glob(".out.borewright-*"))) >= 1
    if left is None:  # only where the system cannot swap in one step
        assert not out.exists()
    else:
        assert contents(out) == left
    # a job that is refused for its foreign piece still puts back what was there
    with pytest.raises(ZeroDivisionError), new_output(out, overwrite=True):
        raise ZeroDivisionError
    assert names(tmp_path) == ["out"]
    assert contents(out) == (left or OLD)


@pytest.mark.skipif(os.name != "posix", reason="elsewhere only age tells")
def test_the_temporary_folder_of_a_job_that_runs_is_left_alone(tmp_path: Path) -> None:
    running = tmp_path / f".out.borewright-{os.getppid()}-0"
    left_behind = tmp_path / f".out.borewright-{os.getpid()}-0"  # a number given out again
    running.mkdir()
    left_behind.mkdir()
    run_job(tmp_path / "out", NEW, overwrite=False)
    assert names(tmp_path) == [running.name, "out"]


def test_a_folder_filled_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    folder = tmp_path / "out"

    def fill_while_another_does() -> None:
        with new_output(folder, overwrite=False) as made:
            (made / "ours").write_text("ours")
            folder.mkdir()
            (folder / "theirs").write_text("theirs")

    with pytest.raises(OutputRefused, match="not empty"):
        fill_while_another_does()
    assert [entry.name for entry in folder.iterdir()] == ["theirs"]
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["out"]
