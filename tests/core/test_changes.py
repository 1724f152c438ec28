"""What moved between two jobs, by records whose difference is known."""

from __future__ import annotations

import copy
import json
import math
from typing import Any

import pytest
from borewright.core.errors import BadRecord
from borewright.core.recording.changes import changes_words
from borewright.core.recording.job_seen import place_matches, seen_job

NOTHING = (
    "Nothing moved: lengths, bores, outsides, side holes, seams, joints, pieces and beds are as "
    "they were."
)


def surface(diameter: float, low: float, high: float) -> dict[str, Any]:
    return {"diameter": diameter, "from": low, "to": high, "offset": [0.0, 0.0], "rms": 0.001}


def hole(station: float, angle_deg: float) -> dict[str, Any]:
    return {"station": station, "angle_deg": angle_deg, "axial_width": 7.0, "across_width": 7.1,
            "bore": 0}  # fmt: skip


def joint(station: float) -> dict[str, Any]:
    return {"kind": "tenon", "station": station, "engagement": 11.0, "tenon_diameter": 22.0,
            "socket_diameter": 22.3, "radial_clearance": 0.15, "key_angle_deg": -45.0}  # fmt: skip


def piece(number: int, height: float) -> dict[str, Any]:
    return {"name": f"pipe-{number:02d}", "role": "piece", "size": [26.0, 26.0, height],
            "sha256": f"{number}", "bed": 0}  # fmt: skip


def part(name: str) -> dict[str, Any]:
    return {
        "name": name,
        "source": {"file": f"{name}.stl"},
        "survey": {
            "length": 450.0,
            "bores": [surface(19.0, 0.0, 450.0)],
            "outsides": [surface(26.0, 0.0, 450.0)],
            "side_holes": [hole(60.0, 0.0), hole(90.0, 90.0), hole(120.0, 180.0)],
        },
        "joints": [joint(150.0), joint(300.0)],
        "pieces": [piece(1, 161.0), piece(2, 161.0), piece(3, 150.0)],
    }


def document(*names: str) -> dict[str, Any]:
    return {
        "schema": "borewright.job/1",
        "settings": {"envelope": [180.0, 180.0, 180.0], "clearance": 0.15, "cut": [], "bore": None,
                     "flip": False, "compensation": {"hole_undersize": 0.0}, "own": {}},
        "parts": [part(name) for name in names],
        "beds": [{"file": "bed-01.3mf"}],
        "trial": None,
    }  # fmt: skip


OLD = document("pipe")


def moved(*path_and_value: Any) -> tuple[str, ...]:
    """What is told where one value of the only part is another."""
    *path, last, value = path_and_value
    new = copy.deepcopy(OLD)
    there: Any = new["parts"][0]
    for key in path:
        there = there[key]
    there[last] = value
    return changes_words(OLD, new)


def test_nothing_moved_is_told_and_what_is_below_the_last_digit_is_nothing() -> None:
    assert changes_words(OLD, OLD) == (NOTHING,)
    assert moved("survey", "length", 450.004) == (NOTHING,)
    assert moved("survey", "side_holes", 1, "angle_deg", 90.04) == (NOTHING,)
    assert moved("survey", "side_holes", 2, "angle_deg", -180.0) == (NOTHING,)


@pytest.mark.parametrize(("change", "told"), [
    (("survey", "length", 452.0), "length 452.00 mm, before 450.00"),
    (("survey", "bores", 0, "diameter", 19.1), "bore 1, diameter 19.10 mm, before 19.00"),
    (("survey", "bores", 0, "from", 5.0), "bore 1, from station 5.00 mm, before 0.00"),
    (("survey", "bores", 0, "offset", [0.3, 0.4]), "bore 1, off the axis by 0.50 mm, before 0.00"),
    (("survey", "bores", []), "0 stretches of bore, before 1"),
    (("survey", "outsides", 0, "diameter", 25.5), "outside 1, diameter 25.50 mm, before 26.00"),
    (("survey", "side_holes", 1, "station", 92.5), "side hole 2, station 92.50 mm, before 90.00"),
    (("survey", "side_holes", 1, "angle_deg", 91.0), "side hole 2, angle 91.0 deg, before 90.0"),
    (("survey", "side_holes", 0, "axial_width", 8.0),
     "side hole 1, width along 8.00 mm, before 7.00"),
    (("joints", 0, "station", 151.0), "seam 1, station 151.00 mm, before 150.00"),
    (("joints", 1, "kind", "pins"), "seam 2, joint pins, before tenon"),
    (("joints", 1, "engagement", 9.0), "seam 2, engagement 9.00 mm, before 11.00"),
    (("joints", 1, "tenon_diameter", 21.0), "seam 2, inner diameter 21.00 mm, before 22.00"),
    (("joints", 1, "socket_diameter", 21.0), "seam 2, outer diameter 21.00 mm, before 22.30"),
    (("joints", 1, "radial_clearance", 0.2), "seam 2, clearance 0.20 mm, before 0.15"),
    (("joints", 1, "key_angle_deg", 45.0), "seam 2, first key 45.0 deg, before -45.0"),
    (("pieces", 0, "size", [26.0, 26.0, 162.0]), "piece 1, height 162.00 mm, before 161.00"),
    (("pieces", 0, "bed", 1), "piece 1, on bed 2, before on bed 1"),
    (("pieces", [piece(1, 161.0)]), "1 piece, before 3"),
    (("survey", None), "could not be surveyed, before it could"),
])  # fmt: skip
def test_what_moved_is_told_with_both_numbers(change: tuple[Any, ...], told: str) -> None:
    assert f"pipe: {told}." in moved(*change)
    assert NOTHING not in moved(*change)


