"""job.json against values that were put in, and the table that a person reads."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from borewright.core.estimating.estimates import estimate_piece
from borewright.core.recording.estimate_record import estimate_entry
from borewright.core.recording.job_record import JobRecord, PartRecord, SavedFile, Source
from borewright.core.recording.report import job_document
from borewright.core.recording.summary import job_summary
from borewright.core.recording.survey_record import hole_slant_deg
from borewright.core.stages import part_names
from borewright.core.values import (
    Check,
    Cut,
    Frame,
    HoleWall,
    Key,
    Mesh,
    Ornament,
    Outcome,
    PartDemands,
    Piece,
    Plan,
    RoundSurface,
    Settings,
    SideHole,
    Tenon,
    TruedPart,
)

from tests.surveys import a_survey, joint_of

CUBE = Mesh(
    np.array([[x, y, z] for x in (0.0, 20.0) for y in (0.0, 10.0) for z in (0.0, 50.0)]),
    np.array([[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
              [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]]),
)  # fmt: skip
"""A block of 20 x 10 x 50: 10,000 mm3 by hand."""


def record() -> PartRecord:
    survey = a_survey(
        mesh=CUBE,
        labels=np.zeros(12, np.int64),
        frame=Frame(np.array([1.0, 2.0, 3.0]),
                    np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])),
        length=300.0,
        bore=RoundSurface(8.0, -0.01, 0.0, 300.0, (0.1, 0.2), 0.003),
        outside=RoundSurface(13.0, 0.0, 0.0, 300.0),
        side_holes=(SideHole(96.0, math.pi / 2, 7.0, 7.1, 92.0, 100.0),),
        ornaments=(Ornament(30.0, 38.0, 13.0, 15.0),),
        wall_least=4.9,
        wall_median=5.5,
    )  # fmt: skip
    keys = tuple(Key(angle, 0.2, 0.01, 0.5) for angle in (-math.pi / 4, math.pi / 3))
    joint = joint_of(Tenon(150.0, 10.0, 9.75, 9.9, 0.15, 0.8, 8.0, 162.0, keys))
    outcome = Outcome(
        name="pipe",
        survey=survey,
        trued=TruedPart(CUBE, np.zeros(12, np.int64), (np.zeros(3),), 4300, 0.0125, 0.14),
        plan=Plan((Cut(150.0, (140.0, 160.0), "Far from every hole."),), (joint,)),
        pieces=(Piece("pipe-01", CUBE, np.eye(4), 0.0, 160.0),),
        checks=(
            Check("closed", 0.0, 0.0, ok=True, piece="pipe-01"),
            Check("clearance", 0.149, (0.12, 0.18), ok=True, joint=0),
        ),
        warnings=("Noted.", "Noted too."),
    )
    return PartRecord(Source("pipe.stl", "ab12", 4321, "cm", 10.0), outcome)


FILES = {"pipe-01": SavedFile("pipe-01.stl", "cd34")}


def job(parts: list[PartRecord], warnings: tuple[str, ...] = ()) -> JobRecord:
    pieces = [piece for part in parts for piece in part.pieces]
    estimates = {piece.name: estimate_piece(piece.mesh, SETTINGS) for piece in pieces}
    return JobRecord(SETTINGS, tuple(parts), warnings, FILES, estimates, own=OWN)


SETTINGS = Settings(
    envelope=(180.0, 180.0, 200.0), cuts=(150.0,), avoid=((20.0, 30.0),), prefer=(100.0,)
)
OWN = {"pipe": PartDemands(pieces=3)}


def test_the_document_has_the_keys_and_numbers_of_the_contract() -> None:
    document: Any = job_document(job([record()], ("Read in cm.", "Noted.")))
    joint = document["parts"][0]["joints"][0]
    (alone,), together = joint.pop("strength"), joint.pop("strength_together")
    assert alone["glue_volume"] == pytest.approx(0.15 * 2 * math.pi * 9.75 * (10.0 - 0.95))
    assert together == {name: alone[name] for name in together}  # of one tenon
    assert document.pop("strength_assumptions")
    assert document == {
        "schema": "borewright.job/1",
        "settings": {
            "envelope": [180.0, 180.0, 200.0], "clearance": 0.15, "engagement": None,
            "guard": 2.0, "max_move": 0.1, "true": "both", "bore": None, "least_wall": 0.8,
            "units": "auto", "cut": [150.0], "pieces": None, "flip": False,
            "joint": None, "fit": "glue", "nozzle": 0.4, "layer": 0.2, "profile": None,
            "clearance_from": "rule", "spread": 0.2,
            "compensation": {"hole_undersize": 0.0, "first_layer_bulge": 0.0,
                             "shrink_percent": 0.0},
            "avoid": [[20.0, 30.0]], "prefer": [100.0], "lean": False, "spacing": 5.0,
            "wind": False,
            "printing": {"material": "PLA", "filament": 1.75, "lines": 3, "solid_layers": 4,
                         "infill_percent": 15.0, "flow": None},
            "own": {"pipe": {"cut": [], "avoid": [], "prefer": [], "pieces": 3}},
        },
        "parts": [{
            "name": "pipe",
            "source": {"file": "pipe.stl", "sha256": "ab12", "triangles": 4321, "unit": "cm",
                       "scale_to_mm": 10.0},
            "survey": {
                "axis": {"point": [1.0, 2.0, 3.0], "direction": [1.0, 0.0, 0.0]},
                "length": 300.0,
                "bores": [{"diameter": 13.0, "end_diameters": [16.0, 10.0],
                           "offset": [0.1, 0.2], "from": 0.0, "to": 300.0, "rms": 0.003}],
                "outer": {"diameter": 26.0, "end_diameters": [26.0, 26.0],
                          "offset": [0.0, 0.0], "from": 0.0, "to": 300.0, "rms": 0.0},
                "outsides": [{"diameter": 26.0, "end_diameters": [26.0, 26.0],
                              "offset": [0.0, 0.0], "from": 0.0, "to": 300.0, "rms": 0.0}],
                "side_holes": [{"station": 96.0, "angle_deg": 90.0, "axial_width": 7.0,
                                "across_width": 7.1, "bore": 0}],
                "ornaments": [{"from": 30.0, "to": 38.0, "least_radius": 13.0,
                               "greatest_radius": 15.0, "on": "outside"}],
                "wall": {"least": 4.9, "median": 5.5},
            },
            "truing": {"triangles_before": 4300, "triangles_after": 12, "max_move": 0.0125,
                       "greatest_chord": 0.14},
            "cuts": [{"station": 150.0, "window": [140.0, 160.0], "why": "Far from every hole."}],
            "joints": [{"kind": "tenon", "bores": [0], "station": 150.0, "engagement": 10.0,
                        "tenon_diameter": 19.5, "socket_diameter": 19.8,
                        "radial_clearance": 0.15, "key_angle_deg": -45.0,
                        "key_angles_deg": pytest.approx([-45.0, 60.0]),
                        "tenons": [{"bores": [0], "centre": [0.0, 0.0], "tenon_diameter": 19.5,
                                    "socket_diameter": 19.8}],
                        "witness_marks": 0, "housing": None,
                        "glue_area": pytest.approx(2 * math.pi * 9.75 * (10.0 - 0.95))}],
            "pieces": [{"name": "pipe-01", "file": "pipe-01.stl", "sha256": "cd34",
                        "role": "piece", "scale": 1.0,
                        "to_source": np.eye(4).tolist(), "size": [20.0, 10.0, 50.0],
                        "volume": pytest.approx(10000.0), "mass_g": pytest.approx(12.4),
                        "bed": None, **estimate_entry(estimate_piece(CUBE, SETTINGS), SETTINGS)}],
            "lean_deg": 0.0, "passed_on": None, "wind": None,
        }],
        "beds": [],
        "trial": None,
        "sheet": None,
        "changes": [],
        "checks": [
            {"name": "closed", "part": "pipe", "piece": "pipe-01", "value": 0.0, "limit": 0.0,
             "ok": True},
            {"name": "clearance", "part": "pipe", "joint": 0, "value": 0.149,
             "limit": [0.12, 0.18], "ok": True},
        ],
        "warnings": ["Read in cm.", "Noted.", "Noted too."],
    }  # fmt: skip


def test_the_document_holds_plain_values_of_full_precision() -> None:
    document = job_document(job([record()]))
    text = json.dumps(document, allow_nan=False)
    assert json.loads(text) == document


def test_the_table_tells_what_is_in_the_values() -> None:
    table = job_summary(job([record()], ("Read in cm.", "Noted.")))
    for words in (
        "pipe: 2 pieces for an envelope of 180 x 180 x 200 mm",
        "pipe.stl, 4,321 triangles, 1 unit = 1 cm",
        "16.00 mm at its low end, 10.00 mm at its high end, 0.22 mm off the axis at 63.4 deg",
        "26.00 mm, straight",
        "4,300 triangles to 12, no vertex moved more than 0.013 mm",
        "station 150.00 mm, of 140.00 to 160.00 mm",
        "Far from every hole.",
        "pipe-01.stl  20.00 x 10.00 x 50.00  10.0",
        "0.12 to 0.18",
        "2 of 2 hold",
    ):
        assert words in table, words
    assert table.count("Noted.") == 1
    assert table.isascii()


def test_a_failed_proof_stands_out_in_the_table() -> None:
    part = record()
    failed = Check("closed", 3.0, 0.0, ok=False, piece="pipe-02")
    outcome = replace(part.outcome, checks=(*part.outcome.checks, failed))
    table = job_summary(job([replace(part, outcome=outcome)]))
    assert "FAILS" in table
    assert "2 of 3 hold" in table


def many() -> PartRecord:
    """Two bores, one stepped, in an odd outside; a hole leans by 30 degrees into the other."""
    whole = record()
    lean = math.radians(30.0)
    hole = SideHole(
        100.0,
        0.0,
        8.0,
        7.0,
        95.0,
        105.0,
        bore=2,
        wall=HoleWall((33.0, 0.0, 100.0), (math.cos(lean), 0.0, math.sin(lean)), 3.5),
    )
    survey = replace(
        whole.outcome.survey,
        bores=(RoundSurface(8.0, 0.0, 0.0, 200.0), RoundSurface(7.0, 0.0, 200.0, 300.0),
               RoundSurface(6.0, 0.0, 5.0, 300.0, (20.0, 0.0))),
        outsides=(),
        side_holes=(hole, replace(hole, bore=0, wall=None)),
    )  # fmt: skip
    tenon = replace(whole.outcome.plan.joints[0].tenon, bores=(0, 2),
                    centres=((0.0, 0.0), (20.0, 0.0)), swells=(0.0, -2.0))  # fmt: skip
    plan = replace(whole.outcome.plan, joints=(joint_of(tenon),))
    return replace(whole, outcome=replace(whole.outcome, survey=survey, plan=plan))


def test_every_stretch_of_every_bore_is_recorded_and_an_odd_outside_is_null() -> None:
    part: Any = job_document(job([many()]))["parts"]
    survey = part[0]["survey"]
    told = [
        (bore["diameter"], bore["from"], bore["to"], bore["offset"]) for bore in survey["bores"]
    ]
    assert told == [(16.0, 0.0, 200.0, [0.0, 0.0]), (14.0, 200.0, 300.0, [0.0, 0.0]),
                    (12.0, 5.0, 300.0, [20.0, 0.0])]  # fmt: skip
    assert survey["outer"] is None
    assert survey["outsides"] == []
    assert [hole["bore"] for hole in survey["side_holes"]] == [2, 0]
    assert part[0]["joints"][0]["bores"] == [0, 2]


def test_the_slant_of_a_round_hole_is_against_the_radius_of_its_own_bore() -> None:
    part: Any = job_document(job([many()]))["parts"]
    slanted, odd = part[0]["survey"]["side_holes"]
    assert (slanted["diameter"], slanted["slant_deg"]) == (7.0, pytest.approx(30.0))
    assert "diameter" not in odd
    bore = RoundSurface(6.0, 0.0, 0.0, 300.0, (20.0, 0.0))
    turned = HoleWall((20.0, 9.0, 50.0), (math.sin(0.2), math.cos(0.2), 0.0), 2.0)
    assert hole_slant_deg(turned, bore) == pytest.approx(math.degrees(0.2))


def test_the_table_tells_stretches_centres_and_shapes() -> None:
    table = job_summary(job([many()]))
    for words in (
        "bore 1   16.00 mm, straight, stations 0.00 to 200.00",
        "bore 2   14.00 mm, straight, stations 200.00 to 300.00",
        "bore 3   12.00 mm, straight, stations 5.00 to 300.00, 20.00 mm off the axis at 0.0 deg",
        "outside  not round: the wall is measured",
        "round, 7.00, slanted 30.0 deg          3",
        "into bore",
        "around bore",
        "1 and 3",
    ):
        assert words in table, words
    assert "bore" not in job_summary(job([record()])).partition("wall")[2]


def test_half_a_turn_is_told_without_a_sign() -> None:
    part = record()
    bore = RoundSurface(8.0, 0.0, 0.0, 300.0, (-2.0, -0.0))
    outcome = replace(part.outcome, survey=replace(part.outcome.survey, bores=(bore,)))
    table = job_summary(job([replace(part, outcome=outcome)]))
    assert "2.00 mm off the axis at 180.0 deg" in table


def test_two_parts_follow_each_other_each_with_its_name() -> None:
    first = record()
    second = replace(first, outcome=replace(first.outcome, name="stub", warnings=("Odd.",)))
    document: Any = job_document(job([first, second], ("Read in cm.",)))
    assert [part["name"] for part in document["parts"]] == ["pipe", "stub"]
    assert [check["part"] for check in document["checks"]] == ["pipe", "pipe", "stub", "stub"]
    assert document["warnings"] == ["Read in cm.", "Noted.", "Noted too.", "Odd."]
    table = job_summary(job([first, second], ("Read in cm.",)))
    assert table.index("pipe: 2 pieces") < table.index("stub: 2 pieces") < table.index("Notes")
    assert table.count("Notes") == 1


def test_parts_of_one_file_are_lettered_as_columns_are() -> None:
    assert part_names("pipe", 1) == ("pipe",)
    assert part_names("pipe", 2) == ("pipe-a", "pipe-b")
    names = part_names("pipe", 703)
    assert (names[25], names[26], names[27]) == ("pipe-z", "pipe-aa", "pipe-ab")
    assert (names[701], names[702]) == ("pipe-zz", "pipe-aaa")
    assert len(set(names)) == 703
