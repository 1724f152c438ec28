"""Stubs of thin tubes and halves of their collars, read back by manifold3d and trimesh only.

Sizes and stepped clearances are what was asked for; nothing here is published.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import trimesh
from borewright.core.errors import BadSetting, ProofFailed
from borewright.core.recording.job_record import SavedFile
from borewright.core.trial import collar_rings
from borewright.core.trial.collar_sizes import collar_sizes, plastic_of
from borewright.core.trial.make_trial import make_trial
from borewright.core.trial.trial_record import trial_document
from borewright.core.trial.trial_set import FitTrial
from borewright.core.trial.trial_words import trial_summary
from borewright.core.trial.tried_joint import TriedCollar, joint_of_plans, joint_of_sizes
from borewright.core.values import Compensation, Mesh, Settings
from manifold3d import Manifold

from tests.core.test_trial_rings import ANY, PROUD, THREE, USUAL
from tests.jobs import plan_surveyed
from tests.parts import plain_tube
from tests.ring_measures import (
    FloatArray,
    as_manifold,
    least_reach,
    outlines,
    rings_of,
    stretches,
)

FOOT = 2.0


@dataclass(frozen=True)
class Case:
    """What is asked for and what is due; mm."""

    bore: float
    wall: float
    clearances: tuple[float, ...]
    settings: Settings = ANY
    made_wider: float = 0.0
    larger: float = 1.0


CASES = {
    "bore 8, wall 1": Case(8.0, 1.0, USUAL),
    "bore 30, wall 1.6": Case(30.0, 1.6, USUAL),
    "bore 57.6, wall 1.2": Case(57.6, 1.2, THREE),
    "the thickest of its kind": Case(14.0, 2.25, USUAL),
    "a printer's own": Case(
        30.0, 1.6, USUAL, replace(ANY, compensation=Compensation(0.2, 0.3, 1.0)), 0.1, 1 / 0.99
    ),
}  # fmt: skip

each = pytest.mark.parametrize("name", CASES)


def asked(name: str) -> TriedCollar:
    case = CASES[name]
    tried = joint_of_sizes(case.bore, case.wall, case.settings)
    assert isinstance(tried, TriedCollar)
    return tried


@cache
def made(name: str) -> FitTrial:
    return make_trial(asked(name), None)


@cache
def bodies(name: str) -> list[trimesh.Trimesh]:
    """Stub, then rings, in mm of the print, each about the axis by what the record tells."""
    case = CASES[name]
    found = []
    for ring, piece in zip(rings_of(made(name).mesh), made(name).pieces, strict=True):
        assert np.allclose(ring.body.extents, np.ptp(piece.mesh.vertices, axis=0), atol=1e-4)
        ring.body.apply_scale(1.0 / case.larger)
        found.append(ring.body)
    return found


def seated(name: str) -> list[Manifold]:
    """Stub, and each ring where it is home: its top level with the stub's."""
    stub, *rings = bodies(name)
    top = stub.bounds[1, 2]
    return [as_manifold(stub)] + [
        as_manifold(ring).translate((0.0, 0.0, top - ring.bounds[1, 2])) for ring in rings
    ]


def off_lugs(outline: FloatArray, name: str) -> FloatArray:
    """Corners off both lugs and their gaps."""
    angles = np.arctan2(outline[:, 1], outline[:, 0])
    outer = CASES[name].bore / 2.0 + CASES[name].wall
    kept = np.ones(len(outline), bool)
    for lug in made(name).about.key_angles:
        kept &= np.abs(np.angle(np.exp(1j * (angles - lug)))) > 2.6 / outer
    return outline[kept]


@each
def test_each_ring_has_its_own_clearance_about_the_stub(name: str) -> None:
    case, (stub, *rings) = CASES[name], bodies(name)
    assert len(rings) == len(case.clearances)
    outer = case.bore / 2.0 + case.wall
    assert np.hypot(*outlines(stub, 1.0)[0].T).max() == pytest.approx(outer, abs=0.001)
    for ring, clearance in zip(rings, case.clearances, strict=True):
        for height in (1.0, 2.0, ring.bounds[1, 2] - 0.5):
            inner = off_lugs(outlines(ring, height)[1], name)
            gap = np.hypot(*inner.T) - outer
            assert gap.min() == pytest.approx(clearance + case.made_wider, abs=0.01)
            assert gap.max() == pytest.approx(clearance + case.made_wider, abs=0.012)
        flat = outlines(ring, 1.0)[1]  # under the lugs
        assert least_reach(flat) - outer == pytest.approx(clearance + case.made_wider, abs=0.003)


@each
def test_every_ring_goes_home_and_turned_none_does(name: str) -> None:
    stub, *rings = seated(name)
    for ring in rings:
        assert (stub ^ ring).volume() < 0.01
        for turn in (-20.0, -4.0, 4.0, 20.0, 110.0, 250.0):
            assert (stub ^ ring.rotate((0.0, 0.0, turn))).volume() > 0.05


