"""Printer profiles: the command that keeps them, where they lie, and what jobs take from them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from borewright.addon.command_line.command import main
from borewright.addon.profiles import profile_store
from borewright.addon.settings.printer_settings import printer_of, printer_settings
from borewright.core.errors import BadProfile
from borewright.core.fitting.printer_profile import PrinterProfile, format_profile, parse_profile
from borewright.core.values import Printing

from tests.blender.conftest import ENVELOPE, refused, tree

ALL = ["--envelope", "150x160x170", "--nozzle", "0.6", "--layer", "0.18", "--spread", "0.1",
       "--clearance", "0.22", "--hole-undersize", "0.1", "--first-layer-bulge", "0.2",
       "--shrink", "0.5", "--material", "petg", "--filament", "2.85", "--lines", "2",
       "--solid-layers", "5", "--infill", "20", "--flow", "7.5"]  # fmt: skip

MINI = ["profile", "mini"]


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for profiles that is not there yet."""
    folder = tmp_path / "kept" / "profiles"
    monkeypatch.setenv(profile_store.FOLDER_VARIABLE, str(folder))
    return folder


def kept(store: Path, name: str = "mini") -> dict[str, object]:
    document: dict[str, object] = json.loads((store / f"{name}.json").read_text())
    return document


def planned(
    tube_stl: Path, options: list[str], capfd: pytest.CaptureFixture[str]
) -> dict[str, object]:
    """The record of a plan of the tube; it must succeed."""
    capfd.readouterr()
    assert main(["plan", str(tube_stl), *options, "--json", "--quiet"]) == 0
    record: dict[str, object] = json.loads(capfd.readouterr().out)
    return record


# The command


def test_a_profile_is_kept_shown_listed_and_removed(
    store: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["profile"]) == 0
    assert capfd.readouterr().out == f"0 printer profiles in {store}\n"
    assert not store.parent.exists()
    assert main([*MINI, *ALL]) == 0
    told = capfd.readouterr().out
    for said in (f"{store}/mini.json", "150 x 160 x 170 mm", "0.6 mm, layers of 0.18 mm",
                 "0.22 mm a side, kept", "0.1 mm too narrow", "bulge 0.2 mm", "0.5 %",
                 "PETG, 2.85 mm", "2 lines side by side, 5 solid layers", "20 %", "7.5 mm3/s",
                 "plus and minus 0.1 mm", "0.12 mm a side, by common practice"):  # fmt: skip
        assert said in told
    assert list(tree(store)) == ["mini.json"]
    assert main(["profile"]) == 0
    listed = capfd.readouterr().out
    assert listed.startswith("1 printer profile in ")
    assert "\n  mini: 150 x 160 x 170 mm, 0.6 mm nozzle" in listed
    assert main([*MINI, "--remove"]) == 0
    assert tree(store) == {}


def test_what_is_not_given_stays_as_it_is_kept(store: Path) -> None:
    assert main([*MINI, *ALL]) == 0
    before = kept(store)
    assert main([*MINI, "--clearance", "0.13", "--fit", "take-apart"]) == 0
    assert main([*MINI, "--shrink", "0"]) == 0
    assert main([*MINI, "--infill", "0"]) == 0
    after = kept(store)
    assert after.pop("printing") == {
        "material": "PETG", "filament": 2.85, "lines": 2, "solid_layers": 5, "infill_percent": 0.0,
        "flow": 7.5,
    }  # fmt: skip
    before.pop("printing")
    assert after.pop("clearances") == {"glue": 0.22, "push": None, "take_apart": 0.13}
    made = after.pop("compensation")
    assert made == {"hole_undersize": 0.1, "first_layer_bulge": 0.2, "shrink_percent": 0.0}
    before.pop("clearances"), before.pop("compensation")
    assert after == before


