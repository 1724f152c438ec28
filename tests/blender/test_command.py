"""The headless command: its arguments, exit codes, record and streams."""

from __future__ import annotations

import hashlib
import importlib
import io
import json
import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main

from tests.blender.conftest import ENVELOPE, JOB, refused, stl_bytes, tree, tube_corners
from tests.parts import plain_tube

STAGES = ["import", "mend", "survey", "true up", "plan", "build", "prove", "save"]


WRONG_ARGUMENTS = {
    "none": ([], r"required"),
    "unknown command": (["carve", "a.stl"], r"invalid choice: 'carve'"),
    "no envelope": (["split", "a.stl", "--out", "x"], r"required: --envelope"),
    "no out": (["split", "a.stl", *ENVELOPE], r"required: --out"),
    "no part": (["plan", *ENVELOPE], r"required: PART"),
    "unknown option": (["plan", "a.stl", *ENVELOPE, "--bogus"], r"--bogus"),
    "fit": (["plan", "a.stl", *ENVELOPE, "--fit", "loose"], r"invalid choice: 'loose'"),
    "joint": (["plan", "a.stl", *ENVELOPE, "--joint", "dowel"], r"invalid choice: 'dowel'"),
    "nozzle": (["plan", "a.stl", *ENVELOPE, "--nozzle", "3"], r"'3'.*from 0\.1 to 2"),
    "layer": (["plan", "a.stl", *ENVELOPE, "--layer", "0"], r"'0'.*from 0\.02 to 1\.5"),
    "shortened option": (["plan", "a.stl", *ENVELOPE, "--clear", "0.1"], r"--clear"),
    "flat envelope": (["plan", "a.stl", "--envelope", "180x180"], r"found 2 lengths"),
    "no number": (["plan", "a.stl", "--envelope", "180xax180"], r"found 'a'"),
    "negative envelope": (["plan", "a.stl", "--envelope", "180x-3x180"], r"'-3'.*from 1 to 10000"),
    "endless envelope": (["plan", "a.stl", "--envelope", "180xinfx180"], r"'inf'"),
    "NaN envelope": (["plan", "a.stl", "--envelope", "nanx180x180"], r"'nan'"),
    "clearance": (["plan", "a.stl", *ENVELOPE, "--clearance", "0.51"], r"'0\.51'.*from 0 to 0\.5"),
    "engagement": (["plan", "a.stl", *ENVELOPE, "--engagement", "0"], r"'0'.*from 1 to 100"),
    "guard": (["plan", "a.stl", *ENVELOPE, "--guard", "-0.5"], r"'-0\.5'.*from 0 to 100"),
    "max-move": (["plan", "a.stl", *ENVELOPE, "--max-move", "nan"], r"'nan'"),
    "least-wall": (["plan", "a.stl", *ENVELOPE, "--least-wall", "0"], r"'0'.*from 0\.2 to 20"),
    "bore": (["plan", "a.stl", *ENVELOPE, "--bore", "0"], r"'0'.*from 0\.5 to 1000"),
    "cut": (["plan", "a.stl", *ENVELOPE, "--cut", "0"], r"'0'.*from 0\.001 to 10000"),
    "pieces": (["plan", "a.stl", *ENVELOPE, "--pieces", "0"], r"'0'.*from 1 to 100"),
    "a name in no alphabet": (["plan", "a\udcff.stl", *ENVELOPE], r"udcff.*character 2"),
    "avoid": (["plan", "a.stl", *ENVELOPE, "--avoid", "5"], r"found '5'; needed: FROM-TO"),
    "avoid below 0": (["plan", "a.stl", *ENVELOPE, "--avoid=-5-9"], r"'-5-9'; needed: FROM-TO"),
    "avoid backwards": (["plan", "a.stl", *ENVELOPE, "--avoid", "9-5"], r"'9-5'.*FROM below TO"),
    "avoid afar": (["plan", "a.stl", *ENVELOPE, "--avoid", "9-1e9"], r"'9-1e9'; needed: FROM-TO"),
    "prefer": (["plan", "a.stl", *ENVELOPE, "--prefer", "-1"], r"'-1'.*from 0 to 10000"),
    "spacing": (["plan", "a.stl", *ENVELOPE, "--spacing", "101"], r"'101'.*from 0 to 100"),
    "material": (["plan", "a.stl", *ENVELOPE, "--material", "tin"], r"'tin'; needed: 1 of PLA"),
    "no name": (["plan", "a.stl", *ENVELOPE, "--cut", ":5"], r"':5'; needed: the name of 1 part"),
    "no part's name": (["plan", "a.stl", *ENVELOPE, "--cut", "b:5"], r"part 'b'.*of this job, a;"),
    "pieces twice": (
        ["plan", "a.stl", *ENVELOPE, "--pieces", "2", "--pieces", "3"],
        r"--pieces 2 times for every part; needed: once",
    ),
    "late option": (["plan", "a.stl", *ENVELOPE, "b.stl", "--bogus"], r"arguments: --bogus"),
    "half a piece": (["plan", "a.stl", *ENVELOPE, "--pieces", "2.5"], r"'2\.5'"),
    "true": (["plan", "a.stl", *ENVELOPE, "--true", "all"], r"invalid choice: 'all'"),
    "units": (["plan", "a.stl", *ENVELOPE, "--units", "ft"], r"invalid choice: 'ft'"),
}