@each
def test_gaps_beside_lugs_are_all_round_no_less_than_told(name: str) -> None:
    case = CASES[name]
    stub, *rings = seated(name)
    least_play = math.radians(0.6) * case.bore / 2.0
    for ring, clearance in zip(rings, case.clearances, strict=True):
        due = min(clearance + case.made_wider, least_play)
        assert due - 0.005 < stub.min_gap(ring, 1.0) < due + 0.005


@each
def test_every_ring_is_one_closed_body_that_prints_unsupported(name: str) -> None:
    for body in bodies(name):
        assert body.is_watertight
        assert body.is_winding_consistent
        assert body.volume > 0.0
        assert body.bounds[0, 2] == pytest.approx(0.0, abs=1e-6)
        assert len(as_manifold(body).decompose()) == 1
        hangs = (body.face_normals[:, 2] < 0.0) & (body.triangles[:, :, 2].max(axis=1) > 1e-3)
        wide = body.area_faces > 1e-4
        flattest = np.degrees(np.arcsin(-body.face_normals[hangs & wide, 2])).max(initial=0.0)
        assert flattest <= 45.5
    plastic = sum(piece.volume for piece in map(trimesh_of, made(name).pieces))
    assert plastic <= 6000.0
    assert plastic_of(collar_sizes(asked(name))) == pytest.approx(plastic, rel=0.03)


def trimesh_of(piece: Any) -> trimesh.Trimesh:
    return trimesh.Trimesh(piece.mesh.vertices.copy(), piece.mesh.triangles.copy(), process=False)


@each
def test_the_nth_ring_has_n_bars_and_the_first_is_longer(name: str) -> None:
    stub, *rings = bodies(name)
    for number, ring in enumerate(rings, 1):
        outside = np.median(np.hypot(*outlines(ring, 0.95 * ring.bounds[1, 2])[0].T))
        for share in (0.02, 0.3, 0.55):
            outer = outlines(ring, share * ring.bounds[1, 2])[0]
            found = stretches(outer, outside + PROUD)
            assert len(found) == number
            assert all(wide * outside >= 0.8 for _, wide in found)
            places = np.sort([math.fmod(angle + 7.0, 2.0 * math.pi) for angle, _ in found])
            assert number == 1 or np.diff(places).min() * outside > 3.0
        (long,) = stretches(outlines(ring, 0.95 * ring.bounds[1, 2])[0], outside + PROUD)
        assert long[0] == pytest.approx(made(name).about.key_angles[0], abs=0.15)
    assert stretches(outlines(stub, 1.0)[0], np.hypot(*outlines(stub, 1.0)[0].T).max()) == []


def test_a_planned_collar_is_tried_by_its_own_tube() -> None:
    mesh = plain_tube(bore=27.6, outside=30.0).mesh
    settings = Settings(envelope=(180.0, 180.0, 180.0))
    source = Mesh(np.array(mesh.vertices), np.array(mesh.faces))
    outcomes = plan_surveyed(source, "pipe", settings)
    (joint,) = outcomes[0].plan.joints
    assert joint.collar is not None
    trial = make_trial(joint_of_plans(outcomes, 1, settings), settings.envelope)
    assert trial.about.kind == "collar"
    assert trial.about.within == pytest.approx(30.0, abs=0.001)
    assert trial.about.key_angles == tuple(lug.angle for lug in joint.collar.lugs)
    stub, *_ = rings_of(trial.mesh)
    assert np.hypot(*outlines(stub.body, 1.0)[1].T).max() == pytest.approx(13.8, abs=0.001)


def test_a_wide_tube_is_refused_with_what_it_would_take() -> None:
    with pytest.raises(BadSetting, match=r"\d\.\d cm3 .* 92\.4 mm.*at most 6 cm3.*at most \d+ mm"):
        make_trial(joint_of_sizes(90.0, 1.2, ANY), None)


def test_a_ring_of_another_gap_than_told_fails_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    real = collar_rings.half_collar

    def wider(whole: Mesh, station: float, bars: Any, number: int) -> Mesh:
        half = real(whole, station, bars, number)
        return Mesh(half.vertices * (1.001, 1.001, 1.0), half.triangles)

    monkeypatch.setattr(collar_rings, "half_collar", wider)
    with pytest.raises(ProofFailed, match=r"ring_clearance of ring-1 is 0\.06"):
        make_trial(asked("bore 30, wall 1.6"), None)


@each
def test_table_and_record_tell_every_ring(name: str) -> None:
    case, trial = CASES[name], made(name)
    told = trial_summary(trial, "fit-trial.stl", ())
    for number, clearance in enumerate(case.clearances, 1):
        assert f"\n     {number}  {clearance:20.3f}" in told
    assert "stub" in told
    assert max(map(len, told.splitlines())) <= 96
    document: Any = trial_document(trial, SavedFile("fit-trial.stl", "00"), ())
    assert [ring["kind"] for ring in document["rings"]] == ["stub"] + ["collar"] * len(
        case.clearances
    )
    assert document["joint"]["kind"] == "collar"
