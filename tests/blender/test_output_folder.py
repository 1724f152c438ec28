"""The output folder: whole or not at all, and nothing in it replaced that is not ours."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from borewright.addon.saving import (
    folder_lock,
    folder_swap,
    foreign_files,
    output_folder,
    own_files,
)
from borewright.addon.saving.output_folder import check_output, new_output
from borewright.addon.saving.output_refusal import OutputRefused
from borewright.addon.saving.own_files import file_sha256


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
    with new_output(check_output(out, overwrite=overwrite)) as folder:
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
        monkeypatch.setattr(folder_swap, "exchange", lambda _one, _other: False)
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

    monkeypatch.setattr(own_files, "file_sha256", refuse)
    refused(out, r"cannot be read or written.*error 13")


def test_a_folder_of_others_that_cannot_be_read_is_told(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = out / "deep" / "closed"
    closed.mkdir(parents=True)
    (closed / "note.txt").write_text("mine")
    scandir = os.scandir

    def refuse(path: Path | int) -> Iterator[os.DirEntry[str]]:
        if path in {closed, str(closed)}:
            raise PermissionError(13, "Permission denied", str(path))
        return scandir(path)

    monkeypatch.setattr(os, "scandir", refuse)
    with pytest.raises(OutputRefused, match=r"deep/closed cannot be read or written.*error 13"):
        run_job(out, NEW, overwrite=True)
    monkeypatch.undo()
    assert contents(out) == OLD | {"deep/closed/note.txt": "mine"}
    assert names(out.parent) == ["out"]


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
    monkeypatch.setattr(foreign_files, "MOST_KEPT", 3)
    (out / "deep").mkdir()
    for number in range(3):
        (out / "deep" / str(number)).write_text("mine")
    refused(out, r"4 files.*at most 3")


def test_a_failure_while_writing_leaves_all_as_it_was(out: Path) -> None:
    with (
        pytest.raises(KeyError, match="a-01"),
        new_output(check_output(out, overwrite=True)) as folder,
    ):
        raise KeyError((folder / "a-01.stl").write_text("half") and "a-01")
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


def test_a_disk_that_fills_up_is_told_and_leaves_all_as_it_was(out: Path) -> None:
    with (
        pytest.raises(OutputRefused, match="error 28"),
        new_output(check_output(out, overwrite=True)),
    ):
        raise OSError(28, "No space left on device")
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


def test_a_failing_swap_leaves_all_as_it_was(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    rename = Path.rename

    def fail_for_new(self: Path, target: Path) -> Path:
        if target == out and not self.name.endswith("-old"):
            raise OSError(28, "no room", str(target))
        return rename(self, target)

    monkeypatch.setattr(folder_swap, "exchange", lambda _one, _other: False)
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

    monkeypatch.setattr(folder_swap, "exchange", lambda _one, _other: False)
    monkeypatch.setattr(Path, "rename", stop_after)
    with pytest.raises(KeyboardInterrupt):
        run_job(out, NEW, overwrite=True)
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


KILLED = """
import os, signal, sys
from pathlib import Path
from borewright.addon.saving import folder_swap, left_folders
from borewright.addon.saving.output_folder import check_output, new_output
from tests.blender.test_output_folder import write_job

def die(*_, **__):
    os.kill(os.getpid(), signal.SIGKILL)

where, out = sys.argv[1], Path(sys.argv[2])
if where == "between":
    folder_swap.exchange = lambda *_: False
    rename = Path.rename
    Path.rename = lambda self, target: rename(self, target) if target != out else die()
elif where == "after":
    left_folders.shutil.rmtree = die
with new_output(check_output(out, overwrite=True)) as folder:
    write_job(folder, {"a-01.stl": "new 1"})
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
    with pytest.raises(ZeroDivisionError), new_output(check_output(out, overwrite=True)):
        raise ZeroDivisionError
    assert names(tmp_path) == ["out"]
    assert contents(out) == (left or OLD)