@pytest.mark.parametrize("case", WRONG_ARGUMENTS)
def test_wrong_arguments_are_told_in_one_line(case: str, capfd: pytest.CaptureFixture[str]) -> None:
    argv, pattern = WRONG_ARGUMENTS[case]
    assert main(argv) == 2
    refused(2, capfd.readouterr(), r"error 2, wrong arguments: .*" + pattern)


@pytest.mark.parametrize("command", [[], ["split"], ["plan"]])
def test_help_ends_with_0(command: list[str], capfd: pytest.CaptureFixture[str]) -> None:
    assert main([*command, "--help"]) == 0
    out, err = capfd.readouterr()
    assert out.startswith("usage: borewright")
    assert command == [] or "PART [PART ...]" in out
    assert err == ""


def test_a_job_leaves_these_files_and_no_others(job: Path) -> None:
    pieces = ["pipe-01.stl", "pipe-02.stl"]
    names = ["bed-01.3mf", "job.json", *pieces, "sheet.html", "timings.json"]
    assert sorted(tree(job)) == names
    assert [path.name for path in job.parent.iterdir()] == ["out"]


def test_timings_are_seconds(job: Path) -> None:
    timings = json.loads((job / "timings.json").read_text())
    assert list(timings) == ["import_s", "core_s", "export_s"]
    assert all(0.0 < seconds < 60.0 for seconds in timings.values())


