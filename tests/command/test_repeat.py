"""`--from`: a job by the record of an earlier one."""

from __future__ import annotations

import contextlib
import json
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import pytest
from borewright.addon.jobs.job_settings import JobAsked
from borewright.addon.jobs.recorded_settings import recorded_settings
from borewright.addon.jobs.repeated_job import MOST_BYTES
from borewright.addon.profiles import profile_store
from borewright.core.errors import BadRecord, CoreError
from borewright.core.fitting.printer_profile import FitClearances, PrinterProfile
from borewright.core.recording.settings_record import job_settings_entry
from borewright.core.values import Compensation, PartDemands, Printing, Settings

from tests.command.asked import EVERY, OWN, asked, job_document, saved

USUAL = Settings(envelope=(180.0, 180.0, 180.0))


@pytest.fixture(autouse=True)
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder for profiles that is not there yet."""
    monkeypatch.setenv(profile_store.FOLDER_VARIABLE, str(tmp_path / "profiles"))
    return tmp_path / "profiles"


def repeated(folder: Path, settings: Settings, *options: str) -> JobAsked:
    return asked("pipe.stl", "--from", saved(folder, job_document(settings)), *options)


# The settings in a record


@pytest.mark.parametrize("value", [EVERY, EVERY.printing, EVERY.compensation, OWN["body"]])
def test_the_values_tried_are_all_others_than_by_default(value: object) -> None:
    """So that a field that somebody adds is missed by the test after this one."""
    usual = {Settings: USUAL, Printing: Printing(), Compensation: Compensation(),
             PartDemands: PartDemands()}[type(value)]  # fmt: skip
    for field in fields(usual):
        assert getattr(value, field.name) != getattr(usual, field.name), field.name


def test_every_setting_is_recorded_and_read_again() -> None:
    document = json.loads(json.dumps({"settings": job_settings_entry(EVERY, OWN)}))
    read = recorded_settings(document)
    assert read.settings == EVERY
    assert read.own == OWN


def test_what_older_records_do_not_have_is_as_by_default_and_what_is_unknown_left_alone() -> None:
    read = recorded_settings({"settings": {"envelope": [180, 180, 180], "colour": "red"}})
    assert read.settings == USUAL
    assert read.own == {}


WRONG = [None, True, "x", -1.0, 1e9, 2.5, "1", [], [1], [[1]], [[2, 1]], [[1, 2, 3]], {}, {"a": 1}]


@pytest.mark.parametrize("key", [*job_settings_entry(EVERY, OWN), "printing.", "compensation.",
                                 "own.body."])  # fmt: skip
def test_a_value_of_another_kind_is_refused_or_means_what_an_option_can_say(key: str) -> None:
    """Whatever is read is told, or recorded again just as it was read."""
    taken = 0
    for value in WRONG:
        document: dict[str, Any] = {"settings": job_settings_entry(EVERY, OWN)}
        changed = document["settings"]
        *outer, inner = key.split(".")
        for name in outer:
            changed = changed[name]
        for one in [inner] if inner else list(changed):
            before = changed[one]
            changed[one] = value
            with contextlib.suppress(CoreError):
                read = recorded_settings(document)
                again = json.loads(json.dumps(job_settings_entry(read.settings, read.own)))
                assert recorded_settings({"settings": again}) == read
                taken += 1
            changed[one] = before
    assert taken <= len(WRONG) // 2


@pytest.mark.parametrize(("changes", "message"), [
    ({"clearance": 0.51}, r"clearance is '0\.51'.*from 0 to 0\.5; try: job\.json as a job wrote"),
    ({"clearance": True}, r"clearance is 'True'.*1 number"),
    ({"envelope": [180, 180]}, "envelope is .*3 lengths"),
    ({"pieces": 2.5}, r"pieces is '2\.5'.*whole number"),
    ({"fit": "loose"}, "fit is 'loose'.*glue, push, take-apart"),
    ({"avoid": [[20, 10]]}, "avoid is .*2 numbers, the first the lower"),
    ({"nozzle": 0.3, "layer": 0.4}, r"layers of 0\.4 mm from a nozzle of 0\.3 mm"),
    ({"profile": "a/b"}, "profile name 'a/b'"),
    ({"clearance_from": "profile"}, "clearance_from is 'profile', and there are 0 profiles"),
    ({"own": {"pipe": {"cut": [-1]}}}, r"cut is '\[-1\]'.*from 0\.001"),
    ({"printing": {"material": "cheese"}}, "material is 'cheese'.*PLA"),
])  # fmt: skip
def test_a_damaged_setting_is_told_with_its_key_and_file(
    changes: dict[str, object], message: str, tmp_path: Path
) -> None:
    document = job_document(USUAL)
    document["settings"] = {**job_settings_entry(USUAL, {}), **changes}
    with pytest.raises(CoreError, match=message) as told:
        asked("pipe.stl", "--from", saved(tmp_path, document))
    assert "job.json" in told.value.found


def test_a_record_without_an_envelope_is_refused(tmp_path: Path) -> None:
    document = job_document(USUAL)
    document["settings"] = {}
    with pytest.raises(BadRecord, match="0 keys 'envelope'; needed: 1"):
        asked("pipe.stl", "--from", saved(tmp_path, document))


# The file


def test_a_file_that_holds_no_record_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "job.json"
    for data, message in (
        (b"\xff{}", "not UTF-8, the first at 0"),
        (b"{", "no JSON: .*line 1"),
        (b"[]", "1 JSON list; needed: 1 JSON object"),
        (b"{}", "0 keys 'schema'"),
        (b'{"schema": 1}', "schema is '1'.*1 text"),
        (b'{"schema": "borewright.trial/1"}', "schema 'borewright.trial/1'.*which split writes"),
        (b'{"schema": "borewright.job/2"}', "record of version 2; needed: version 1, the newest"),
        (b'{"schema": "borewright.job/1", "schema": 1}', "key 'schema' 2 times"),
        (b'{"schema": "borewright.job/1", "beds": NaN}', "1 value NaN"),
        (b'{"schema": "borewright.job/1"}', "0 keys 'parts'"),
        (b'{"schema": "borewright.job/1", "parts": [1]}', "parts is .*1 JSON object"),
        (b"[" * 100000, "thousands deep"),
        (b" " * (MOST_BYTES + 1), f"over {MOST_BYTES} bytes"),
    ):
        path.write_bytes(data)
        with pytest.raises(BadRecord, match=message) as told:
            asked("pipe.stl", "--from", str(path))
        assert told.value.found.startswith(f"in {path}: ")


def test_a_file_that_is_not_there_and_a_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(BadRecord, match=r"No such file .*error 2.*--from DIR/job\.json"):
        asked("pipe.stl", "--from", str(tmp_path / "none.json"))
    with pytest.raises(BadRecord, match=r"it is a folder .*--from DIR/job\.json"):
        asked("pipe.stl", "--from", str(tmp_path))


@pytest.mark.parametrize("key", ["name", "source", "survey", "joints", "pieces"])
def test_a_part_of_a_record_that_lacks_something_is_refused(key: str, tmp_path: Path) -> None:
    document = job_document(USUAL)
    (part,) = document["parts"]  # type: ignore[misc,attr-defined]
    del part[key]
    with pytest.raises(BadRecord, match=f"0 keys '{key}'"):
        asked("pipe.stl", "--from", saved(tmp_path, document))


# What a repeated job is asked for


def test_nothing_given_is_all_as_recorded(tmp_path: Path) -> None:
    job = repeated(tmp_path, EVERY)
    assert job.settings == EVERY
    assert job.repeats is not None
    assert job.repeats.document == json.loads((tmp_path / "job.json").read_text())
    assert not job.with_trial


def test_what_is_given_beats_the_record(tmp_path: Path) -> None:
    given = ["--envelope", "200x200x200", "--engagement", "10", "--guard", "1", "--max-move", "0.2",
             "--true", "both", "--least-wall", "1.3", "--units", "mm", "--cut", "120", "--avoid",
             "1-2", "--prefer", "9", "--pieces", "2", "--no-flip", "--bore", "19", "--joint",
             "tenon", "--no-lean", "--spacing", "1", "--material", "PLA", "--filament", "1.75",
             "--lines", "3", "--solid-layers", "4", "--infill", "15", "--flow", "9", "--layer",
             "0.2", "--no-wind"]  # fmt: skip
    job = repeated(tmp_path, EVERY, *given)
    assert job.settings == replace(
        EVERY, envelope=(200.0, 200.0, 200.0), engagement=10.0, guard=1.0, max_move=0.2,
        true="both", least_wall=1.3, units="mm", cuts=(120.0,), avoid=((1.0, 2.0),), prefer=(9.0,),
        pieces=2, flip=False, bore=19.0, joint="tenon", lean=False, spacing=1.0, layer=0.2,
        printing=replace(Printing(), flow=9.0), wind=False,
    )  # fmt: skip


@pytest.mark.parametrize(("given", "clearance", "origin"), [
    ([], 0.17, "asked"),
    (["--layer", "0.2"], 0.17, "asked"),
    (["--clearance", "0.2"], 0.2, "asked"),
    (["--fit", "take-apart"], 0.25, "rule"),
    (["--fit", "push"], 0.125, "rule"),
    (["--nozzle", "0.4"], 0.10, "rule"),
])  # fmt: skip
def test_the_gap_is_chosen_anew_by_what_it_goes_by(
    given: list[str], clearance: float, origin: str, tmp_path: Path
) -> None:
    """By the rule: half of each gap goes with the nozzle, 0.6 of 0.4 in EVERY: a quarter more."""
    settings = repeated(tmp_path, replace(EVERY, profile=None), *given).settings
    assert settings.clearance == pytest.approx(clearance, abs=0.0051)
    assert settings.clearance_from == origin
    assert settings.profile is None


def test_the_profile_of_the_record_is_read_only_to_choose_a_gap(tmp_path: Path) -> None:
    assert repeated(tmp_path, EVERY, "--clearance", "0.3").settings.profile == "mini"
    with pytest.raises(CoreError, match="0 printer profiles of the name 'mini'"):
        repeated(tmp_path, EVERY, "--fit", "glue")
    profile_store.save_profile(PrinterProfile("mini", clearances=FitClearances(glue=0.11)))
    settings = repeated(tmp_path, EVERY, "--fit", "glue").settings
    assert (settings.clearance, settings.clearance_from, settings.profile) == (
        0.11, "profile", "mini",
    )  # fmt: skip
    assert (settings.nozzle, settings.compensation) == (EVERY.nozzle, EVERY.compensation)


def test_a_profile_that_is_given_is_the_printer_and_the_envelope_stays_where_it_has_none(
    tmp_path: Path,
) -> None:
    profile_store.save_profile(
        PrinterProfile("maxi", nozzle=0.8, layer=0.4, clearances=FitClearances(push=0.09))
    )
    settings = repeated(tmp_path, EVERY, "--profile", "maxi").settings
    assert (settings.profile, settings.nozzle, settings.layer) == ("maxi", 0.8, 0.4)
    assert (settings.clearance, settings.clearance_from) == (0.09, "profile")
    assert (settings.compensation, settings.printing) == (Compensation(), Printing())
    assert settings.envelope == EVERY.envelope
    assert settings.fit == "push"


def test_another_nozzle_takes_its_own_layers_and_the_wall_that_it_decided(tmp_path: Path) -> None:
    settings = repeated(tmp_path, USUAL, "--nozzle", "0.6").settings
    assert (settings.layer, settings.least_wall) == (0.3, 1.2)
    settings = repeated(tmp_path, replace(USUAL, least_wall=0.9), "--nozzle", "0.6").settings
    assert settings.least_wall == 0.9


def test_another_joint_takes_the_fit_that_it_decides(tmp_path: Path) -> None:
    settings = repeated(tmp_path, USUAL, "--joint", "oring").settings
    assert (settings.fit, settings.clearance_from) == ("take-apart", "rule")
    assert settings.clearance == 0.20
    settings = repeated(tmp_path, replace(USUAL, fit="push"), "--joint", "oring").settings
    assert settings.fit == "push"


def test_the_trial_is_repeated_unless_it_is_told_not_to_be(tmp_path: Path) -> None:
    document = job_document(USUAL)
    document["trial"] = {"file": "fit-trial.stl"}
    record = saved(tmp_path, document)
    assert asked("pipe.stl", "--from", record).with_trial
    assert not asked("pipe.stl", "--from", record, "--no-trial").with_trial
    assert not repeated(tmp_path, USUAL).with_trial
    assert repeated(tmp_path, USUAL, "--trial").with_trial


# What was asked for single parts


THREE = ("head.stl", "body.stl", "foot.stl")


def test_what_single_parts_were_asked_for_is_repeated(tmp_path: Path) -> None:
    record = saved(tmp_path, job_document(EVERY, OWN, THREE))
    assert asked(*THREE, "--from", record).own == OWN
    assert asked("body.stl", "--from", record).own == OWN
    assert asked("foot.stl", "--from", record).own == {}


def test_a_part_of_another_name_in_the_same_place_is_the_same(tmp_path: Path) -> None:
    record = saved(tmp_path, job_document(EVERY, OWN, THREE))
    own = asked("head.stl", "body-v2.stl", "foot.stl", "--from", record).own
    assert own == {"body-v2": OWN["body"], "body-v2-b": OWN["body-b"]}


def test_what_cannot_be_told_to_be_the_same_part_is_refused(tmp_path: Path) -> None:
    record = saved(tmp_path, job_document(EVERY, OWN, THREE))
    with pytest.raises(BadRecord, match=r"asked for part 'body', and 'new' .*: head, body, foot"):
        asked("new.stl", "--from", record)
    with pytest.raises(BadRecord, match="asked for part 'body', and 'bottom' among the 3 parts"):
        asked("bottom.stl", "head.stl", "foot.stl", "--from", record)


def test_an_option_for_one_part_puts_aside_all_that_is_recorded_of_its_kind(
    tmp_path: Path,
) -> None:
    record = saved(tmp_path, job_document(EVERY, OWN, THREE))
    job = asked(*THREE, "--from", record, "--cut", "foot:12")
    assert job.settings.cuts == ()
    assert job.settings.avoid == EVERY.avoid
    assert job.own == {
        "body": replace(OWN["body"], cuts=()), "body-b": OWN["body-b"],
        "foot": PartDemands(cuts=(12.0,)),
    }  # fmt: skip


def test_none_takes_back_what_is_recorded_of_its_kind(tmp_path: Path) -> None:
    record = saved(tmp_path, job_document(EVERY, OWN, THREE))
    job = asked(*THREE, "--from", record, "--cut", "none", "--pieces", "none", "--prefer", "none")
    assert (job.settings.cuts, job.settings.pieces, job.settings.prefer) == ((), None, ())
    assert job.settings.avoid == EVERY.avoid
    assert job.own == {"body": PartDemands(avoid=OWN["body"].avoid)}
    assert asked("a.stl", "--envelope", "9x9x9", "--cut", "none", "--cut", "3").settings.cuts == (
        3.0,
    )