def test_a_profile_of_version_1_stays_as_it_is_until_something_changes(
    store: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    store.mkdir(parents=True)
    document = json.loads(format_profile(PrinterProfile("mini")))
    document["schema"] = "borewright.printer/1"
    del document["printing"]
    (store / "mini.json").write_text(json.dumps(document))
    before = tree(store)
    assert main(MINI) == 0
    told = capfd.readouterr().out
    assert "filament      PLA, 1.75 mm" in told
    assert "not known, and no time is told" in told
    assert main([*MINI, "--nozzle", "0.4", "--infill", "15"]) == 0
    assert tree(store) == before
    assert main([*MINI, "--infill", "25"]) == 0
    assert kept(store)["schema"] == "borewright.printer/2"
    assert parse_profile((store / "mini.json").read_text()).printing.infill_percent == 25.0


def test_a_new_profile_has_layers_of_half_its_nozzle(store: Path) -> None:
    assert main(["profile", "wide", "--nozzle", "0.8"]) == 0
    assert (kept(store, "wide")["nozzle"], kept(store, "wide")["layer"]) == (0.8, 0.4)


def test_json_is_the_file_or_a_list_of_all(store: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert main([*MINI, *ALL, "--json"]) == 0
    out, err = capfd.readouterr()
    assert (out, err) == ((store / "mini.json").read_text(), "")
    (store / "bad.json").write_text("{")
    assert main(["profile", "--json"]) == 0
    listed = json.loads(capfd.readouterr().out)
    assert listed["folder"] == str(store)
    assert listed["profiles"] == [kept(store)]
    (entry,) = listed["unreadable"]
    assert entry["file"] == str(store / "bad.json")
    assert "no JSON" in entry["problem"]
    assert main([*MINI, "--remove", "--json"]) == 0
    assert json.loads(capfd.readouterr().out) == {"removed": str(store / "mini.json")}


WRONG = {
    "option without a name": (["--nozzle", "0.4"], "--nozzle without NAME"),
    "removing nothing": (["--remove"], "--remove without NAME"),
    "removing and keeping": (["mini", "--remove", "--layer", "0.2"], "--remove with --layer"),
    "fit without its gap": (["mini", "--fit", "push"], "--fit without --clearance"),
    "unknown fit": (["mini", "--clearance", "0.1", "--fit", "loose"], "invalid choice: 'loose'"),
    "wide nozzle": (["mini", "--nozzle", "2.5"], r"'2\.5'.*from 0\.1 to 2"),
    "much shrink": (["mini", "--shrink", "6"], "'6'; needed: percent from 0 to 5"),
    "shrink in words": (["mini", "--shrink", "some"], "'some'; needed: a number"),
    "undersize": (["mini", "--hole-undersize", "-0.1"], r"'-0\.1'.*from 0 to 1"),
    "unknown material": (
        ["mini", "--material", "gold"],
        "'gold'; needed: 1 of PLA, PETG, ABS, wood-PLA",
    ),
    "wide filament": (
        ["mini", "--filament", "17.5"],
        r"'17\.5'; needed: a length in mm from 1 to 5",
    ),
    "no lines": (["mini", "--lines", "0"], "'0'; needed: a whole number from 1 to 20"),
    "lines by halves": (["mini", "--lines", "2.5"], r"'2\.5'; needed: a whole number"),
    "many solid layers": (
        ["mini", "--solid-layers", "51"],
        "'51'; needed: a whole number from 0 to 50",
    ),
    "much infill": (["mini", "--infill", "101"], "'101'; needed: percent from 0 to 100"),
    "no flow": (["mini", "--flow", "0"], r"'0'; needed: mm3/s from 0\.1 to 500"),
    "printing without a name": (["--flow", "5"], "--flow without NAME"),
    "bulge": (["mini", "--first-layer-bulge", "nan"], "'nan'"),
    "two names": (["mini", "maxi"], "unrecognized arguments: maxi"),
    "shortened option": (["mini", "--clear", "0.1"], "unrecognized arguments: --clear"),
}


@pytest.mark.parametrize("case", WRONG)
def test_wrong_arguments_end_with_2(
    case: str, store: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv, pattern = WRONG[case]
    assert main(["profile", *argv]) == 2
    refused(2, capfd.readouterr(), "error 2, wrong arguments: .*" + pattern)
    assert not store.exists()


REFUSED = {
    "not there": (["mini"], "0 printer profiles of the name 'mini' in .*, which has 0"),
    "removing what is not there": (["mini", "--remove"], "0 printer profiles of the name"),
    "a path": (["../mini", "--nozzle", "0.4"], "1 odd characters, the first '/'"),
    "a device": (["con", "--nozzle", "0.4"], "1 profile name that is a device's"),
    "a long name": (["m" * 101, "--nozzle", "0.4"], "a profile name of 101 bytes"),
    "high layers": (["mini", "--nozzle", "0.4", "--layer", "0.5"], r"layers of 0\.5 mm from"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_kept_ends_with_1(
    case: str, store: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    argv, pattern = REFUSED[case]
    assert main(["profile", *argv]) == 1
    refused(1, capfd.readouterr(), pattern)
    assert not store.exists()


# What jobs take from a profile


@pytest.mark.usefixtures("store")
def test_a_job_takes_from_the_profile_what_is_not_given(
    tube_stl: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main([*MINI, *ALL]) == 0
    record = planned(tube_stl, ["--profile", "mini"], capfd)
    settings = record["settings"]
    assert isinstance(settings, dict)
    assert {key: settings[key] for key in (
        "envelope", "nozzle", "layer", "spread", "clearance", "clearance_from", "fit", "profile",
        "compensation",
    )} == {
        "envelope": [150.0, 160.0, 170.0], "nozzle": 0.6, "layer": 0.18, "spread": 0.1,
        "clearance": 0.22, "clearance_from": "profile", "fit": "glue", "profile": "mini",
        "compensation": {"hole_undersize": 0.1, "first_layer_bulge": 0.2, "shrink_percent": 0.5},
    }  # fmt: skip
    warnings = record["warnings"]
    assert isinstance(warnings, list)
    assert [next(word for word in ("Gaps", "Mouths", "Files") if word in said)
            for said in warnings] == ["Gaps", "Mouths", "Files"]  # fmt: skip
    (part,) = record["parts"]  # type: ignore[misc]
    assert all(joint["radial_clearance"] == pytest.approx(0.27) for joint in part["joints"])


def test_a_job_prints_as_the_profile_says() -> None:
    printing = Printing("ABS", 2.85, lines=2, solid_layers=5, infill_percent=20.0, flow=7.5)
    profile = PrinterProfile("mini", (150.0, 160.0, 170.0), printing=printing)
    assert printer_settings(printer_of(profile), None).printing == printing


@pytest.mark.usefixtures("store")
def test_what_is_given_beats_the_profile(tube_stl: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert main([*MINI, *ALL]) == 0
    given = [*ENVELOPE, "--nozzle", "0.4", "--layer", "0.1", "--clearance", "0.11"]
    settings = planned(tube_stl, ["--profile", "mini", *given], capfd)["settings"]
    assert isinstance(settings, dict)
    assert settings["envelope"] == [180.0, 180.0, 180.0]
    assert (settings["nozzle"], settings["layer"], settings["clearance"]) == (0.4, 0.1, 0.11)
    assert (settings["clearance_from"], settings["profile"]) == ("asked", "mini")


@pytest.mark.usefixtures("store")
@pytest.mark.parametrize(("fit", "gap", "origin"), [
    ("glue", 0.22, "profile"), ("push", 0.12, "rule"), ("take-apart", 0.25, "rule"),
])  # fmt: skip
def test_a_fit_that_the_profile_has_no_gap_for_takes_the_rules(
    fit: str, gap: float, origin: str, tube_stl: Path,
    capfd: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """By the rule for its nozzle of 0.6: 0.10 and 0.20, a half of each 1.5 times as much."""
    assert main([*MINI, *ALL]) == 0
    settings = planned(tube_stl, ["--profile", "mini", "--fit", fit], capfd)["settings"]
    assert isinstance(settings, dict)
    assert (settings["clearance"], settings["clearance_from"]) == (gap, origin)


@pytest.mark.usefixtures("store")
def test_the_table_tells_the_fit_and_why(tube_stl: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", str(tube_stl), *ENVELOPE, "--quiet"]) == 0
    told = " ".join(capfd.readouterr().out.split())
    assert "Fit glue: 0.15 mm a side, common practice for a 0.4 mm nozzle" in told
    assert "0.30 mm of the diameter, as in ISO 286 H11/c11 (0.110 to 0.370 mm)." in told
    assert "none of these is printable. The finest printable grade is IT14" in told


@pytest.mark.usefixtures("store")
def test_a_profile_without_an_envelope_is_told_to_a_job(
    tube_stl: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main([*MINI, "--nozzle", "0.4"]) == 0
    capfd.readouterr()
    assert main(["plan", str(tube_stl), "--profile", "mini", "--quiet"]) == 1
    refused(1, capfd.readouterr(), "0 envelopes in printer profile mini.*--envelope 180x180x180")


@pytest.mark.usefixtures("store")
def test_a_profile_that_is_not_there_is_told_with_those_that_are(
    tube_stl: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main([*MINI, *ALL]) == 0
    capfd.readouterr()
    assert main(["plan", str(tube_stl), "--profile", "maxi", "--quiet"]) == 1
    refused(1, capfd.readouterr(), "0 printer profiles of the name 'maxi'.*has 1;.*one of mini")


# Damage


DAMAGE = {
    "cut short": format_profile(PrinterProfile("mini"))[:-9].encode(),
    "of a newer version": b'{"schema": "borewright.printer/3", "name": "mini", "speed": 60}',
    "no text": b"\xff\xfe\x00mini",
    "empty": b"",
    "of another name": format_profile(PrinterProfile("maxi")).encode(),
    "large": format_profile(PrinterProfile("mini")).encode() + b" " * profile_store.MOST_BYTES,
}


@pytest.mark.parametrize("case", DAMAGE)
def test_a_damaged_profile_is_told_with_its_path_and_left_alone(
    case: str, store: Path, tube_stl: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    store.mkdir(parents=True)
    (store / "mini.json").write_bytes(DAMAGE[case])
    before = tree(store)
    for argv in (
        MINI, [*MINI, *ALL], ["profile", "MINI", "--nozzle", "0.4"], [*MINI, "--remove"],
        ["plan", str(tube_stl), *ENVELOPE, "--profile", "mini", "--quiet"],
    ):  # fmt: skip
        assert main(argv) == 1
        refused(1, capfd.readouterr(), f"found: in {store}/mini.json: ")
        assert tree(store) == before
    with pytest.raises(BadProfile, match=r"mini\.json"):
        profile_store.save_profile(PrinterProfile("Mini"))
    assert main(["profile", "other", "--nozzle", "0.4"]) == 0
    capfd.readouterr()
    assert main(["profile"]) == 0
    told = capfd.readouterr().out
    assert "1 printer profile in" in told
    assert f"cannot be read: found: in {store}/mini.json" in told
    assert (store / "mini.json").read_bytes() == DAMAGE[case]


@pytest.mark.skipif(os.name != "posix", reason="makes a POSIX pipe")
def test_a_pipe_in_the_place_of_a_profile_is_told_and_not_waited_for(
    store: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    store.mkdir(parents=True)
    os.mkfifo(store / "mini.json")
    assert main([*MINI, "--nozzle", "0.4"]) == 1
    refused(1, capfd.readouterr(), "0 files: it is a folder or device")


def test_a_file_in_the_place_of_the_folder_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("mine")
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        monkeypatch.setenv(profile_store.FOLDER_VARIABLE, str(folder))
        assert main([*MINI, "--nozzle", "0.4"]) == 1
        refused(1, capfd.readouterr(), r"file.*error \d+")
    assert (tmp_path / "file").read_text() == "mine"


# Names and files


def test_names_that_differ_in_capitals_are_one_profile(
    store: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main(["profile", "Mini", "--nozzle", "0.6"]) == 0
    assert main(["profile", "mINI", "--layer", "0.2"]) == 0
    assert list(tree(store)) == ["Mini.json"]
    assert (kept(store, "Mini")["name"], kept(store, "Mini")["nozzle"]) == ("Mini", 0.6)
    capfd.readouterr()
    (store / "mini.json").write_text(format_profile(PrinterProfile("mini")))
    assert main(["profile", "mini"]) == 1
    refused(1, capfd.readouterr(), "2 files for one profile name: .*Mini.json and .*mini.json")


def test_a_name_written_with_loose_accents_is_the_same_name(store: Path) -> None:
    assert main(["profile", "Ku\u0308che", "--nozzle", "0.6"]) == 0
    assert main(["profile", "K\u00fcche", "--layer", "0.2"]) == 0
    assert list(tree(store)) == ["K\u00fcche.json"]


def test_files_of_other_kinds_are_none_of_ours(store: Path) -> None:
    store.mkdir(parents=True)
    for name in (".mini.json.0123", ".hidden.json", "notes.txt"):
        (store / name).write_text("mine")
    assert profile_store.kept_profiles() == profile_store.Kept(store, (), ())


def test_a_byte_order_mark_of_an_editor_is_no_damage(store: Path) -> None:
    store.mkdir(parents=True)
    text = "\ufeff" + format_profile(PrinterProfile("mini", nozzle=0.5, layer=0.2))
    (store / "mini.json").write_text(text.replace("\n", "\r\n"), encoding="utf-8")
    assert profile_store.read_profile("mini").nozzle == 0.5


@pytest.mark.skipif(os.name != "posix", reason="makes a POSIX link")
def test_a_profile_that_lies_elsewhere_by_a_link_stays_there(store: Path, tmp_path: Path) -> None:
    store.mkdir(parents=True)
    elsewhere = tmp_path / "elsewhere.json"
    elsewhere.write_text(format_profile(PrinterProfile("mini")))
    elsewhere.chmod(0o640)
    (store / "mini.json").symlink_to(elsewhere)
    assert main([*MINI, "--nozzle", "0.7"]) == 0
    assert (store / "mini.json").is_symlink()
    assert parse_profile(elsewhere.read_text()).nozzle == 0.7
    assert elsewhere.stat().st_mode & 0o777 == 0o640
    assert sorted(path.name for path in tmp_path.iterdir()) == ["elsewhere.json", "kept"]


def test_a_save_that_fails_leaves_the_profile_as_it_was(
    store: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    assert main([*MINI, *ALL]) == 0
    before = tree(store)
    capfd.readouterr()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert main([*MINI, "--nozzle", "0.4", "--layer", "0.1"]) == 1
    refused(1, capfd.readouterr(), r"No space left on device \(error 28\)")
    assert tree(store) == before


WRITE_ON = """
import sys
from borewright.addon.profiles.profile_store import save_profile
from borewright.core.fitting.printer_profile import PrinterProfile
for number in range(400):
    save_profile(PrinterProfile("mini", nozzle=0.4 + number / 1000.0))
"""


def test_a_profile_is_whole_whenever_it_is_read(store: Path) -> None:
    profile_store.save_profile(PrinterProfile("mini"))
    with subprocess.Popen([sys.executable, "-c", WRITE_ON]) as writer:
        reads, seen = 0, set()
        while writer.poll() is None:
            seen.add(profile_store.read_profile("mini").nozzle)
            reads += 1
    assert writer.returncode == 0
    assert reads > 10
    assert len(seen) > 2
    assert list(tree(store)) == ["mini.json"]


# Where they lie


def test_outside_of_blender_they_lie_in_the_users_configuration_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(profile_store.FOLDER_VARIABLE, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("USERPROFILE", str(tmp_path))
    named = tmp_path / "settings"
    for platform, variable, value, folder in (
        ("linux", "XDG_CONFIG_HOME", str(named), named),
        ("linux", "XDG_CONFIG_HOME", "", tmp_path / ".config"),
        ("linux", "XDG_CONFIG_HOME", "not/absolute", tmp_path / ".config"),
        ("darwin", "XDG_CONFIG_HOME", str(named), tmp_path / "Library" / "Application Support"),
        ("win32", "APPDATA", str(named), named),
        ("win32", "APPDATA", "", tmp_path / "AppData" / "Roaming"),
    ):
        monkeypatch.setattr(sys, "platform", platform)
        monkeypatch.setenv(variable, value)
        assert profile_store.profiles_folder() == folder / "borewright" / "profiles"
    assert list(tmp_path.iterdir()) == []


def run(script: list[str], **environment: str) -> subprocess.CompletedProcess[str]:
    own = {name: value for name, value in os.environ.items()
           if name not in {profile_store.FOLDER_VARIABLE, "XDG_CONFIG_HOME"}}  # fmt: skip
    return subprocess.run(
        [sys.executable, *script], capture_output=True, text=True, timeout=120, check=False,
        env={**own, **environment},
    )  # fmt: skip


@pytest.mark.skipif(sys.platform in {"win32", "darwin"}, reason="asks for the XDG folder")
def test_python_m_borewright_keeps_them_in_the_xdg_folder(tmp_path: Path) -> None:
    argv = ["-m", "borewright", "profile", "mini", "--nozzle", "0.5"]
    done = run(argv, XDG_CONFIG_HOME=str(tmp_path))
    assert (done.returncode, done.stderr) == (0, "")
    assert list(tree(tmp_path)) == [
        "borewright", "borewright/profiles", "borewright/profiles/mini.json",
    ]  # fmt: skip
    again = run(["-m", "borewright", "profile", "mini", "--json"], XDG_CONFIG_HOME=str(tmp_path))
    assert parse_profile(again.stdout).nozzle == 0.5
    assert run(["-m", "borewright", "profile", "--remove"]).returncode == 2


def test_the_installed_extension_keeps_them_in_its_own_user_folder(
    installed: str, tmp_path: Path
) -> None:
    """One folder for the command in a background script and for what runs in Blender."""
    script = (
        f"import sys, bpy, addon_utils; addon_utils.enable({installed!r}, default_set=True); "
        f"from {installed}.addon.command_line import command; "
        f"from {installed}.addon.profiles import profile_store; "
        "code = command.main(sys.argv[1:]); "
        f"own = bpy.utils.extension_path_user({installed!r}); "
        "print(own, profile_store.profiles_folder(), sep='|', file=sys.stderr); sys.exit(code)"
    )
    done = run(["-c", script, "profile", "mini", "--nozzle", "0.5"], XDG_CONFIG_HOME=str(tmp_path))
    assert done.returncode == 0, done.stderr
    own, folder = map(Path, done.stderr.strip().split("|"))
    assert folder == own / "profiles"
    assert own.is_relative_to(os.environ["BLENDER_USER_RESOURCES"])
    assert list(tree(own)) == ["profiles", "profiles/mini.json"]
    again = run(["-c", script, "profile", "mini", "--json"], XDG_CONFIG_HOME=str(tmp_path))
    assert parse_profile(again.stdout).nozzle == 0.5
    assert list(tmp_path.iterdir()) == []
