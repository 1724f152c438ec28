"""What a split does to a wind instrument's tuning: measured by other ways than it is told by."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from borewright.core.acoustics.air_column import AirColumn, find_air_columns
from borewright.core.acoustics.joined_length import join_pieces
from borewright.core.acoustics.joint_bores import groove_volume
from borewright.core.acoustics.tuning import MODES, Tuning, check_tuning
from borewright.core.meshes.mend import mend_bodies
from borewright.core.recording.job_record import JobRecord
from borewright.core.recording.report import job_document
from borewright.core.sheet.page import sheet_html
from borewright.core.sheet.sheet_parts import sheet_parts
from borewright.core.stages import build_known, know_part, mend_parts, plan_known
from borewright.core.surveying.survey import survey_part
from borewright.core.values import Mesh, Outcome, Piece, Settings
from manifold3d import Manifold

from tests.loose_parts import mesh_of, solid_of
from tests.parts import Hole, Part, tube
from tests.plane_waves import cents_between, open_hole, section, wave_number
from tests.sheet_jobs import job_of, rows_of

SETTINGS = Settings((180.0, 180.0, 180.0), wind=True)


@cache
def wind_job(name: str) -> JobRecord:
    """One of the sheets' jobs, told to be a wind instrument."""
    job = job_of(name)
    return replace(job, settings=replace(job.settings, wind=True))


@cache
def document_of(name: str) -> Any:
    return job_document(wind_job(name))


def outcome_of(name: str) -> Outcome:
    (part,) = wind_job(name).parts
    assert isinstance(part.outcome, Outcome)
    return part.outcome


def tuning_of(name: str) -> Tuning:
    return check_tuning(outcome_of(name), wind_job(name).settings)


def columns_of(solid: Manifold) -> tuple[AirColumn, ...]:
    return find_air_columns(survey_part(mend_bodies(mesh_of(solid))[0], max_move=0.1))


def rod(radius: float, length: float, start: float = 0.0) -> Manifold:
    return Manifold.cylinder(length, radius, circular_segments=96).translate((0.0, 0.0, start))


# Columns of air


def test_a_plain_tube_holds_one_column_open_at_both_ends() -> None:
    (column,) = columns_of(rod(14.0, 300.0) - rod(8.0, 302.0, -1.0))
    assert (column.start, column.stop, column.low_open, column.high_open) == (
        0.0,
        300.0,
        True,
        True,
    )
    assert column.radius == pytest.approx(8.0, abs=1e-4)


def test_a_stepped_bore_is_one_column_of_the_same_volume() -> None:
    (column,) = columns_of(rod(14.0, 300.0) - rod(8.0, 101.0, -1.0) - rod(9.0, 201.0, 100.0))
    assert len(column.bores) == 2
    assert column.length == pytest.approx(300.0)
    assert column.radius**2 * 300.0 == pytest.approx(8.0**2 * 100.0 + 9.0**2 * 200.0, rel=1e-5)
    assert (column.low_radius, column.high_radius) == pytest.approx((8.0, 9.0), abs=1e-4)


def test_blind_bores_are_closed_where_their_floors_are() -> None:
    low, high = columns_of(rod(14.0, 300.0) - rod(8.0, 101.0, -1.0) - rod(8.0, 120.0, 181.0))
    assert (low.start, low.stop) == pytest.approx((0.0, 100.0))
    assert (high.start, high.stop) == pytest.approx((181.0, 300.0))
    assert [(one.low_open, one.high_open) for one in (low, high)] == [(True, False), (False, True)]
    assert low.pipe.wave_number(1) == pytest.approx(
        math.pi / 2.0 / (100.0 + 0.6133 * 8.0), rel=1e-5
    )


def test_a_bore_that_narrows_to_a_wind_way_is_one_column_to_its_end() -> None:
    (column,) = columns_of(rod(14.0, 300.0) - rod(8.0, 281.0, -1.0) - rod(2.0, 302.0, -1.0))
    assert (column.start, column.stop, column.high_open) == (0.0, 300.0, True)