@pytest.mark.parametrize("key", ["beds", "sheet", "trial"])
def test_all_that_a_record_lists_is_the_job_s_own(out: Path, key: str) -> None:
    (out / "listed").write_text("listed")
    entry: object = {"file": "listed", "sha256": file_sha256(out / "listed"), "pieces": []}
    record = json.loads((out / "job.json").read_text())
    record[key] = [entry] if key == "beds" else entry
    (out / "job.json").write_text(json.dumps(record))
    (out / "listed").write_text("changed")
    refused(out, r"1 file changed.*listed")
    (out / "listed").write_text("listed")
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW


def test_a_bed_that_an_earlier_version_listed_without_its_hash_is_kept(out: Path) -> None:
    (out / "bed-01.3mf").write_text("may be anybody's")
    record = json.loads((out / "job.json").read_text())
    record["beds"] = [{"file": "bed-01.3mf", "pieces": ["a-01"]}]
    record["trial"] = None
    (out / "job.json").write_text(json.dumps(record))
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW | {"bed-01.3mf": "may be anybody's"}


def test_a_file_that_the_disk_lost_is_told(out: Path) -> None:
    def lose() -> None:
        with new_output(check_output(out, overwrite=True)) as folder:
            write_job(folder, NEW)
            (folder / "a-01.stl").write_text("half")

    with pytest.raises(OutputRefused, match=r"not on the disk as it was written: a-01\.stl"):
        lose()
    assert contents(out) == OLD
    assert names(out.parent) == ["out"]


@pytest.mark.parametrize("overwrite", [False, True])
def test_of_two_runs_the_later_to_save_is_refused(tmp_path: Path, overwrite: bool) -> None:  # noqa: FBT001
    out = tmp_path / "out"
    if overwrite:
        run_job(out, OLD, overwrite=False)
    late = check_output(out, overwrite=overwrite)
    run_job(out, NEW, overwrite=overwrite)
    with pytest.raises(OutputRefused, match=r"1 other run that saved into"), new_output(late):
        pytest.fail("it writes though it cannot save")
    assert contents(out) == NEW
    assert names(tmp_path) == ["out"]


def test_a_run_that_saves_now_is_told(out: Path) -> None:
    second = check_output(out, overwrite=True)
    with new_output(check_output(out, overwrite=True)) as folder:
        with pytest.raises(OutputRefused, match="1 other run that saves into"), new_output(second):
            pytest.fail("two at once")
        write_job(folder, NEW)
    assert contents(out) == NEW
    assert names(out.parent) == ["out"]


