"""The measures of measure.py on a keyed pair whose sizes are known, good and spoilt.

The pair is put together here from revolved outlines with manifold3d, so that a
measure that could not say no would be found out.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
import pytest
import trimesh

from tests import measure, parts

LENGTH, SEAM, BORE, OUTSIDE = 80.0, 45.0, 16.0, 24.0
ENGAGEMENT, TENON, LAND, GAP, RELIEF = 10.0, 9.9, 0.8, 0.2, 0.4
KEY_DEG, KEY_HALF_DEG, RIB = 40.0, 10.0, 0.5
SIDES = 256

TRUTH = parts.tube(
    length=LENGTH,
    bore=BORE,
    outside=OUTSIDE,
    holes=(parts.Hole(20.0, 25.0, 6.0),),
    pose=parts.turned_pose((0.3, -0.5, 0.8), 33.0, (5.0, -7.0, 20.0)),
).truth


def revolved(outline: Sequence[tuple[float, float]], low: float = 0.0, high: float = 360.0) -> Any:
    section = manifold3d.CrossSection([np.array(outline)])
    turned = section.revolve(SIDES, high - low)
    return turned.rotate((0.0, 0.0, low))


def pair(
    *, clearance: float = 0.15, rib: float = RIB, slack_deg: float = 0.6, slope: float = 1.0
) -> tuple[Any, Any]:
    """Lower and upper piece, both about z with the part's low end at 0."""
    inner, outer, tip = BORE / 2.0, OUTSIDE / 2.0, SEAM + ENGAGEMENT
    cone = TENON - inner - LAND
    lower = revolved([(inner, 0), (outer, 0), (outer, SEAM), (inner, SEAM)])
    lower += revolved(
        [
            (inner, SEAM - 1),
            (TENON, SEAM - 1),
            (TENON, tip - cone),
            (inner + LAND, tip),
            (inner, tip),
        ]
    )
    socket = TENON + clearance / math.cos(math.pi / SIDES)
    roof = tip + GAP
    edge = roof - (socket - inner - LAND) * slope
    upper = revolved([(inner, SEAM), (outer, SEAM), (outer, LENGTH), (inner, LENGTH)])
    upper -= revolved(
        [
            (inner - 1, SEAM - 1),
            (socket + RELIEF + 1, SEAM - 1),
            (socket, SEAM + RELIEF),
            (socket, edge),
            (inner + LAND - 1.8, roof + 1.8 * slope),
            (inner - 1, roof + 1.8 * slope),
        ]
    )
    if rib:
        low, high = KEY_DEG - KEY_HALF_DEG, KEY_DEG + KEY_HALF_DEG
        lower += revolved(
            [
                (TENON - 0.5, SEAM - 1),
                (TENON + rib, SEAM - 1),
                (TENON + rib, tip - cone - rib),
                (TENON - 0.5, tip - cone - rib),
            ],
            low,
            high,
        )
        upper -= revolved(
            [
                (inner - 1, SEAM - 1),
                (socket + rib, SEAM - 1),
                (socket + rib, edge - rib),
                (inner - 1, edge - rib),
            ],
            low - slack_deg,
            high + slack_deg,
        )
    hole = manifold3d.Manifold.cylinder(20.0, 3.0, 3.0, 90).rotate((0.0, 90.0, 25.0))
    return lower - hole.translate((0.0, 0.0, 20.0)), upper