def test_two_bores_are_two_columns() -> None:
    columns = find_air_columns(outcome_of("twin").survey)
    assert [column.bores for column in columns] == [(0,), (1,)]


# Length


@pytest.mark.parametrize("name", ["flute", "rough", "apart", "oring", "lapped", "twin", "tapered"])
def test_pieces_together_are_as_long_as_heights_less_engagements(name: str) -> None:
    (part,) = document_of(name)["parts"]
    heights = sum(piece["size"][2] / piece["scale"] for piece in part["pieces"])
    total = heights - sum(joint["engagement"] for joint in part["joints"])
    for column in part["wind"]["columns"]:
        assert column["joined_length"] == pytest.approx(total, abs=1e-4)
        assert column["length"] == pytest.approx(part["survey"]["length"], abs=1e-9)
        longer = column["joined_length"] - column["length"]
        assert column["joined_cents"] == pytest.approx(
            -1200.0 * math.log2(1.0 + longer / column["effective_length"]), abs=1e-9
        )
    assert part["wind"]["shoulder_gaps"] == pytest.approx([0.0] * len(part["joints"]), abs=1e-4)


def lowered(piece: Piece, station: float, by: float) -> Piece:
    """A piece whose level faces at a station, from the bed, lie lower."""
    vertices = piece.mesh.vertices.copy()
    vertices[np.abs(vertices[:, 2] - station) < 1e-3, 2] -= by
    return replace(piece, mesh=Mesh(vertices, piece.mesh.triangles))


def test_a_shoulder_that_came_out_lower_makes_the_air_shorter() -> None:
    outcome, settings = outcome_of("flute"), wind_job("flute").settings
    lower, *others = outcome.pieces
    cut = replace(outcome, pieces=(lowered(lower, outcome.plan.cuts[0].station, 0.1), *others))
    joined = join_pieces(cut)
    assert joined is not None
    assert joined.gaps == pytest.approx([0.1], abs=1e-5)
    (column,) = check_tuning(cut, settings).columns
    assert column.joined_length == pytest.approx(351.9, abs=1e-4)
    assert column.joined_cents == pytest.approx(-column.gap_cents, rel=1e-3)


def test_a_blind_bore_is_as_deep_in_its_piece_as_before() -> None:
    mesh = mesh_of(rod(14.0, 300.0) - rod(8.0, 285.0, -1.0))
    (part,) = mend_parts(mesh, "pipe", lambda _: SETTINGS, 1.0)
    known = know_part(part, SETTINGS, lambda _: None)
    done = build_known(known, plan_known(known, SETTINGS), SETTINGS, lambda _: None)
    (column,) = check_tuning(done, SETTINGS).columns
    assert column.joined_length == pytest.approx(284.0, abs=1e-4)
    assert column.column.pipe.is_open is False


def test_a_plan_has_no_pieces_to_measure() -> None:
    planned = replace(outcome_of("flute"), pieces=(), checks=())
    told = check_tuning(planned, SETTINGS)
    assert (told.shoulder_gaps, told.layer_offs, told.columns[0].joined_length) == (None,) * 3
    assert told.columns[0].gap_cents == tuning_of("flute").columns[0].gap_cents


@pytest.mark.parametrize("name", ["flute", "twin", "collar", "sleeve", "oring"])
def test_cents_of_a_gaping_seam_are_those_of_a_longer_pipe(name: str) -> None:
    """By the part's own numbers: end corrections of Levine and Schwinger (1948), 0.6133 radii."""
    (part,) = document_of(name)["parts"]
    for column in part["wind"]["columns"]:
        (bore,) = (part["survey"]["bores"][number] for number in column["bores"])
        length = column["length"] + 0.6133 * bore["diameter"]
        holes = [hole for hole in part["survey"]["side_holes"] if hole["bore"] in column["bores"]]
        outer = part["survey"]["outer"]
        chimney = (outer["diameter"] - bore["diameter"]) / 2.0 if holes and outer else 0.0
        length += sum(0.5 * chimney * (hole["diameter"] / bore["diameter"]) ** 2 for hole in holes)
        assert column["effective_length"] == pytest.approx(length, rel=1e-6)
        gap = -1200.0 * math.log2((length + 0.1) / length)
        assert column["gap_cents"] == pytest.approx(gap, rel=1e-5)
        assert column["frequency"] == pytest.approx(343215.0 / 2.0 / length, rel=1e-5)


