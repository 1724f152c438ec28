"""The trial command: its arguments and exit codes, its folder, its one file read back.

Sizes are in mm and what was asked for; nothing here is published.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import trimesh
from borewright.addon.command_line.command import main
from borewright.addon.profiles.profile_store import FOLDER_VARIABLE

from tests.blender.conftest import ENVELOPE, JOB, refused, tree
from tests.parts import plain_tube

SIZES = ["trial", "--bore", "14", "--wall", "3.6"]
USUAL = [0.05, 0.10, 0.15, 0.20, 0.25]


@pytest.fixture(scope="module")
def trial(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The output of a trial that was made."""
    out = tmp_path_factory.mktemp("trial") / "out"
    assert main([*SIZES, "--out", str(out), "--quiet"]) == 0
    return out


WRONG_ARGUMENTS = {
    "nothing": (["trial", "--out", "x"], r"required: PART, or --bore and --wall, or --solid"),
    "no out": (SIZES, r"required: --out"),
    "a bore alone": (["trial", "--bore", "14", "--out", "x"], r"--bore and --wall"),
    "a wall alone": (["trial", "--wall", "3", "--out", "x"], r"--bore and --wall"),
    "two sections": ([*SIZES, "--solid", "38", "--out", "x"], r"--solid with --bore.*needed: 1"),
    "a part and sizes": (["trial", "a.stl", *ENVELOPE, "--wall", "3", "--out", "x"],
                         r"--wall with PART; needed: 1"),
    "a part without envelope": (["trial", "a.stl", "--out", "x"], r"required: --envelope"),
    "two parts": (["trial", "a.stl", "b.stl", *ENVELOPE, "--out", "x"],
                  r"unrecognized arguments: b\.stl"),
    "a cut of sizes": ([*SIZES, "--cut", "30", "--out", "x"], r"--cut without PART"),
    "a guard of sizes": ([*SIZES, "--guard", "3", "--out", "x"], r"--guard without PART"),
    "a joint's number of sizes": ([*SIZES, "--joint-number", "1", "--out", "x"],
                                  r"--joint-number without PART"),
    "a kind of sizes": ([*SIZES, "--joint", "pins", "--out", "x"],
                        r"--joint pins without PART; needed: tenon or collar"),
    "a collar on a solid": (["trial", "--solid", "20", "--joint", "collar", "--out", "x"],
                            r"--joint collar without PART; needed: tenon"),
    "wall": (["trial", "--bore", "14", "--wall", "0.4", "--out", "x"], r"'0\.4'.*from 0\.5 to 500"),
    "solid": (["trial", "--solid", "nan", "--out", "x"], r"'nan'.*from 1 to 1000"),
    "no bore": (["trial", "--bore", "0", "--wall", "3", "--out", "x"], r"'0'.*from 0\.5 to 1000"),
    "joint 0": (["trial", "a.stl", *ENVELOPE, "--joint-number", "0", "--out", "x"],
                r"'0'.*a whole number from 1"),
    "joint 1.5": (["trial", "a.stl", *ENVELOPE, "--joint-number", "1.5", "--out", "x"],
                  r"'1\.5'.*a whole number from 1"),
    "clearance": ([*SIZES, "--clearance", "0.6", "--out", "x"], r"'0\.6'.*from 0 to 0\.5"),
}  # fmt: skip