def without_locks(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(_descriptor: int) -> None:
        raise OSError(errno.ENOLCK, "No locks available")

    monkeypatch.setattr(folder_lock, "lock_now", refuse)


def test_without_locks_a_run_that_saved_in_the_last_moment_is_noticed(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_locks(monkeypatch)
    late = check_output(out, overwrite=True)
    in_the_last_moment(monkeypatch, lambda: run_job(out, NEW, overwrite=True))
    with pytest.raises(OutputRefused, match="1 other run that saved"), new_output(late) as folder:
        write_job(folder, {"b-01.stl": "late"})
    assert contents(out) == NEW
    assert names(out.parent) == ["out"]


def test_without_locks_only_what_is_old_was_left_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    without_locks(monkeypatch)
    fresh, stale = (tmp_path / f".out.borewright-{name}-scrap" for name in ("fresh", "stale"))
    fresh.mkdir()
    stale.mkdir()
    os.utime(stale, (0, 0))
    run_job(tmp_path / "out", NEW, overwrite=False)
    assert names(tmp_path) == [fresh.name, "out"]


def test_what_killed_runs_left_goes_with_the_next(tmp_path: Path) -> None:
    (tmp_path / ".out.borewright-1-scrap" / "deep").mkdir(parents=True)
    (tmp_path / ".out.borewright-1-scrap" / "deep").chmod(0)
    write_job_in(tmp_path / ".out.borewright-2", OLD)
    (tmp_path / ".out.borewright.lock").touch()
    run_job(tmp_path / "out", NEW, overwrite=False)
    assert contents(tmp_path) == {"out/a-01.stl": "new 1"}
    assert names(tmp_path) == ["out"]


def write_job_in(folder: Path, pieces: dict[str, str]) -> None:
    folder.mkdir()
    write_job(folder, pieces)


def in_the_last_moment(monkeypatch: pytest.MonkeyPatch, do: Callable[[], object]) -> None:
    """Have something happen after all checks, just before the folders change places."""
    swap = folder_swap.swap

    def swap_after(made: Path, folder: Path) -> Path:
        monkeypatch.setattr(output_folder, "swap", swap)
        do()
        return swap(made, folder)

    monkeypatch.setattr(output_folder, "swap", swap_after)


def save_safely(path: Path, text: str) -> None:
    """As editors do: beside it, and then in its place."""
    made = path.with_name("saving")
    made.write_text(text)
    made.replace(path)


def test_what_is_saved_in_the_last_moment_is_kept(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (out / "deep").mkdir()
    for name in ("appended", "deep/replaced", "still"):
        (out / name).write_text("before")

    def save() -> None:
        (out / "appended").write_text("after")
        save_safely(out / "deep" / "replaced", "after")
        (out / "deep" / "new").mkdir()
        (out / "deep" / "new" / "note.txt").write_text("new")
        (out / "new.txt").write_text("new")

    in_the_last_moment(monkeypatch, save)
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW | {
        "appended": "after", "deep/replaced": "after", "still": "before",
        "deep/new/note.txt": "new", "new.txt": "new",
    }  # fmt: skip
    assert names(out.parent) == ["out"]


def test_where_there_are_no_links_copies_are_kept_up_to_date(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    (out / "note.txt").write_text("before")
    in_the_last_moment(monkeypatch, lambda: (out / "note.txt").write_text("after"))
    run_job(out, NEW, overwrite=True)
    assert contents(out) == NEW | {"note.txt": "after"}


@pytest.mark.parametrize(("name", "match"), [
    ("a-02.stl", r"1 file changed.*a-02\.stl"), ("a-01.stl", r"1 file changed.*a-01\.stl"),
    ("b-01.stl", r"1 file in the way.*b-01\.stl"), ("job.json", "no record"),
])  # fmt: skip
def test_what_is_saved_in_the_last_moment_with_a_name_of_the_job_s_has_the_run_refused(
    out: Path, name: str, match: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    (out / "note.txt").write_text("mine")

    def save() -> None:  # after its time of change, which would tell of another run
        seen = (out / "job.json").stat()
        (out / name).write_text("sanded")
        os.utime(out / "job.json", ns=(seen.st_atime_ns, seen.st_mtime_ns))

    in_the_last_moment(monkeypatch, save)
    with pytest.raises(OutputRefused, match=match):
        run_job(out, {"a-01.stl": "new", "b-01.stl": "new"}, overwrite=True)
    sanded = {name: "sanded"} if name != "job.json" else {}
    assert contents(out) == OLD | {"note.txt": "mine"} | sanded
    assert names(out.parent) == ["out"]


def test_what_cannot_be_moved_in_the_last_moment_has_the_run_refused(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(errno.EIO, "Input/output error")

    in_the_last_moment(monkeypatch, lambda: (out / "note.txt").write_text("mine"))
    monkeypatch.setattr(output_folder, "rescue", refuse)
    with pytest.raises(OutputRefused, match="error 5"):
        run_job(out, NEW, overwrite=True)
    assert contents(out) == OLD | {"note.txt": "mine"}
    assert names(out.parent) == ["out"]


def test_a_lock_on_a_file_that_its_holder_removed_meanwhile_is_none(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = folder_lock.lock_now
    path = out.with_name(".out.borewright.lock")

    def removed_first(descriptor: int) -> None:
        monkeypatch.setattr(folder_lock, "lock_now", real)
        path.unlink()
        real(descriptor)

    monkeypatch.setattr(folder_lock, "lock_now", removed_first)
    with new_output(check_output(out, overwrite=True)) as folder:
        assert path.exists()
        write_job(folder, NEW)
    assert names(out.parent) == ["out"]


def test_a_folder_that_comes_between_the_two_steps_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    out = tmp_path / "out"
    run_job(out, OLD, overwrite=False)
    rename = Path.rename

    def come_between(self: Path, target: Path) -> Path:
        done = rename(self, target)
        if target.name.endswith("-old"):
            out.mkdir()
            (out / "note.txt").write_text("mine")
        return done

    monkeypatch.setattr(folder_swap, "exchange", lambda _one, _other: False)
    monkeypatch.setattr(Path, "rename", come_between)
    with pytest.raises(OutputRefused, match="not empty"):
        run_job(out, NEW, overwrite=True)
    assert contents(out) == OLD | {"note.txt": "mine"}
    assert names(tmp_path) == ["out"]


LATE = """
import os, signal, sys
from pathlib import Path
from borewright.addon.saving import output_folder
from borewright.addon.saving.output_folder import check_output, new_output
from tests.blender.test_output_folder import write_job

out = Path(sys.argv[1])
swap = output_folder.swap

def save_and_die(made, folder):
    (out / "note.txt").write_text("in the last moment")
    swap(made, folder)
    os.kill(os.getpid(), signal.SIGKILL)

output_folder.swap = save_and_die
with new_output(check_output(out, overwrite=True)) as folder:
    write_job(folder, {"a-01.stl": "new 1"})
"""


@pytest.mark.skipif(os.name != "posix", reason="kills a process the POSIX way")
def test_what_was_saved_in_the_last_moment_of_a_killed_run_comes_back_with_the_next(
    tmp_path: Path,
) -> None:
    out = tmp_path / "out"
    run_job(out, OLD, overwrite=False)
    done = subprocess.run([sys.executable, "-c", LATE, str(out)], timeout=60, check=False)
    assert done.returncode == -9
    assert contents(out) == NEW
    run_job(out, {"b-01.stl": "newer"}, overwrite=True)
    assert contents(out) == {"b-01.stl": "newer", "note.txt": "in the last moment"}
    assert names(tmp_path) == ["out"]


def test_a_disk_mounted_at_the_folder_or_in_it_is_told(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mounted = out / "disk"
    mounted.mkdir()
    monkeypatch.setattr(Path, "is_mount", lambda self: self == mounted)
    refused(out, "1 disk that is mounted in the folder")
    monkeypatch.setattr(Path, "is_mount", lambda self: self == out)
    refused(out, "1 disk mounted at .*try: --out .*pieces")


def test_a_folder_that_may_not_be_written_to_is_told(
    out: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(os, "access", lambda path, _mode: path != out)  # root may write anywhere
    refused(out, r"out cannot be written to \(error 13\)")


def test_a_name_that_leaves_no_room_for_those_beside_it_is_told(tmp_path: Path) -> None:
    run_job(tmp_path / ("é" * 100), NEW, overwrite=False)
    with pytest.raises(OutputRefused, match=r"a name of 202 bytes: é.*at most 200"):
        check_output(tmp_path / ("é" * 101), overwrite=False)


def test_an_output_folder_that_is_a_link_stays_one(out: Path) -> None:
    link = out.with_name("link")
    link.symlink_to("out")
    run_job(link, NEW, overwrite=True)
    assert link.readlink() == Path("out")
    assert contents(out) == NEW
    assert names(out.parent) == ["link", "out"]


def test_a_folder_filled_meanwhile_is_not_replaced(tmp_path: Path) -> None:
    folder = tmp_path / "out"

    def fill_while_another_does() -> None:
        with new_output(check_output(folder, overwrite=False)) as made:
            write_job(made, NEW)
            folder.mkdir()
            (folder / "theirs").write_text("theirs")

    with pytest.raises(OutputRefused, match=r"holds 1 entries, theirs the first"):
        fill_while_another_does()
    assert [entry.name for entry in folder.iterdir()] == ["theirs"]
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["out"]