# Joints


def in_place(outcome: Outcome) -> list[Manifold]:
    return [solid_of(piece.in_part(outcome.survey.frame)) for piece in outcome.pieces]


def cylinder(radius: float, start: float, stop: float, x: float = 0.0, y: float = 0.0) -> Manifold:
    return Manifold.cylinder(stop - start, radius, circular_segments=720).translate((x, y, start))


@pytest.mark.parametrize("name", ["flute", "apart", "oring", "lapped"])
def test_the_groove_at_a_joint_is_as_large_as_the_pieces_leave_it(name: str) -> None:
    """What the pieces leave of a ring over the tenon's tip, as wide as its land."""
    outcome = outcome_of(name)
    (joint,) = outcome.plan.joints
    (told,) = tuning_of(name).columns[0].joints
    assert told.change is not None
    radius, land = joint.tenon.bore_radius_at_tip, joint.tenon.land
    start, stop = told.change.start, told.change.stop
    ring = cylinder(radius + land, start, stop) - cylinder(radius, start - 1.0, stop + 1.0)
    for piece in in_place(outcome):
        ring -= piece
    assert told.change.volume == pytest.approx(ring.volume(), rel=0.01)


@pytest.mark.parametrize("name", ["flute", "apart", "twin"])
def test_all_that_a_joint_leaves_empty_is_told_and_little_more(name: str) -> None:
    """The trued part's volume less its pieces'. Grooves for keys are left out of what is told."""
    outcome = outcome_of(name)
    empty = solid_of(outcome.trued.mesh).volume()
    empty -= sum(solid.volume() for solid in in_place(outcome))
    told = [joint for column in tuning_of(name).columns for joint in column.joints]
    changes = [joint.change for joint in told if joint.change is not None]
    volume = sum(change.volume + change.gap_volume for change in changes)
    assert 0.8 * empty < volume < 1.1 * empty, (volume, empty)


def test_a_groove_without_a_land_or_about_a_wide_bore_is_as_by_hand() -> None:
    """A land of 1 and a gap of 0.2: 0.7 mm2 of section, times the way around."""
    assert groove_volume(10.0, 0.0, 0.2) == 0.0
    assert groove_volume(1e6, 1.0, 0.2) == pytest.approx(0.7 * 2.0 * math.pi * 1e6, rel=1e-5)


@pytest.mark.parametrize(("name", "within"), [("flute", 0.01), ("oring", 0.01), ("sleeve", 0.1)])
def test_joints_shift_modes_as_plane_waves_through_them_do(name: str, within: float) -> None:
    """By first order: a sleeve is a tenth of the pipe long, and off by as much."""
    (column,) = tuning_of(name).columns
    (joint,) = column.joints
    assert joint.change is not None
    pipe, change = column.column.pipe, joint.change
    start = change.start + pipe.low_correction
    area, long = math.pi * pipe.radius**2, change.stop - change.start
    elements = [
        section(start, area),
        section(long, area + change.area),
        section(pipe.effective_length - start - long, area),
    ]
    for mode, cents in zip(MODES, joint.cents, strict=True):
        bare = pipe.wave_number(mode)
        waves = cents_between(bare, wave_number(elements, bare))
        assert cents == pytest.approx(waves, abs=within * joint.greatest), mode
        assert abs(cents) <= joint.greatest <= joint.greatest_empty