def test_a_part_that_grows_moves_its_surfaces_ends_with_it_and_is_told_once() -> None:
    new = copy.deepcopy(OLD)
    new["parts"][0]["survey"] |= {
        "length": 452.0, "bores": [surface(19.0, 0.0, 452.0)],
        "outsides": [surface(26.0, 0.0, 452.0)],
    }  # fmt: skip
    assert changes_words(OLD, new) == ("pipe: length 452.00 mm, before 450.00.",)


def test_holes_are_known_again_by_place_whatever_their_order() -> None:
    holes = [hole(121.0, 180.0), hole(60.0, 0.0), hole(90.0, 90.0), hole(90.0, -90.0)]
    assert moved("survey", "side_holes", holes) == (
        "pipe: side hole 1, station 121.00 mm, before 120.00.",
        "pipe: side hole 4 new, at station 90.00 mm, -90.0 deg.",
    )
    assert moved("survey", "side_holes", [hole(60.0, 0.0), hole(120.0, 180.0)]) == (
        "pipe: side hole gone, before at station 90.00 mm, 90.0 deg.",
    )


def test_an_angle_is_never_told_as_minus_zero() -> None:
    old = copy.deepcopy(OLD)
    old["parts"][0]["survey"]["side_holes"] = [hole(60.0, -1e-6)]
    new = copy.deepcopy(OLD)
    new["parts"][0]["survey"]["side_holes"] = []
    assert changes_words(old, new) == (
        "pipe: side hole gone, before at station 60.00 mm, 0.0 deg.",
    )


def test_each_hole_is_known_again_once() -> None:
    """Both are nearest to the one at 60; the one of 75 is left for the farther of them."""
    old = copy.deepcopy(OLD)
    old["parts"][0]["survey"]["side_holes"] = [hole(60.0, 0.0), hole(75.0, 0.0)]
    new = copy.deepcopy(OLD)
    new["parts"][0]["survey"]["side_holes"] = [hole(61.0, 0.0), hole(62.5, 0.0)]
    assert changes_words(old, new) == (
        "pipe: side hole 1, station 61.00 mm, before 60.00.",
        "pipe: side hole 2, station 62.50 mm, before 75.00.",
    )


def test_a_hole_that_is_farther_than_20_mm_along_or_around_is_another() -> None:
    """Around: 20 mm on a radius of 13 mm are 88.15 degrees."""
    around = math.degrees(20.0 / 13.0)
    for turn, count in ((around - 0.1, 1), (around + 0.1, 2)):
        assert len(moved("survey", "side_holes", 0, "angle_deg", -turn)) == count
    for station, count in ((40.1, 1), (39.9, 2)):
        assert len(moved("survey", "side_holes", 0, "station", station)) == count


def test_a_cut_more_is_new_and_the_others_are_the_nearest() -> None:
    assert moved("joints", [joint(120.0), joint(151.0), joint(300.0)]) == (
        "pipe: seam 1 new, at station 120.00 mm.",
        "pipe: seam 2, station 151.00 mm, before 150.00.",
    )
    assert moved("joints", [joint(300.0)]) == ("pipe: seam gone, before at station 150.00 mm.",)
    assert moved("joints", []) == (
        "pipe: seam gone, before at station 150.00 mm.",
        "pipe: seam gone, before at station 300.00 mm.",
    )


def test_pieces_that_are_the_same_files_are_told_where_others_are_not() -> None:
    assert moved("pieces", 1, "sha256", "x") == (
        "pipe: 2 of 3 files the same to the byte, pipe-01 pipe-03.",
    )