@pytest.mark.parametrize(("where", "name", "counted"), [
    ("addon.jobs.part_files", "import_mesh", "import_s"),
    ("addon.jobs.part_files", "choose_unit", "core_s"),
    ("core.stages", "mend_bodies", "core_s"), ("core.stages", "check_proofs", "core_s"),
    ("addon.saving.job_files", "export_stl", "export_s"),
])  # fmt: skip
def test_the_unit_and_mending_count_as_core(
    where: str, name: str, counted: str, tube_stl: Path, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    module = importlib.import_module(f"borewright.{where}")
    real = getattr(module, name)

    def slowly(*values: object) -> object:
        time.sleep(3.0)
        return real(*values)

    monkeypatch.setattr(module, name, slowly)
    out = tmp_path / "out"
    assert main(["split", str(tube_stl), *JOB, "--out", str(out), "--quiet"]) == 0
    timings = json.loads((out / "timings.json").read_text())
    assert max(timings, key=timings.__getitem__) == counted
    assert timings[counted] >= 3.0


def test_the_record_lists_the_files_as_they_are(job: Path, tube_stl: Path) -> None:
    record = json.loads((job / "job.json").read_text())
    assert record["schema"] == "borewright.job/1"
    (part,) = record["parts"]
    assert part["source"] == {
        "file": "pipe.stl", "sha256": hashlib.sha256(tube_stl.read_bytes()).hexdigest(),
        "triangles": len(plain_tube().mesh.faces), "unit": "mm", "scale_to_mm": 1.0,
    }  # fmt: skip
    assert [piece["file"] for piece in part["pieces"]] == ["pipe-01.stl", "pipe-02.stl"]
    for piece in part["pieces"]:
        data = (job / piece["file"]).read_bytes()
        assert piece["sha256"] == hashlib.sha256(data).hexdigest()
        mesh = trimesh.load_mesh(job / piece["file"])
        assert len(data) == 84 + 50 * len(mesh.faces)
        assert np.allclose(piece["size"], mesh.extents, atol=1e-6)
        assert np.isclose(piece["volume"], mesh.volume, rtol=1e-6)
        assert np.isclose(piece["mass_g"], mesh.volume * 1.24e-3, rtol=1e-6)
        turn = np.array(piece["to_source"])[:3, :3]
        assert np.allclose(turn @ turn.T, np.eye(3), atol=1e-12)


def test_the_same_input_and_options_give_the_same_bytes(
    job: Path, tube_stl: Path, place: Path
) -> None:
    out = place / "again"
    assert main(["split", str(tube_stl), *JOB, "--out", str(out), "--quiet"]) == 0
    first, second = tree(job), tree(out)
    first.pop("timings.json")
    second.pop("timings.json")
    assert first == second


def test_progress_is_a_line_a_stage_and_the_table_is_on_standard_output(
    tube_stl: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["split", str(tube_stl), *JOB, "--out", str(place / "out")]) == 0
    out, err = capfd.readouterr()
    assert [line.rsplit(" ", 2)[0] for line in err.splitlines()] == STAGES
    assert out.startswith("pipe: 2 pieces for an envelope of 180 x 180 x 180 mm\n")
    for heading in ("Survey", "Seams", "Joints", "Pieces", "Proofs"):
        assert f"\n{heading}\n" in out
    assert max(map(len, out.splitlines())) <= 100
    assert out.isascii()


def test_quiet_and_json_print_the_record_alone(
    tube_stl: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv = ["split", str(tube_stl), *JOB, "--out", str(place / "out"), "--quiet", "--json"]
    assert main(argv) == 0
    out, err = capfd.readouterr()
    assert err == ""
    assert out == (place / "out" / "job.json").read_text()


def test_plan_writes_nothing_and_tells_the_same_cuts(
    tube_stl: Path, job: Path, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    before = tree(place), tree(tube_stl.parent)
    assert main(["plan", str(tube_stl), *JOB, "--json"]) == 0
    planned = json.loads(capfd.readouterr().out)
    done = json.loads((job / "job.json").read_text())
    assert planned["parts"][0]["cuts"] == done["parts"][0]["cuts"]
    assert planned["parts"][0]["joints"] == done["parts"][0]["joints"]
    assert planned["parts"][0]["pieces"] == []
    assert (tree(place), tree(tube_stl.parent)) == before


def test_a_file_in_metres_is_told_and_gives_the_same_pieces(
    job: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    plain_tube(unit=1000.0).save(tmp_path / "pipe.stl")
    part, out = str(tmp_path / "pipe.stl"), tmp_path / "out"
    assert main(["split", part, *JOB, "--out", str(out), "--json"]) == 0
    record = json.loads(capfd.readouterr().out)
    source = record["parts"][0]["source"]
    assert (source["unit"], source["scale_to_mm"]) == ("m", 1000.0)
    assert record["warnings"] == ["Read in m: about 300 mm long and 26 mm across."]
    assert json.loads((job / "job.json").read_text())["warnings"] == []
    for name in ("pipe-01.stl", "pipe-02.stl"):
        one, other = trimesh.load_mesh(job / name), trimesh.load_mesh(out / name)
        assert np.allclose(one.bounds, other.bounds, atol=1e-3)


def test_faces_that_the_import_leaves_out_are_told(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    corners = tube_corners()
    part = tmp_path / "pipe.stl"
    part.write_bytes(stl_bytes(np.concatenate([corners, corners[:2]])))
    assert main(["plan", str(part), *JOB, "--json", "--quiet"]) == 0
    (warning,) = json.loads(capfd.readouterr().out)["warnings"]
    assert warning.startswith(f"2 of {len(corners) + 2} faces of the file were left out")


def test_settings_are_recorded_as_used(tube_stl: Path, capfd: pytest.CaptureFixture[str]) -> None:
    options = ["--clearance", "0.2", "--engagement", "9", "--guard", "3", "--max-move", "0.05",
               "--true", "bore", "--least-wall", "0.9", "--units", "mm", "--cut", "150",
               "--pieces", "2", "--flip", "--bore", "19.05", "--joint", "tenon", "--fit", "push",
               "--nozzle", "0.6", "--layer", "0.25", "--avoid", "20-30.5", "--avoid", "Pipe:5-9",
               "--prefer", "149", "--no-lean", "--spacing", "7", "--material", "petg",
               "--filament", "2.85", "--lines", "4", "--solid-layers", "5", "--infill", "20",
               "--flow", "6", "--wind"]  # fmt: skip
    assert main(["plan", str(tube_stl), *ENVELOPE, *options, "--json", "--quiet"]) == 0
    assert json.loads(capfd.readouterr().out)["settings"] == {
        "envelope": [180.0, 180.0, 180.0], "clearance": 0.2, "engagement": 9.0, "guard": 3.0,
        "max_move": 0.05, "true": "bore", "least_wall": 0.9, "units": "mm", "cut": [150.0],
        "pieces": 2, "flip": True, "bore": 19.05, "joint": "tenon", "fit": "push",
        "clearance_from": "asked", "nozzle": 0.6, "layer": 0.25, "spread": 0.2, "profile": None,
        "compensation": {"hole_undersize": 0.0, "first_layer_bulge": 0.0, "shrink_percent": 0.0},
        "avoid": [[20.0, 30.5]], "prefer": [149.0], "lean": False, "spacing": 7.0,
        "wind": True,
        "printing": {"material": "PETG", "filament": 2.85, "lines": 4, "solid_layers": 5,
                     "infill_percent": 20.0, "flow": 6.0},
        "own": {"pipe": {"cut": [], "avoid": [[5.0, 9.0]], "prefer": [], "pieces": None}},
    }  # fmt: skip


@pytest.mark.parametrize("ending", ["obj", "ply", "ascii ply", "ascii stl"])
def test_other_kinds_of_file_give_the_same_pieces(ending: str, job: Path, tmp_path: Path) -> None:
    """STL holds float32; the text files are written with enough digits for the same."""
    mesh = plain_tube().mesh
    mesh.vertices = mesh.vertices.astype(np.float32)
    part = tmp_path / f"pipe.{ending.rsplit(maxsplit=1)[-1]}"
    match ending:
        case "obj":
            part.write_text(trimesh.exchange.obj.export_obj(mesh, digits=12))
        case "ascii stl":
            part.write_text(trimesh.exchange.stl.export_stl_ascii(mesh))
        case _:
            text = "ascii" if "ascii" in ending else "binary"
            part.write_bytes(trimesh.exchange.ply.export_ply(mesh, encoding=text))
    out = tmp_path / "out"
    assert main(["split", str(part), *JOB, "--out", str(out), "--quiet"]) == 0
    for name in ("pipe-01.stl", "pipe-02.stl"):
        one, other = trimesh.load_mesh(job / name), trimesh.load_mesh(out / name)
        assert np.isclose(one.volume, other.volume, rtol=1e-5)
        assert np.allclose(one.bounds, other.bounds, atol=2e-4)


def run(*command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command], cwd=folder, capture_output=True, text=True, timeout=120,
        check=False, env=os.environ,
    )  # fmt: skip


def test_python_m_borewright_is_the_same_command(tube_stl: Path, job: Path, place: Path) -> None:
    done = run("-m", "borewright", "split", str(tube_stl), *JOB, "--out", "out", folder=place)
    assert done.returncode == 0, done.stderr
    assert (place / "out" / "job.json").read_bytes() == (job / "job.json").read_bytes()
    wrong = run("-m", "borewright", "split", "none.stl", *JOB, "--out", "two", folder=place)
    assert (wrong.returncode, wrong.stdout) == (1, "")
    assert run("-m", "borewright", "split", folder=place).returncode == 2


def test_a_background_script_reaches_the_installed_extension(
    installed: str, tube_stl: Path, job: Path, place: Path
) -> None:
    """README's line, with Blender's module in the place of Blender."""
    line = (
        f"import sys; from {installed}.addon.command_line.command import main; "
        "sys.exit(main(sys.argv[sys.argv.index('--') + 1:]))"
    )
    arguments = ["--", "split", str(tube_stl), *JOB, "--out", "out"]
    script = f"import bpy, addon_utils; addon_utils.enable({installed!r}); " + line
    done = run("-c", script, *arguments, folder=place)
    assert done.returncode == 0, done.stderr
    assert (place / "out" / "job.json").read_bytes() == (job / "job.json").read_bytes()


class Deaf(io.StringIO):
    """A stream that takes nothing, as a pipe whose reader has gone."""

    def write(self, text: str) -> int:
        raise BrokenPipeError(32, "Broken pipe", text[:0] or None)


@pytest.mark.parametrize(("command", "code"), [("split", 0), ("plan", 1)])
def test_standard_output_that_takes_no_text_is_told_and_the_pieces_are_there(
    command: str, code: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    capfd: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    part = tmp_path / "part.stl"
    part.write_bytes(stl_bytes(tube_corners()))
    monkeypatch.setattr(sys, "stdout", Deaf())
    assert main([command, str(part), *ENVELOPE, "--out", str(tmp_path / "out")]) == code
    assert "standard output takes no text" in capfd.readouterr().err
    assert (tmp_path / "out").exists() == (command == "split")


def test_letters_that_standard_output_does_not_have_are_spelt_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    part = tmp_path / "flöte.stl"
    part.write_bytes(stl_bytes(tube_corners()))
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    assert main(["plan", str(part), *ENVELOPE, "--quiet"]) == 0
    assert b"fl\\xf6te" in raw.getvalue()


def test_a_stop_by_the_person_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    from borewright.addon.jobs import headless

    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    part = tmp_path / "part.stl"
    part.write_bytes(stl_bytes(tube_corners()))
    monkeypatch.setattr(headless, "split_parts", stop)
    assert main(["split", str(part), *ENVELOPE, "--out", str(tmp_path / "out")]) == 130
    assert "stopped; 0 files" in capfd.readouterr().err
    assert not (tmp_path / "out").exists()


TOLD_TO_STOP = """
import os, signal, sys
from borewright.addon.saving import job_files
from borewright.addon.command_line.command import main

def stop(*_):
    os.kill(os.getpid(), signal.SIGTERM)

job_files.export_stl = stop
code = main(sys.argv[1:])
assert signal.getsignal(signal.SIGTERM) == signal.SIG_DFL
sys.exit(code)
"""


@pytest.mark.skipif(os.name != "posix", reason="asks a process to end the POSIX way")
def test_a_job_that_the_system_stops_while_it_saves_leaves_no_trace(
    tube_stl: Path, place: Path
) -> None:
    before = tree(place)
    done = run("-c", TOLD_TO_STOP, "split", str(tube_stl), *JOB, "--out", "out", folder=place)
    assert (done.returncode, done.stdout) == (143, "")
    assert done.stderr.endswith("borewright: told to stop; 0 files written\n")
    assert tree(place) == before