def finished(
    folder: Path, lower: Any, upper: Any, shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> measure.Finished:
    """Both pieces as files in print pose, and as much of a job.json as the measures read."""
    told = parts.datums(TRUTH)
    key = parts.datums(replace(TRUTH, holes=(parts.Hole(SEAM, KEY_DEG, 1.0),))).holes[0, 1]
    records = []
    for index, (solid, low) in enumerate(((lower, 0.0), (upper, SEAM))):
        move = np.eye(4)
        move[:3, 3] = np.array([OUTSIDE / 2.0, OUTSIDE / 2.0, -low])
        raw = solid.transform(move[:3]).to_mesh64()
        mesh = trimesh.Trimesh(np.array(raw.vert_properties), np.array(raw.tri_verts))
        mesh.export(folder / f"pair-0{index + 1}.stl")
        back = np.linalg.inv(move)
        back[:3, 3] += np.array(shift) * index
        to_source = (TRUTH.pose @ back).tolist()
        records.append(
            {"name": f"pair-0{index + 1}", "file": f"pair-0{index + 1}.stl", "to_source": to_source}
        )
    joint = {"station": SEAM, "engagement": ENGAGEMENT, "key_angle_deg": key}
    axis = {"point": told.point.tolist(), "direction": told.direction.tolist()}
    part = {"name": "pair", "survey": {"axis": axis}, "joints": [joint], "pieces": records}
    (folder / "job.json").write_text(json.dumps({"parts": [part]}), encoding="utf-8")
    return measure.load(folder)


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> measure.Finished:
    return finished(tmp_path_factory.mktemp("good"), *pair())


def test_good_pieces_are_closed_and_have_their_holes(good: measure.Finished) -> None:
    assert all(measure.is_one_closed_body(piece) for piece in good.pieces)
    assert [measure.through_holes(piece) for piece in good.pieces] == [2, 1]


def test_torn_piece_is_not_a_closed_body(good: measure.Finished) -> None:
    piece = good.pieces[0]
    torn = trimesh.Trimesh(piece.mesh.vertices, piece.mesh.faces[1:], process=False)
    assert not measure.is_one_closed_body(
        measure.PieceFile("torn", torn, piece.solid, piece.to_source, {})
    )


def test_clearance_is_read_as_built(good: measure.Finished) -> None:
    seen = measure.clearance(measure.seat(good, 0))
    sagitta = TENON * (1.0 - math.cos(math.pi / SIDES))
    assert 0.15 - 1e-4 < seen.least < 0.15 + 2e-4
    assert seen.greatest < 0.15 + 2.0 * sagitta + 2e-4
    cone = TENON - BORE / 2.0 - LAND
    assert abs(seen.parallel_length - (ENGAGEMENT - cone)) < 0.6
    assert abs(seen.key_arc_deg - 2.0 * (KEY_HALF_DEG + 0.6 + 1.5)) < 0.5


def test_diameters_are_read_as_built(good: measure.Finished) -> None:
    tenon, socket = measure.joint_diameters(measure.seat(good, 0))
    assert abs(tenon - 2.0 * TENON) < 1e-4
    assert abs(socket - 2.0 * (TENON * math.cos(math.pi / SIDES) + 0.15)) < 1e-4


def test_clearance_sees_a_socket_set_aside(tmp_path: Path) -> None:
    aside = measure.seat(finished(tmp_path, *pair(), shift=(0.1, 0.0, 0.0)), 0)
    seen = measure.clearance(aside)
    assert abs(seen.least - 0.05) < 5e-3
    assert abs(seen.greatest - 0.25) < 5e-3


def test_walls_are_read_as_built(good: measure.Finished) -> None:
    tenon, socket = measure.walls(measure.seat(good, 0))
    assert abs(tenon - (LAND + measure.LEAD_IN)) < 0.01
    assert abs(measure.land(measure.seat(good, 0)) - LAND) < 0.01
    assert abs(socket - (OUTSIDE / 2.0 - TENON - 0.15 - RIB)) < 0.01


def test_slit_through_a_tenon_is_no_wall(tmp_path: Path) -> None:
    lower, upper = pair()
    slit = manifold3d.Manifold.cube((2.0, 0.3, 4.0)).translate((-TENON - 0.05, 0.0, SEAM + 2.0))
    tenon, socket = measure.walls(measure.seat(finished(tmp_path, lower - slit, upper), 0))
    assert tenon == 0.0
    assert socket > 0.8


def test_overlap_is_none_where_it_fits_and_told_where_not(
    good: measure.Finished, tmp_path: Path
) -> None:
    assert measure.overlap(measure.seat(good, 0)) < 1e-3
    sunk = measure.seat(finished(tmp_path, *pair(), shift=(0.0, 0.0, -0.1)), 0)
    seam = math.pi * (OUTSIDE**2 / 4.0 - (TENON + 0.15 + RELIEF) ** 2)
    assert measure.overlap(sunk) > 0.1 * seam * 0.9


def test_key_seats_once(good: measure.Finished) -> None:
    seen = measure.turning(measure.seat(good, 0), 8.0)
    assert max(abs(play - 0.6) for play in seen.play_deg) < 0.11
    assert seen.free_deg == ()


def test_joint_without_a_key_turns_freely(tmp_path: Path) -> None:
    seen = measure.turning(measure.seat(finished(tmp_path, *pair(rib=0.0)), 0), 8.0)
    assert seen.play_deg == (180.0, 180.0)
    assert len(seen.free_deg) == 357


@pytest.mark.parametrize(("slope", "degrees"), [(1.0, 45.0), (0.5, 26.565)])
def test_roof_slope_is_read_as_built(tmp_path: Path, slope: float, degrees: float) -> None:
    at = measure.seat(finished(tmp_path, *pair(slope=slope, rib=0.0)), 0)
    assert abs(measure.flattest_underside_deg(at) - degrees) < 0.1


def test_groove_in_the_bore_is_gap_and_land(good: measure.Finished) -> None:
    groove = measure.groove_length(measure.seat(good, 0), BORE / 2.0)
    assert abs(groove - (GAP + LAND - 0.05)) < 0.01


def test_assembly_is_as_long_as_the_part(good: measure.Finished) -> None:
    assert abs(measure.assembled_length(good, TRUTH) - LENGTH) < 1e-4
    assert all(measure.axis_error_deg(piece, TRUTH) < 1e-6 for piece in good.pieces)
    assert measure.bore_axis_error_deg(good.pieces[0], TRUTH, 5.0, 40.0) < 1e-3


def test_hole_is_read_from_its_rim(good: measure.Finished) -> None:
    rims = measure.hole_rims(good, TRUTH)
    told = parts.datums(TRUTH).holes
    assert rims.shape == (1, 4)
    assert abs(rims[0, 0] - told[0, 0]) < 0.01
    assert abs(rims[0, 1] - told[0, 1]) < 0.05
    assert np.abs(rims[0, 2:] - 6.0).max() < 0.02


def test_round_surfaces_deviate_by_their_sagitta_only(good: measure.Finished) -> None:
    bore, outside = measure.round_deviations(good, TRUTH)
    for radius, seen in ((BORE / 2.0, bore), (OUTSIDE / 2.0, outside)):
        assert abs(seen - radius * (1.0 - math.cos(math.pi / SIDES))) < 1e-4


STATIONS = np.concatenate((np.arange(1.3, SEAM, 2.5), np.arange(SEAM + 13.3, LENGTH, 2.5)))


def test_pieces_have_the_sections_of_the_part(good: measure.Finished) -> None:
    reference = measure.reference_solid(TRUTH)
    sagitta = OUTSIDE / 2.0 * (1.0 - math.cos(math.pi / 240))
    assert measure.section_difference(good, TRUTH, reference, STATIONS) < sagitta
    socket = TENON + 0.15
    gaps = math.pi * (socket**2 - TENON**2) * ENGAGEMENT
    gaps += math.pi * (GAP * (socket**2 - BORE**2 / 4.0) + LAND**2 * BORE / 2.0)
    missing = float(reference.volume()) - measure.volume(good)
    assert 0.9 * gaps < missing < 1.1 * gaps


def test_missing_hole_and_spare_collar_are_seen_beside_the_part(tmp_path: Path) -> None:
    reference = measure.reference_solid(TRUTH)
    lower, upper = pair()
    outline = [(BORE / 2, 15), (OUTSIDE / 2, 15), (OUTSIDE / 2, 25), (BORE / 2, 25)]
    plugged = finished(tmp_path, lower + revolved(outline), upper)
    assert measure.section_difference(plugged, TRUTH, reference, STATIONS) > 0.1
    outline = [(11.0, 70), (OUTSIDE / 2 + 0.1, 70), (OUTSIDE / 2 + 0.1, 74), (11.0, 74)]
    collared = finished(tmp_path, lower, upper + revolved(outline))
    assert measure.section_difference(collared, TRUTH, reference, STATIONS) > 0.05


def test_bore_is_free_and_a_burr_is_not(good: measure.Finished, tmp_path: Path) -> None:
    stations = np.arange(0.5, LENGTH, 0.5)
    sagitta = BORE / 2.0 * (1.0 - math.cos(math.pi / SIDES))
    assert -1.01 * sagitta - 1e-5 < measure.bore_excess(good, TRUTH, stations) < 1e-5
    lower, upper = pair()
    burr = manifold3d.Manifold.cube((1.0, 1.0, 1.0)).translate((BORE / 2.0 - 0.1, -0.5, 70.0))
    burred = finished(tmp_path, lower, upper + burr)
    assert abs(measure.bore_excess(burred, TRUTH, stations) + 0.1) < 0.02