def test_a_plan_is_compared_as_far_as_it_goes() -> None:
    planned = copy.deepcopy(OLD)
    planned["parts"][0]["pieces"], planned["beds"] = [], []
    (told,) = changes_words(OLD, planned)
    assert told.endswith("side holes, seams and joints are as they were.")


def test_beds_are_not_called_the_same_where_an_older_job_made_none() -> None:
    old = copy.deepcopy(OLD)
    old["beds"] = []
    for one in old["parts"][0]["pieces"]:
        one["bed"] = None
    (told,) = changes_words(old, OLD)
    assert told.endswith("seams, joints and pieces are as they were.")


def test_beds_are_counted() -> None:
    new = copy.deepcopy(OLD)
    new["beds"] *= 2
    assert changes_words(OLD, new) == ("2 beds, before 1.",)


def test_parts_that_came_and_went_are_told_by_name() -> None:
    old, new = document("head", "body", "foot"), document("head", "bell")
    assert changes_words(old, new) == (
        "bell: new, 2 seams.", "body: gone.", "foot: gone.",
    )  # fmt: skip


def test_a_file_of_another_name_in_the_same_place_is_told_and_compared() -> None:
    old, new = document("head", "body"), document("head", "body-v2")
    new["parts"][1]["survey"]["length"] = 440.0
    assert changes_words(old, new) == (
        "body-v2: comes from body-v2.stl, before from body.stl and is held against part body.",
        "body-v2: length 440.00 mm, before 450.00.",
    )
    same = copy.deepcopy(OLD)
    same["parts"][0]["source"]["file"] = "pipe.obj"
    assert changes_words(OLD, same) == (
        "pipe: comes from pipe.obj, before from pipe.stl.", NOTHING,
    )  # fmt: skip


def test_names_in_another_place_are_not_taken_for_another_part() -> None:
    assert place_matches(["a", "b"], ["b", "a"]) == {"b": "b", "a": "a"}
    assert place_matches(["a", "b"], ["b", "c"]) == {"b": "b"}
    assert place_matches(["a", "b"], ["c"]) == {}
    assert place_matches(["a"], ["c"]) == {"c": "a"}


def test_what_was_asked_otherwise_is_told() -> None:
    new = copy.deepcopy(OLD)
    new["settings"] |= {
        "clearance": 0.2, "cut": [150.0, 160.5], "bore": 19.1, "flip": True, "lean": True,
        "compensation": {"hole_undersize": 0.1},
        "own": {"pipe": {"cut": [], "avoid": [[1.0, 2.0], [3.0, 4.5]], "pieces": 3}},
    }  # fmt: skip
    told, _ = changes_words(OLD, new)
    assert told == (
        "Asked for: clearance 0.2, before 0.15; cut 150 160.5, before none; bore 19.1, before "
        "none; flip on, before off; compensation hole undersize 0.1, before 0; pipe avoid 1 2 and "
        "3 4.5, before none; pipe pieces 3, before none."
    )
    back, _ = changes_words(new, OLD)
    assert "pipe pieces none, before 3" in back


def test_a_part_is_of_the_file_whose_name_it_has_whatever_letter_it_was_given() -> None:
    names = ["pipe", "pipe-2", "pair-a", "pair-b", "pair-2-a", "pair-2-b", "a-b"]
    job = document(*names)
    files = ["pipe", "pipe", "pair", "pair", "pair", "pair", "a-b"]
    for one, file in zip(job["parts"], files, strict=True):
        one["source"]["file"] = f"{file}.stl"
    assert seen_job(job).stems == ("pipe", "pipe-2", "pair", "pair-2", "a-b")


@pytest.mark.parametrize("value", [None, "x", True, -1, [], {}, [[]], 1e400])
def test_a_damaged_record_is_refused_or_told_and_never_worse(value: object) -> None:
    """Every value of the record in turn replaced."""

    def places(node: Any) -> list[tuple[Any, Any]]:
        keys = list(node) if isinstance(node, dict) else list(range(len(node)))
        inner = [node[key] for key in keys if isinstance(node[key], dict | list)]
        return [(node, key) for key in keys] + [place for one in inner for place in places(one)]

    refused = 0
    count = len(places(OLD))
    for number in range(count):
        damaged = copy.deepcopy(OLD)
        node, key = places(damaged)[number]
        node[key] = value
        try:
            assert all(isinstance(said, str) for said in changes_words(damaged, OLD))
        except BadRecord:
            refused += 1
    assert refused > count // 4, json.dumps(value)