def test_a_collar_leaves_the_bore_alone_and_a_sleeve_narrows_it() -> None:
    (collar,) = tuning_of("collar").columns[0].joints
    assert (collar.change, collar.cents, collar.greatest) == (None, (0.0, 0.0, 0.0), 0.0)
    (sleeve,) = tuning_of("sleeve").columns[0].joints
    assert sleeve.change is not None
    ring = next(piece for piece in outcome_of("sleeve").pieces if piece.role == "sleeve")
    solid = solid_of(ring.in_part(outcome_of("sleeve").survey.frame))
    low, high = sleeve.change.start, sleeve.change.stop
    left = cylinder(15.0, low, high) - solid
    bore = 15.0**2 * math.pi * (high - low)
    gap = left.decompose()
    free = max(one.volume() for one in gap)
    assert sleeve.change.volume == pytest.approx(free - bore, rel=0.03)


# The trued bore


def planned(part: Part, settings: Settings) -> tuple[Outcome, Settings]:
    mesh = Mesh(np.asarray(part.mesh.vertices), np.asarray(part.mesh.faces))
    (sound,) = mend_parts(mesh, "pipe", lambda _: settings, 1.0)
    return plan_known(know_part(sound, settings, lambda _: None), settings), settings


@cache
def known(bore: float | None) -> tuple[Outcome, Settings]:
    return planned(tube(length=340.0, bore=19.0, outside=26.0), replace(SETTINGS, bore=bore))


@pytest.mark.parametrize("bore", [18.9, 19.05])
def test_a_bore_brought_to_another_width_shifts_by_its_ends_alone(bore: float) -> None:
    """A pipe is as high however wide it is, but for its end corrections."""
    as_found = check_tuning(*known(None)).columns[0].trued_cents
    told = check_tuning(*known(bore)).columns[0].trued_cents
    ends = 1200.0 * math.log2((340.0 + 0.6133 * 19.0) / (340.0 + 0.6133 * bore))
    assert np.subtract(told, as_found) == pytest.approx([ends] * 3, rel=0.02)


def test_facets_made_round_are_as_much_wider_as_their_section_was_less() -> None:
    """Of a polygon of n corners, 1 - sin(2 pi / n) / (2 pi / n) of the circle's section."""
    outcome, settings = known(None)
    found = outcome.survey.bore
    turn = 2.0 * math.acos(1.0 - found.sagitta / 9.5)
    lost = 9.5 * (1.0 - math.sqrt(math.sin(turn) / turn))
    ends = 1200.0 * math.log2((340.0 + 2 * 0.6133 * (9.5 - lost)) / (340.0 + 2 * 0.6133 * 9.5))
    cents = check_tuning(outcome, settings).columns[0].trued_cents
    assert cents == pytest.approx([ends] * 3, rel=0.02)
    left = replace(settings, true="none")
    assert check_tuning(outcome, left).columns[0].trued_cents == (0.0, 0.0, 0.0)


# Holes


FIFE = ((96.0, 7.0), (122.0, 8.0), (147.0, 7.5), (196.0, 7.0), (221.0, 8.5), (247.0, 6.5))


@cache
def fife() -> tuple[Outcome, Settings]:
    holes = tuple(Hole(station, 0, width) for station, width in FIFE)
    return planned(tube(length=352.0, bore=14.2, outside=21.4, holes=holes), SETTINGS)


@pytest.mark.parametrize("end", ["low", "high"])
def test_notes_are_as_long_as_by_the_letters_of_benade(end: str) -> None:
    """From the survey's numbers: each open hole beside all beyond it, each closed one's volume."""
    (column,) = check_tuning(*fife()).columns
    holes = [(352.0 - station if end == "high" else station, width) for station, width in FIFE]
    told = [hole.from_low if end == "low" else hole.from_high for hole in column.holes]
    for number, (station, _) in enumerate(holes):
        before = [width for place, width in holes if place < station]
        length = 352.0 + 0.6133 * 7.1
        for place, width in sorted(holes, reverse=True):
            if place >= station:
                chimney = 3.6 + 0.75 * width
                share = (width / 14.2) ** 2
                length = place + chimney / (share + chimney / (length - place))
        length += 0.6133 * 7.1 + sum(1.8 * (width / 14.2) ** 2 for width in before)
        assert told[number] == pytest.approx(length, rel=2e-5)


