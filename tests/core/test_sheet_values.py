"""Every number of the sheet's words by another route: from the document, and on the pieces.

Pieces are cut and weighed with trimesh; widths are read as a caliper reads them, as the least
distance between two parallel jaws. Densities, gaps, stock and drops are typed in here again, as
common practice has them. A drop of 0.02 to 0.03 g, and 1.06 g/cm3, are from memory.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import trimesh
from borewright.core.values import Outcome
from numpy.typing import NDArray

from tests.sheet.made import between_jaws, cut_at, nearest
from tests.sheet_jobs import (
    GLUED,
    JOBS,
    JOINTED,
    document_of,
    job_of,
    mesh_of_piece,
    rows_of,
    step_of,
    steps_of,
    table_of,
    values_of,
)

GAPS = {"glue": (0.05, 0.20), "push": (0.05, 0.15), "take-apart": (0.10, 0.30)}
"""Gaps a side, mm, that serve a fit."""

TENONS = ("flute", "rough", "pushed", "apart", "oring", "lapped", "tapered")
"""Jobs whose joints are single round tenons."""

FloatArray = NDArray[np.float64]


def numbers(text: str) -> list[float]:
    return [float(found) for found in re.findall(r"[-+]?\d+(?:\.\d+)?", text)]


def value(name: str, title: str, which: str) -> str:
    (shown,) = [one.shown for one in values_of(step_of(name, title)) if one.name == which]
    return shown


def entry(name: str) -> Any:
    return document_of(name)["parts"][0]


def settings(name: str) -> Any:
    return document_of(name)["settings"]


def density(name: str) -> float:
    """g/mm3, from memory."""
    return {"PLA": 1.24e-3, "PETG": 1.27e-3}[settings(name)["printing"]["material"]]


def bodies(name: str) -> list[Any]:
    return [piece for piece in entry(name)["pieces"] if piece["role"] == "piece"]


def seam_heights(name: str) -> list[float]:
    """Of each piece, mm over the bed of its file, of its seam above; of the last its top."""
    seams = [joint["station"] for joint in entry(name)["joints"]]
    pieces, survey = bodies(name), entry(name)["survey"]
    lows = [0.0, *seams]
    ends = [*seams, survey["length"]]
    return [
        (end - low) * piece["scale"] for end, low, piece in zip(ends, lows, pieces, strict=True)
    ]


# --- tables ------------------------------------------------------------------------------


@pytest.mark.parametrize("name", JOBS)
def test_pieces_are_as_high_and_as_heavy_as_their_meshes(name: str) -> None:
    rows = table_of(name, "Pieces")
    assert [row["piece"] for row in rows] == [piece["name"] for piece in entry(name)["pieces"]]
    for row, piece in zip(rows, entry(name)["pieces"], strict=True):
        mesh = mesh_of_piece(name, row["piece"])
        assert float(row["height"]) == pytest.approx(np.ptp(mesh.vertices[:, 2]), abs=0.0051)
        assert float(row["solid g"]) == pytest.approx(density(name) * mesh.volume, abs=0.051)
        figure = piece["filament"]["figure"]
        assert float(row["figure g"]) == pytest.approx(figure["mass_g"], abs=0.051)
        metres = figure["volume"] / (math.pi * 1.75**2 / 4.0) / 1000.0
        assert float(row["filament m"]) == pytest.approx(metres, abs=0.0051)
        beds = document_of(name)["beds"]
        assert row["piece"] in beds[int(row["bed"]) - 1]["pieces"]


@pytest.mark.parametrize("name", JOINTED)
def test_joints_are_those_of_the_document(name: str) -> None:
    for row, joint in zip(table_of(name, "Joints"), entry(name)["joints"], strict=True):
        told = [row["kind"], float(row["station"]), float(row["inner"]), float(row["outer"])]
        assert told == pytest.approx([
            joint["kind"], joint["station"], joint["tenon_diameter"], joint["socket_diameter"],
        ], abs=0.0051)  # fmt: skip
        assert float(row["engagement"]) == pytest.approx(joint["engagement"], abs=0.0051)
        assert float(row["gap a side"]) == pytest.approx(joint["radial_clearance"], abs=0.00051)
        assert numbers(row["keys at"]) == pytest.approx(joint["key_angles_deg"], abs=0.051)
        if "glue mm2" in row:
            assert float(row["glue mm2"]) == pytest.approx(joint["glue_area"], abs=0.51)


@pytest.mark.parametrize("name", ["flute", "rough", "apart", "tapered"])
def test_holes_are_those_of_the_document_and_files_go_through_them(name: str) -> None:
    holes = entry(name)["survey"]["side_holes"]
    for row, hole in zip(table_of(name, "Side holes"), holes, strict=True):
        assert [float(row[key]) for key in ("station", "angle", "along", "across")] == (
            pytest.approx(
                [hole[key] for key in ("station", "angle_deg", "axial_width", "across_width")],
                abs=0.051,
            )
        )
        (file,) = numbers(row["clean with"])
        room = 0.8 * hole["diameter"]
        assert file <= room
        assert not any(file < size <= room for size in (2, 3, 4, 5, 6, 8, 10, 12))


# --- readings ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", TENONS)
def test_a_caliper_on_the_files_reads_what_is_told(name: str) -> None:
    """On facets a tenon reads up to 0.01 mm less; sockets are drawn wider for narrow holes."""
    rows = table_of(name, "Readings")
    undersize = settings(name)["compensation"]["hole_undersize"]
    for number, (lower, upper) in enumerate(pairwise(bodies(name)), 1):
        told = {
            row["measure"]: float(row["should read"]) for row in rows if row["joint"] == str(number)
        }
        scale = lower["scale"]
        height = 0.2 * numbers(value(name, "Measure", f"joint {number}"))[0]
        mesh = mesh_of_piece(name, lower["name"])
        tenon = cut_at(mesh, seam_heights(name)[number - 1] + height * scale)
        read = between_jaws(tenon.reshape(-1, 2)) / scale
        assert told["tenon"] - 0.0101 - 0.0051 <= read <= told["tenon"] + 0.0051
        above = mesh_of_piece(name, upper["name"])
        middle = (above.bounds[0, :2] + above.bounds[1, :2]) / 2.0
        within = cut_at(above, height * scale)
        socket = 2.0 * nearest(within, middle) / scale - undersize
        assert socket == pytest.approx(told["socket"], abs=0.0201)
        assert told["outer less inner"] == pytest.approx(told["socket"] - told["tenon"], abs=0.011)


@pytest.mark.parametrize("name", JOINTED)
def test_good_and_not_good_follow_from_gap_and_spread(name: str) -> None:
    """Half of what the gap has in hand for either side, and the spread beyond that."""
    asked = settings(name)
    joint, lost = entry(name)["joints"][0], asked["compensation"]["hole_undersize"]
    gap = (joint["socket_diameter"] - lost - joint["tenon_diameter"]) / 2.0
    assert gap == pytest.approx(asked["clearance"], abs=0.0051)
    spread, fit = max(asked["spread"], 0.1), asked["fit"]
    least, most = GAPS[fit]
    tight, loose = max(gap - least, 0.0), max(most - gap, 0.0)
    fill = spread if fit == "glue" else 0.0
    for row in table_of(name, "Readings"):
        made = float(row["should read"])
        if "groove" in row["measure"]:
            ends = made - spread, made + spread
            assert numbers(row["good"]) == pytest.approx(ends, abs=0.011)
            continue
        good, again = numbers(row["good"]), numbers(row["print again"])
        hollow = any(word in row["measure"] for word in ("socket", "inside"))
        if row["measure"] == "outer less inner":
            assert made == pytest.approx(2.0 * gap, abs=0.0051)
            assert good == pytest.approx((made - 2 * tight, made + 2 * loose), abs=0.011)
            assert again == pytest.approx([good[1] + fill], abs=0.011)
        elif hollow:
            assert good == pytest.approx((made - tight, made + loose), abs=0.011)
            ends = made - tight - spread, made + loose + fill
            assert again == pytest.approx(ends, abs=0.011)
            assert numbers(row["sand"]) == pytest.approx((ends[0], good[0]), abs=0.011)
        else:
            assert good == pytest.approx((made - loose, made + tight), abs=0.011)
            ends = made - loose - fill, made + tight + spread
            assert again == pytest.approx(ends, abs=0.011)
            assert numbers(row["sand"]) == pytest.approx((good[1], ends[1]), abs=0.011)
        if row["your printer"]:
            ends = made - asked["spread"], made + asked["spread"]
            assert numbers(row["your printer"]) == pytest.approx(ends, abs=0.011)


@pytest.mark.parametrize(("name", "inner", "outer"), [
    ("collar", "end, outside", "collar, inside"), ("sleeve", "sleeve, outside", "end, inside"),
])  # fmt: skip
def test_a_ring_and_the_end_it_meets_read_what_is_told(name: str, inner: str, outer: str) -> None:
    """Away from lugs and notches, a fifth of the way up."""
    told = {row["measure"]: float(row["should read"]) for row in table_of(name, "Readings")}
    (ring,) = [piece for piece in entry(name)["pieces"] if piece["role"] == name]
    meshes = [mesh_of_piece(name, one["name"]) for one in (bodies(name)[0], ring)]
    within, around = meshes if name == "collar" else meshes[::-1]
    low = ring["size"][2] / 5.0
    assert between_jaws(cut_at(within, low).reshape(-1, 2)) == pytest.approx(told[inner], abs=0.016)
    middle = (around.bounds[0, :2] + around.bounds[1, :2]) / 2.0
    assert 2.0 * nearest(cut_at(around, low), middle) == pytest.approx(told[outer], abs=0.016)


def test_a_tenon_around_two_bores_is_read_the_short_and_the_long_way() -> None:
    """Ribs stand on one side of its middle only: the other side, doubled, is the tenon."""
    told = {row["measure"]: float(row["should read"]) for row in table_of("twin", "Readings")}
    lower = bodies("twin")[0]
    cut = cut_at(mesh_of_piece("twin", lower["name"]), seam_heights("twin")[0] + 2.0)
    points = cut.reshape(-1, 2)
    bounds = mesh_of_piece("twin", lower["name"]).bounds
    off = np.abs(points - (bounds[0, :2] + bounds[1, :2]) / 2.0)
    signed = points - (bounds[0, :2] + bounds[1, :2]) / 2.0
    way = int(np.argmax(off.max(axis=0)))
    for name, axis in (("tenon, the long way", way), ("tenon, the short way", 1 - way)):
        sides = signed[:, axis].max(), -signed[:, axis].min()
        assert 2.0 * min(sides) == pytest.approx(told[name], abs=0.0151)


def test_pins_are_read_one_by_one() -> None:
    rows = [row for row in table_of("pins", "Readings") if row["measure"].startswith("pin")]
    joint = entry("pins")["joints"][0]
    told = [float(row["should read"]) for row in rows if row["joint"] == "1"]
    assert told == pytest.approx([one["tenon_diameter"] for one in joint["tenons"]], abs=0.0051)
    lower = bodies("pins")[0]
    cut = cut_at(mesh_of_piece("pins", lower["name"]), seam_heights("pins")[0] + 2.0)
    around = float(np.hypot(*(cut[:, 1] - cut[:, 0]).T).sum())
    assert around == pytest.approx(sum(math.pi * diameter for diameter in told), rel=0.002)


# --- printing ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", [name for name in JOBS if name != "leaning"])
def test_brims_go_by_height_over_the_least_width_on_the_bed(name: str) -> None:
    for row in table_of(name, "Height over width"):
        mesh = mesh_of_piece(name, row["piece"])
        first = cut_at(mesh, settings(name)["layer"] / 2.0).reshape(-1, 2)
        high, wide = float(np.ptp(mesh.vertices[:, 2])), between_jaws(first)
        assert float(row["height"]) == pytest.approx(high, abs=0.051)
        assert float(row["least width on the bed"]) == pytest.approx(wide, abs=0.06)
        assert float(row["ratio"]) == pytest.approx(high / wide, abs=0.06)
        words = (
            "a brim, and slower"
            if high / wide > 8
            else "a brim"
            if high / wide > 4
            else "stands by itself"
        )
        assert row["against tipping"] == words


@pytest.mark.parametrize("name", JOINTED)
def test_heights_are_those_of_the_meshes_in_whole_layers(name: str) -> None:
    layer = settings(name)["layer"]
    (table,) = step_of(name, "Layer height").tables
    flats: dict[str, set[float]] = {}
    for row in rows_of(table, [one["name"] for one in entry(name)["pieces"]]):
        height, layers = float(row["in the file"]), int(row["layers"])
        assert layers in {math.floor(height / layer + half) for half in (0.49, 0.5, 0.51)}
        assert float(row["printed"]) == pytest.approx(layers * layer, abs=0.00051)
        off = numbers(row["off"])[0]
        if "either way" in row["off"]:
            assert off == pytest.approx(layer / 2.0, abs=0.00051)
            assert abs(layers * layer - height) == pytest.approx(layer / 2.0, abs=0.0055)
        else:
            assert off == pytest.approx(layers * layer - height, abs=0.0011)
            assert abs(off) <= layer / 2.0 + 1e-9
        if row["height of"] == "shoulder":
            flats.setdefault(row["piece"], level_up(mesh_of_piece(name, row["piece"])))
            assert min(abs(height - flat) for flat in flats[row["piece"]]) < 0.00052
        if row["height of"] == "top":
            assert height == pytest.approx(mesh_of_piece(name, row["piece"]).bounds[1, 2], abs=1e-3)


def level_up(mesh: trimesh.Trimesh) -> set[float]:
    """Heights of its faces that look straight up."""
    up = mesh.face_normals[:, 2] > 0.9999
    return {round(float(z), 6) for z in mesh.triangles[up].mean(axis=1)[:, 2]}


@pytest.mark.parametrize("name", TENONS)
def test_what_is_left_over_a_tip_and_of_the_length_is_counted_layer_by_layer(name: str) -> None:
    """Printed tip over shoulder against a printed roof that is drawn 0.2 mm over the tip."""
    layer = settings(name)["layer"]
    pieces = bodies(name)
    shoulders = seam_heights(name)

    def spans(height: float) -> tuple[float, float]:
        """Off by, least and most: both ways where it is half a layer."""
        below = math.floor(height / layer + 1e-9) * layer
        rest = height - below
        if abs(rest - layer / 2.0) < 0.005:
            return -rest, layer - rest
        off = -rest if rest < layer / 2.0 else layer - rest
        return off, off

    total = np.zeros(2)
    for number, (piece, shoulder) in enumerate(zip(pieces, shoulders, strict=True), 1):
        total += np.array(spans(shoulder)) / piece["scale"]
        if number == len(pieces):
            break
        high = float(mesh_of_piece(name, piece["name"]).bounds[1, 2])
        tip, own = spans(high), spans(shoulder)
        roof = spans(high - shoulder + 0.2 * piece["scale"])
        low = 0.2 + (roof[0] - tip[1] + own[0]) / piece["scale"]
        most = 0.2 + (roof[1] - tip[0] + own[1]) / piece["scale"]
        told = numbers(value(name, "Layer height", f"left over the tip at joint {number}"))
        assert (told[0], told[-1]) == pytest.approx((max(low, 0.0), max(most, 0.0)), abs=0.0021)
    comes = value(name, "Layer height", "the part comes out").removesuffix(", to 0.005 mm")
    ends = [told_length(end) for end in comes.split(" to ")]
    assert (ends[0], ends[-1]) == pytest.approx(tuple(total), abs=0.0061)


def told_length(words: str) -> float:
    """How much longer, mm, than drawn."""
    if words == "as long as it is drawn":
        return 0.0
    size, unit, way = words.split()
    assert unit == "mm"
    return {"longer": 1.0, "shorter": -1.0}[way] * float(size)


@pytest.mark.parametrize("name", [name for name in JOINTED if name not in ("oring", "lapped")])
def test_layers_start_as_far_from_holes_and_keys_as_can_be(name: str) -> None:
    """Tried at every tenth of a degree."""
    taken = [hole["angle_deg"] for hole in entry(name)["survey"]["side_holes"]]
    taken += [angle for joint in entry(name)["joints"] for angle in joint["key_angles_deg"]]
    tried = np.arange(0.0, 360.0, 0.1)
    apart = np.abs((tried[:, None] - np.array(taken) + 180.0) % 360.0 - 180.0).min(axis=1)
    line = numbers(value(name, "Start of layers", "line at"))[0]
    free = numbers(value(name, "Start of layers", "free about it"))[0]
    own = min(abs((line - one + 180.0) % 360.0 - 180.0) for one in taken)
    assert own >= apart.max() - 1.0
    assert free == pytest.approx(2.0 * apart.max(), abs=1.0)
    (turn,) = [
        one.shown for one in values_of(step_of(name, "Start of layers")) if "from" in one.name
    ]
    sign = -1.0 if " clockwise" in turn else 1.0
    assert abs((taken[0] + sign * numbers(turn)[0] - line + 180.0) % 360.0 - 180.0) < 1.1


@pytest.mark.parametrize("name", ["flute", "tapered"])
def test_a_hole_hangs_over_the_chord_between_its_two_points_at_45_degrees(name: str) -> None:
    holes = entry(name)["survey"]["side_holes"]
    for number, hole in enumerate(holes, 1):
        ends = [hole["diameter"] / 2.0 * math.cos(math.radians(at)) for at in (45.0, 135.0)]
        told = numbers(value(name, "Side holes", f"top of hole {number}"))
        assert told == pytest.approx([ends[0] - ends[1]], abs=0.0051)


# --- bench -------------------------------------------------------------------------------


@pytest.mark.parametrize("name", GLUED)
def test_glue_fills_the_gap_over_the_area_and_no_more(name: str) -> None:
    asked = settings(name)
    for number, joint in enumerate(entry(name)["joints"], 1):
        volume = joint["glue_area"] * asked["clearance"]
        (shown,) = [
            one.shown
            for one in values_of(step_of(name, "Get the glue ready"))
            if one.name.startswith(f"joint {number}")
        ]
        told, gap, *amounts = [
            float(one) for one in re.findall(r"(?<![a-z\d])\d+(?:\.\d+)?", shown)
        ]
        assert told == pytest.approx(volume, abs=0.51)
        assert gap == pytest.approx(asked["clearance"], abs=0.0051)
        if volume > 300.0 or gap > 0.2:
            assert "epoxy" in shown
            assert amounts == pytest.approx([max(1.0, 2.0 * volume / 1000.0)], abs=0.051)
        else:
            small, large = 20.0 / 1.06, 30.0 / 1.06
            drops = [max(1, math.floor(volume / large)), math.ceil(volume / small)]
            assert amounts == sorted(set(drops))


def test_bond_volume_is_the_closed_form_of_a_thin_ring() -> None:
    """pi D L g, with D and L as a caliper and a rule read them on the piece."""
    parallel = numbers(value("flute", "Measure", "joint 1"))[0]
    across = entry("flute")["joints"][0]["tenon_diameter"]
    told = numbers(value("flute", "Get the glue ready", "joint 1"))[0]
    assert told == pytest.approx(math.pi * across * parallel * 0.15, abs=0.6)
    band = numbers(value("flute", "Spread it and push home", "joint 1, glue on"))[0]
    assert band == pytest.approx(parallel / 2.0, abs=0.051)
    mesh = mesh_of_piece("flute", "flute-01")
    foot = seam_heights("flute")[0]
    full = between_jaws(cut_at(mesh, foot + parallel - 0.02).reshape(-1, 2))
    assert full == pytest.approx(across, abs=0.02)
    assert between_jaws(cut_at(mesh, foot + parallel + 0.1).reshape(-1, 2)) < across - 0.15


@pytest.mark.parametrize("name", JOINTED)
def test_lengths_for_the_end_stop_are_those_of_the_pieces_put_together(name: str) -> None:
    axis = np.array(entry(name)["survey"]["axis"]["direction"])
    spans = []
    for piece in bodies(name):
        motion, mesh = np.array(piece["to_source"]), mesh_of_piece(name, piece["name"])
        placed = mesh.vertices / piece["scale"] @ motion[:3, :3].T + motion[:3, 3]
        along = placed @ axis
        spans.append((along.min(), along.max()))
    told = [one for step in steps_of(name) for one in step.values if "after joint" in one.name]
    assert len(told) == len(spans) - 1
    for number, one in enumerate(told, 1):
        lengths = [spans[number][1] - spans[0][0], spans[number][1] - spans[number - 1][0]]
        assert numbers(one.shown) == pytest.approx(lengths[: 1 + (number > 1)], abs=0.0051)


@pytest.mark.parametrize("name", ["flute", "rough", "apart", "oring", "lapped", "collar", "sleeve",
                                  "twin", "whole", "leaning"])  # fmt: skip
def test_dowel_foam_and_paper_add_up_to_the_bore(name: str) -> None:
    survey, joints = entry(name)["survey"], entry(name)["joints"]
    walls = [survey["wall"]["least"]]
    for joint in joints:
        if joint["bores"]:
            walls += [one["root_wall"] for one in joint["strength"]]
            housing = joint["housing"]
            walls += [] if housing is None else [housing["wall_under"]]
    tables = step_of(name, "Clear and smooth the bore").tables
    assert len(tables) == len({round(bore["diameter"], 2) for bore in survey["bores"]})
    for table in tables:
        (bore,) = numbers(table.title)
        assert bore == pytest.approx(survey["bores"][0]["diameter"], abs=0.0051)
        light = 0
        for row in rows_of(table):
            dowel, foam = millimetres(row["dowel"]), numbers(row["foam"])[0]
            across = [dowel + 2.0 * foam + 2.0 * paper for paper in (0.2, 0.4)]
            assert numbers(row["with paper"]) == pytest.approx(across, abs=0.0051)
            squeezed = [(one - bore) / 2.0 / foam for one in across]
            assert numbers(row["foam squeezed by"]) == pytest.approx(
                [100.0 * share for share in squeezed], abs=0.7
            )
            left = min(walls) - max(0.0, across[1] - bore) / 2.0
            assert numbers(row["wall left"])[0] == pytest.approx(left, abs=0.011)
            assert left >= settings(name)["least_wall"]
            assert squeezed[0] < 0.0 or squeezed[1] <= 0.3 + 1e-9
            is_light = squeezed[0] >= -1e-9
            assert (row["presses"] == "lightly") == is_light
            light += is_light
        assert (light == 0) == any(note.startswith("Of those") for note in table.notes)


def millimetres(dowel: str) -> float:
    if dowel.endswith(" mm"):
        return float(dowel[:-3])
    return float(25.4 * sum(Fraction(word) for word in dowel.removesuffix(" in").split()))


def test_a_bore_that_tapers_takes_no_mandrel_all_along() -> None:
    step = step_of("tapered", "Clear and smooth the bore")
    assert step.tables == ()
    assert any("tapered bore" in sentence for sentence in step.text)
    ends = entry("tapered")["survey"]["bores"][0]["end_diameters"]
    assert numbers(value("tapered", "Clear and smooth the bore", "bore 1"))[-2:] == (
        pytest.approx(ends, abs=0.0051)
    )


@pytest.mark.parametrize("name", JOINTED)
def test_nicks_are_as_many_as_the_document_counts(name: str) -> None:
    for number, joint in enumerate(entry(name)["joints"], 1):
        shown = value(name, "Try it dry", f"joint {number}")
        assert (numbers(shown) or [0.0])[0] == joint["witness_marks"]


def test_an_o_ring_is_the_one_of_the_document() -> None:
    housing = entry("oring")["joints"][0]["housing"]
    shown = value("oring", "Fit the O-rings", "joint 1")
    assert f"cord {housing['cord']:.2f} mm" in shown
    assert f"{housing['groove_diameter']:.2f} mm" in shown
    (row,) = [row for row in table_of("oring", "Readings") if "groove" in row["measure"]][:1]
    assert float(row["should read"]) == pytest.approx(housing["groove_diameter"], abs=0.0051)


@pytest.mark.parametrize("name", JOBS)
def test_which_end_is_down_is_the_end_that_is_down(name: str) -> None:
    """A socket's mouth is an opening on the bed that is wider than its piece's bore."""
    outcome = job_of(name).parts[0].outcome
    for row in table_of(name, "Pieces"):
        if not isinstance(outcome, Outcome):
            assert row["stands on"] == "as its file stands"
            continue
        (piece,) = [one for one in outcome.pieces if one.name == row["piece"]]
        lower = piece.joint_below is not None and piece.joint_below.collar is None
        if piece.role == "piece" and outcome.plan.lean is None:
            assert row["stands on"] == ("the socket's mouth" if lower else "its low end")
        points_up = piece.joint_above is not None and piece.joint_above.collar is None
        assert ("its tenon points up" in row["why"]) == points_up