@pytest.mark.parametrize("case", WRONG_ARGUMENTS)
def test_wrong_arguments_are_told_in_one_line(
    case: str, place: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    argv, pattern = WRONG_ARGUMENTS[case]
    monkeypatch.chdir(place)
    before = tree(place)
    assert main(argv) == 2
    refused(2, capfd.readouterr(), r"error 2, wrong arguments: .*" + pattern)
    assert tree(place) == before


REFUSED = {
    "a thin wall": (["--bore", "20", "--wall", "1.5", "--joint", "tenon"],
                    r"wall 1\.50 mm.*2\.29 mm"),
    "a wide thin tube": (["--bore", "90", "--wall", "1.2"], r"cm3.*at most 6 cm3"),
    "much plastic": (["--bore", "60", "--wall", "5"], r"10\.\d cm3.*at most 6 cm3"),
    "a small bed": (["--bore", "14", "--wall", "3.6", "--envelope", "40x40x40"],
                    r"6 rings of 22\.0 mm.*40 x 40 x 40"),
    "layers too high": (["--solid", "20", "--nozzle", "0.4", "--layer", "0.5"], r"0\.5 mm.*0\.4"),
    "no profile": (["--solid", "20", "--profile", "nobody"], r"0 printer profiles.*'nobody'"),
    "no part": (["none.stl", *ENVELOPE], r"none\.stl"),
}  # fmt: skip


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_made_leaves_all_as_it_was(
    case: str, place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv, pattern = REFUSED[case]
    before = tree(place)
    assert main(["trial", *argv, "--out", str(place / "out")]) == 1
    refused(1, capfd.readouterr(), pattern)
    assert tree(place) == before


def test_it_leaves_one_file_and_its_record(trial: Path) -> None:
    assert sorted(tree(trial)) == ["fit-trial.stl", "job.json"]
    assert [path.name for path in trial.parent.iterdir()] == ["out"]
    record = json.loads((trial / "job.json").read_text())
    assert record["schema"] == "borewright.trial/1"
    (file,) = record["files"]
    data = (trial / file["file"]).read_bytes()
    assert file["sha256"] == hashlib.sha256(data).hexdigest()
    whole = trimesh.load_mesh(trial / "fit-trial.stl")
    assert len(data) == 84 + 50 * len(whole.faces)
    assert np.allclose(file["size"], whole.extents, atol=1e-6)
    assert record["plastic"] == pytest.approx(whole.volume, rel=1e-6)
    assert whole.volume <= 6000.0


def test_the_files_rings_have_the_gaps_that_the_record_tells(trial: Path) -> None:
    record = json.loads((trial / "job.json").read_text())
    rings = record["rings"]
    assert [ring["clearance"] for ring in rings[1:]] == pytest.approx(USUAL)
    whole = trimesh.load_mesh(trial / "fit-trial.stl")
    assert whole.is_watertight
    found = [within(whole, ring["corner"], ring["size"]) for ring in rings]
    assert sum(len(body.faces) for body in found) == len(whole.faces)
    assert all(body.is_watertight for body in found)
    tenon, *sockets = found
    middle = tenon.bounds.mean(axis=0)[:2]
    beside = cut(tenon, 3.6) - middle
    radii = np.hypot(*beside.T)
    radius = radii[radii < 8.725 + 0.05].max()
    for body, gap in zip(sockets, USUAL, strict=True):
        points = cut(body, body.bounds[1, 2] - 0.05)  # the bore's own end: about its middle
        low, high = bore_box(points)
        away = np.hypot(*(cut(body, 2.0) - (low + high) / 2.0).T)
        socket = away[away > 8.7].min()
        assert socket - radius == pytest.approx(gap, abs=0.01)


def within(whole: trimesh.Trimesh, corner: list[float], size: list[float]) -> trimesh.Trimesh:
    """The faces in a box."""
    low, high = np.array(corner) - 0.01, np.array(corner) + size + 0.01
    inside = ((whole.triangles > low) & (whole.triangles < high)).all(axis=(1, 2))
    return trimesh.Trimesh(whole.vertices, whole.faces[inside], process=False)


def cut(body: trimesh.Trimesh, height: float) -> np.ndarray:
    lines = trimesh.intersections.mesh_plane(body, [0, 0, 1], [0, 0, height])
    return lines[:, :, :2].reshape(-1, 2)


def bore_box(points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Corners of the box around the inner of two circles, 7 and 10.6 wide."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    inner = points[np.hypot(*(points - middle).T) < 8.5]
    return inner.min(axis=0), inner.max(axis=0)


def test_a_folder_that_holds_something_is_refused_and_overwrite_replaces_its_own(
    place: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    out = place / "out"
    assert main(["trial", "--solid", "20", "--out", str(out), "--quiet"]) == 0
    (out / "timings.json").write_text("mine")
    before = tree(place)
    capfd.readouterr()
    assert main([*SIZES, "--out", str(out)]) == 1
    refused(1, capfd.readouterr(), r"holds 3 entries.*0 entries")
    assert tree(place) == before
    assert main([*SIZES, "--out", str(out), "--overwrite", "--quiet"]) == 0
    after = tree(out)
    assert sorted(after) == ["fit-trial.stl", "job.json", "timings.json"]
    assert after["timings.json"] == b"mine"
    assert after["fit-trial.stl"] != before["out/fit-trial.stl"]
    (out / "fit-trial.stl").write_text("sanded")
    capfd.readouterr()
    assert main([*SIZES, "--out", str(out), "--overwrite", "--quiet"]) == 1
    refused(1, capfd.readouterr(), r"1 file changed.*fit-trial\.stl")


def test_a_job_may_take_a_trials_place_and_the_other_way_round(
    tube_stl: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    job = ["split", str(tube_stl), *JOB, "--out", str(out), "--overwrite", "--quiet"]
    assert main([*SIZES, "--out", str(out), "--quiet"]) == 0
    assert main(job) == 0
    pieces = ["pipe-01.stl", "pipe-02.stl"]
    assert sorted(tree(out)) == ["bed-01.3mf", "job.json", *pieces, "sheet.html", "timings.json"]
    assert main([*SIZES, "--out", str(out), "--quiet", "--overwrite"]) == 0
    assert sorted(tree(out)) == ["fit-trial.stl", "job.json"]


def test_a_parts_own_joint_is_tried(
    tube_stl: Path, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv = [str(tube_stl), *JOB]
    assert main(["plan", *argv, "--json", "--quiet"]) == 0
    (joint,) = json.loads(capfd.readouterr().out)["parts"][0]["joints"]
    assert main(["trial", *argv, "--out", str(tmp_path / "out"), "--json", "--quiet"]) == 0
    record = json.loads(capfd.readouterr().out)
    assert record["joint"]["tenon_diameter"] == joint["tenon_diameter"]
    assert record["joint"]["key_angles_deg"] == pytest.approx(joint["key_angles_deg"])
    assert main(["trial", *argv, "--joint-number", "2", "--out", str(tmp_path / "two")]) == 1
    assert "--joint-number 2" in capfd.readouterr().err
    assert not (tmp_path / "two").exists()


def test_a_file_in_metres_is_told(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    plain_tube(unit=1000.0).save(tmp_path / "pipe.stl")
    argv = ["trial", str(tmp_path / "pipe.stl"), *JOB, "--out", str(tmp_path / "out"), "--json"]
    assert main(argv) == 0
    warnings = json.loads(capfd.readouterr().out)["warnings"]
    assert "Read in m: about 300 mm long and 26 mm across." in warnings


def test_fit_profile_and_envelope_count(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv(FOLDER_VARIABLE, str(tmp_path / "profiles"))
    kept = ["--envelope", "160x100x50", "--clearance", "0.22", "--fit", "push"]
    assert main(["profile", "mine", *kept, "--hole-undersize", "0.1", "--quiet"]) == 0
    capfd.readouterr()
    argv = [*SIZES, "--profile", "mine", "--fit", "push", "--json", "--quiet"]
    assert main([*argv, "--out", str(tmp_path / "out")]) == 0
    record = json.loads(capfd.readouterr().out)
    gaps = [ring["clearance"] for ring in record["rings"][1:]]
    assert gaps == pytest.approx([0.12, 0.17, 0.22, 0.27, 0.32])
    made = [ring["made_clearance"] for ring in record["rings"][1:]]
    assert made == pytest.approx([gap + 0.05 for gap in gaps])
    assert record["settings"]["envelope"] == [160.0, 100.0, 50.0]
    assert record["settings"]["profile"] == "mine"


def test_the_table_is_on_standard_output_and_progress_is_not(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main([*SIZES, "--out", str(tmp_path / "out")]) == 0
    out, err = capfd.readouterr()
    assert [line.rsplit(" ", 2)[0] for line in err.splitlines()] == ["build and prove", "save"]
    for heading in ("Joint", "Rings", "Use", "Take care", "Notes", "Proofs"):
        assert f"\n{heading}\n" in out
    assert out.isascii()
    assert max(map(len, out.splitlines())) <= 100


def test_help_ends_with_0(capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["trial", "--help"]) == 0
    out, err = capfd.readouterr()
    assert out.startswith("usage: borewright trial")
    assert err == ""


def run(*command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, *command], cwd=folder, capture_output=True, text=True, timeout=120,
        check=False, env=os.environ,
    )  # fmt: skip


def test_python_m_borewright_gives_the_same_bytes(trial: Path, place: Path) -> None:
    done = run("-m", "borewright", *SIZES, "--out", "out", folder=place)
    assert done.returncode == 0, done.stderr
    assert tree(place / "out") == tree(trial)
    wrong = run("-m", "borewright", "trial", "--bore", "14", "--out", "two", folder=place)
    assert (wrong.returncode, wrong.stdout) == (2, "")


def test_the_installed_extension_gives_the_same_bytes(
    installed: str, trial: Path, place: Path
) -> None:
    line = (
        f"import sys; from {installed}.addon.command_line.command import main; "
        "sys.exit(main(sys.argv[sys.argv.index('--') + 1:]))"
    )
    script = f"import bpy, addon_utils; addon_utils.enable({installed!r}); " + line
    done = run("-c", script, "--", *SIZES, "--out", "out", folder=place)
    assert done.returncode == 0, done.stderr
    assert tree(place / "out") == tree(trial)