@pytest.mark.parametrize("first", range(6))
@pytest.mark.parametrize("end", ["low", "high"])
def test_notes_are_as_long_as_plane_waves_past_open_holes_are(first: int, end: str) -> None:
    """Holes as Benade has them, 1.5 b longer; those before the first open one as they add to it."""
    (column,) = check_tuning(*fife()).columns
    holes = [(station, width / 2.0) for station, width in FIFE]
    told = [hole.from_low for hole in column.holes]
    if end == "high":
        holes = [(352.0 - station, radius) for station, radius in holes[::-1]]
        told = [hole.from_high for hole in column.holes][::-1]
    area, ends = math.pi * 7.1**2, 0.6133 * 7.1
    places = [station + ends for station, _ in holes[first:]]
    spans = [places[0], *(b - a for a, b in itertools.pairwise(places))]
    elements = []
    for span, (_, radius) in zip(spans, holes[first:], strict=True):
        elements += [section(span, area), open_hole(3.6 + 1.5 * radius, math.pi * radius**2)]
    elements.append(section(352.0 + 2.0 * ends - places[-1], area))
    closed = sum(0.5 * 3.6 * (radius / 7.1) ** 2 for _, radius in holes[:first])
    length = told[first]
    assert length is not None
    waves = math.pi / wave_number(elements, math.pi / length, within=0.042)
    assert length == pytest.approx(waves + closed, rel=0.042)


def test_a_pipe_closed_at_one_end_sounds_from_there() -> None:
    side = Manifold.cylinder(40.0, 3.5, circular_segments=90).rotate((0.0, 90.0, 0.0))
    solid = rod(14.0, 170.0) - rod(8.0, 155.0, -1.0) - side.translate((0.0, 0.0, 60.0))
    mesh = mesh_of(solid)
    (part,) = mend_parts(mesh, "pipe", lambda _: SETTINGS, 1.0)
    outcome = plan_known(know_part(part, SETTINGS, lambda _: None), SETTINGS)
    (column,) = check_tuning(outcome, SETTINGS).columns
    (hole,) = column.holes
    assert (hole.from_low, hole.seam, hole.seam_distance) == (None, None, None)
    open_length = 11.25 / ((3.5 / 8.0) ** 2 + 11.25 / (60.0 + 0.6133 * 8.0))
    assert hole.from_high == pytest.approx(154.0 - 60.0 + open_length, rel=1e-3)


def test_seams_are_as_far_from_holes_as_stations_and_widths_say() -> None:
    for name in ("flute", "rough", "twin"):
        (part,) = document_of(name)["parts"]
        for column in part["wind"]["columns"]:
            for told in column["holes"]:
                hole = part["survey"]["side_holes"][told["hole"]]
                off = [
                    abs(hole["station"] - joint["station"]) - hole["axial_width"] / 2.0
                    for joint in part["joints"]
                ]
                assert told["seam_distance"] == pytest.approx(min(off), abs=0.01)
                assert off[told["nearest_joint"]] == min(off)


# Record, table and sheet


@pytest.mark.parametrize("name", ["flute", "pins", "block", "whole", "leaning"])
def test_nothing_is_told_unless_it_is_asked_for(name: str) -> None:
    (part,) = job_document(job_of(name))["parts"]  # type: ignore[misc]
    assert part["wind"] is None
    assert sheet_parts(job_of(name)).parts[0].tuning == ()
    assert "Tuning" not in sheet_html(job_of(name))


def test_a_solid_part_and_one_that_is_passed_on_hold_no_air() -> None:
    (solid,), (block,) = document_of("pins")["parts"], document_of("block")["parts"]
    assert solid["wind"]["columns"] == []
    assert block["wind"] is None
    (note,) = sheet_parts(wind_job("pins")).parts[0].tuning
    assert note.text == ("No air goes through it: nothing to check.",)
    assert sheet_parts(wind_job("block")).parts[0].tuning == ()


