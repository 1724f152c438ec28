"""Parts that a survey could take for something else: notches, small steps, plugs, hollows."""

from __future__ import annotations

from collections.abc import Callable

import manifold3d
import numpy as np
import pytest
from borewright.core.errors import BadSetting, NotTubular
from borewright.core.meshes.mend import mend_bodies
from borewright.core.meshes.mesh_checks import enclosed_volume
from borewright.core.surveying import labelling
from borewright.core.surveying.survey import survey_part
from borewright.core.values import Mesh, Outcome, Settings, Survey
from manifold3d import CrossSection, Manifold

from tests.jobs import plan_surveyed


def rod(
    radius: float, length: float, low: float = 0.0, x: float = 0.0, y: float = 0.0, n: int = 96
) -> Manifold:
    return Manifold.cylinder(length, radius, radius, n).translate((x, y, low))


def tube(n: int = 96) -> Manifold:
    """400 long, 40 outside, 16 inside."""
    return rod(20.0, 400.0, n=n) - rod(8.0, 402.0, -1.0, n=n)


def mesh_of(solid: Manifold) -> Mesh:
    made = solid.to_mesh64()
    return Mesh(np.array(made.vert_properties)[:, :3], np.array(made.tri_verts, np.int64))


def read(solid: Manifold, max_move: float = 0.1) -> Survey:
    return survey_part(mend_bodies(mesh_of(solid))[0], max_move=max_move)


def planned(solid: Manifold) -> Outcome:
    settings = Settings((180.0, 180.0, 180.0))
    return plan_surveyed(mesh_of(solid), "x", settings)[0]


def notch() -> Manifold:
    """A V, 5.66 deep, across the outside at 60."""
    return Manifold.cube((8.0, 100.0, 8.0), center=True).rotate((0, 45.0, 0)).translate((20, 0, 60))


def grip() -> Manifold:
    """A flat 4 deep from 60 to 90 whose ends run out at 45 degrees."""
    outline = CrossSection([[(16, 60), (16, 90), (24, 98), (24, 52)]], manifold3d.FillRule.EvenOdd)
    return outline.extrude(100.0).translate((0, 0, -50.0)).rotate((90.0, 0, 0))


@pytest.mark.parametrize("cut", [notch, grip])
def test_cuts_whose_corners_lie_on_the_circle_are_kept(cut: Callable[[], Manifold]) -> None:
    """What truing adds are the facets' own bulges: 2/3 of a sagitta of 0.0107 all over."""
    part = tube() - cut()
    done = planned(part)
    assert [o.place for o in done.survey.ornaments] != []
    bulges = 2.0 / 3.0 * 0.0107 * 2.0 * np.pi * (20.0 + 8.0) * 400.0
    assert abs(enclosed_volume(done.trued.mesh) - part.volume()) < bulges
    assert done.trued.greatest_chord < 0.2


def test_a_band_a_little_narrower_keeps_its_own_radius_and_its_neighbours_theirs() -> None:
    part = tube() - (rod(30.0, 30.0, 100.0) - rod(19.92, 30.0, 100.0))
    done = planned(part)
    radii = sorted((o.start, o.radius_at_zero) for o in done.survey.outsides)
    assert [round(start) for start, _ in radii] == [0, 100, 130]
    assert [radius for _, radius in radii] == pytest.approx([20.0, 19.92, 20.0], abs=1e-4)
    reach = np.hypot(*done.trued.mesh.vertices[:, :2].T)
    off = np.abs(reach[:, None] - [20.0, 19.92, 8.0]).min(axis=1)
    assert off.max() < 1e-6


def test_a_bore_with_a_step_of_five_hundredths_is_two_stretches_and_no_taper() -> None:
    survey = read(rod(20.0, 400.0) - rod(8.0, 201.0, -1.0) - rod(8.05, 202.0, 200.0))
    found = sorted((bore.start, bore.radius_at_zero, bore.slope) for bore in survey.bores)
    assert np.array(found) == pytest.approx(np.array([[0, 8.0, 0], [200.0, 8.05, 0]]), abs=1e-4)