def shown(value: float) -> str:
    """Cents, as the sheet has them."""
    return f"{value:+.2f}" if abs(value) >= 0.005 else "0.00"


@pytest.mark.parametrize("name", ["flute", "rough", "apart", "tapered", "sleeve", "collar", "twin"])
def test_the_sheet_tells_what_the_record_has(name: str) -> None:
    (part,) = document_of(name)["parts"]
    notes = sheet_parts(wind_job(name)).parts[0].tuning
    lengths = [note for note in notes if note.title.startswith("Length of the air")]
    for column, note in zip(part["wind"]["columns"], lengths, strict=True):
        values = {value.name: value.shown for value in note.values}
        assert values["length before"] == f"{column['length']:.3f} mm"
        assert values["length of the pieces, shoulders together"] == (
            f"{column['joined_length']:.3f} mm, {shown(column['joined_cents'])} cents"
        )
        assert values["each 0.1 mm that a seam gapes"] == f"{shown(column['gap_cents'])} cents"
        assert values["lowest tone of the bare tube at 20 C"] == f"{column['frequency']:.1f} Hz"
        assert values["effective length, holes closed"] == f"{column['effective_length']:.2f} mm"
        longest = max(part["wind"]["layers_longer"])
        (layers,) = [text for key, text in values.items() if "layers" in key]
        off = f"{longest:+.3f}" if abs(longest) >= 0.0005 else "0.000"
        assert layers.startswith(f"{off} mm") or f" to {off} mm" in layers
        assert shown(min(column["layers_cents"])) in layers
    joints = [row for note in notes if note.title.startswith("At the joints")
              for table in note.tables for row in rows_of(table)]  # fmt: skip
    told = [joint for column in part["wind"]["columns"] for joint in column["joints"]]
    for row, joint in zip(joints, told, strict=True):
        assert row["joint"] == str(joint["joint"] + 1)
        assert [row[f"mode {n}"] for n in (1, 2, 3)] == [shown(one) for one in joint["cents"]]
        assert row["at most"] == f"{joint['greatest_cents']:.2f}"
        assert row["gap empty"] == f"{joint['greatest_cents_empty']:.2f}"
        assert float(row["bore mm3"]) == pytest.approx(joint["volume"], abs=0.06)
    holes = [table for note in notes if note.title.startswith("At the holes")
             for table in note.tables]  # fmt: skip
    rows = [row for table in holes for row in table.rows]
    every = [hole for column in part["wind"]["columns"] for hole in column["holes"]]
    for row, hole in zip(rows, every, strict=True):
        assert row == (
            str(hole["hole"] + 1),
            str(hole["nearest_joint"] + 1),
            f"{hole['seam_distance']:.2f}",
            f"{hole['length_from_low']:.2f}",
            shown(hole["gap_cents_from_low"]),
            f"{hole['length_from_high']:.2f}",
            shown(hole["gap_cents_from_high"]),
        )


def test_what_comes_before_comparing_is_the_temperature() -> None:
    (compare,) = [
        note
        for note in sheet_parts(wind_job("flute")).parts[0].tuning
        if note.title == "When you compare"
    ]
    assert compare.values[0].shown == "+2.95 cents"
    assert {caution.hazard for caution in compare.cautions} == {"mouth"}


def test_the_leak_test_that_is_spoken_of_is_among_the_steps() -> None:
    titles = [step.title for step in sheet_parts(wind_job("flute")).parts[0].bench]
    assert any(title.startswith("Leak test") for title in titles)


def test_a_bore_of_several_widths_is_told_to_be_rough() -> None:
    def words(name: str) -> str:
        return " ".join(sheet_parts(wind_job(name)).parts[0].tuning[1].text)

    assert "rough ones" in words("tapered")
    assert "rough ones" not in words("flute")