def test_surfaces_are_labelled_alike_however_many_are_looked_for_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    bored = rod(7.0, 122.0, -1.0) + rod(8.0, 82.0, 40.0) + rod(9.0, 42.0, 80.0)
    part = rod(12.0, 120.0) - bored
    together = read(part)
    monkeypatch.setattr(labelling, "_MOST_VIEWS", 1)
    apart = read(part)
    assert len(together.bores) == 3
    assert np.array_equal(together.labels, apart.labels)
    assert np.array_equal(together.numbers, apart.numbers)


def test_blind_bores_from_both_ends_are_two_with_a_plug_between() -> None:
    survey = read(rod(14.0, 300.0) - rod(8.0, 101.0, -1.0) - rod(8.0, 120.0, 181.0))
    spans = sorted((bore.start, bore.stop) for bore in survey.bores)
    assert np.array(spans) == pytest.approx(np.array([[0.0, 100.0], [181.0, 300.0]]), abs=1e-6)


@pytest.mark.parametrize("low", [50.0, -1.0], ids=["sealed", "blind"])
def test_a_small_hollow_beside_the_bore_is_no_bore(low: float) -> None:
    survey = read(rod(20.0, 300.0) - rod(8.0, 302.0, -1.0, x=4.0) - rod(2.0, 12.0, low, x=-12.0))
    assert len(survey.bores) == 1
    assert survey.frame.origin[:2] == pytest.approx([4.0, 0.0], abs=1e-6)
    assert any("not taken for a bore" in remark for remark in survey.remarks)


@pytest.mark.parametrize("n", [200, 256, 400])
def test_fine_facets_and_float32_leave_a_closed_end_and_a_plain_tube_readable(n: int) -> None:
    for part in (tube(n), rod(20.0, 300.0, n=n) - rod(8.0, 301.0, 5.0, n=n)):
        mesh = mesh_of(part)
        rounded = Mesh(mesh.vertices.astype(np.float32).astype(np.float64), mesh.triangles)
        survey = survey_part(mend_bodies(rounded)[0], max_move=0.1)
        assert survey.bore.radius_at_zero == pytest.approx(8.0, abs=1e-4)


def test_an_outside_that_leans_from_the_bore_is_measured_and_left_alone() -> None:
    survey = read(rod(20.0, 400.0) - rod(8.0, 440.0, -20.0).rotate((0.3, 0, 0)), max_move=0.5)
    assert survey.outsides == ()
    assert survey.wall_least < 12.0 - 200.0 * np.sin(np.radians(0.3))


def test_three_bores_are_refused_by_their_number() -> None:
    holes = [rod(6.0, 302.0, -1.0, 12.0 * np.cos(a), 12.0 * np.sin(a)) for a in (0.0, 2.1, 4.2)]
    part = rod(30.0, 300.0)
    for hole in holes:
        part -= hole
    with pytest.raises(NotTubular, match="3 bores beside each other"):
        read(part)


@pytest.mark.parametrize("stretch", [1.03, 1.3])
def test_an_oval_bore_is_refused_with_how_far_it_is_out_of_round(stretch: float) -> None:
    part = (rod(12.0, 300.0) - rod(7.0, 302.0, -1.0)).scale((stretch, 1.0, 1.0))
    told = r"0\.06\d mm rms off a round one" if stretch < 1.1 else r"reaches 7\.00 to 9\.10 mm"
    with pytest.raises(NotTubular, match=told):
        read(part)


def test_a_plan_around_two_bores_that_stay_untrue_is_refused_before_it_is_built() -> None:
    part = rod(20.0, 300.0) - rod(5.0, 302.0, -1.0, x=7.5) - rod(5.0, 302.0, -1.0, x=-7.5)
    settings = Settings((180.0, 180.0, 180.0), true="none")
    with pytest.raises(BadSetting, match="2 of 2 bores as they are"):
        plan_surveyed(mesh_of(part), "x", settings)
