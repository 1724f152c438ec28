"""Which unit a file is taken to be in. The bounds are judgement, no source.

The parts' sizes are known by construction, in mm.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from borewright.core.errors import BadMesh, UnitUnclear
from borewright.core.surveying.unit_guess import UNITS_IN_MM, StatedUnit, choose_unit, measure_part
from borewright.core.values import Mesh

from tests.parts import Part, plain_tube, random_pose, straight_pipe, tube


@cache
def pipe() -> Part:
    """352 long, bore 14.2, outside 21.4, seven side holes."""
    return straight_pipe()


def mesh_of(part: Part, unit: str = "mm") -> Mesh:
    """As a file in that unit would hold it, to float32."""
    vertices = (part.mesh.vertices / UNITS_IN_MM[unit]).astype(np.float32)
    return Mesh(vertices.astype(np.float64), part.mesh.faces)


@pytest.mark.parametrize("length", [60.0, 120.0, 250.0, 400.0])
@pytest.mark.parametrize(("bore", "outside"), [(5.5, 8.0), (6.8, 8.0), (16.0, 24.0), (57.0, 60.0),
                                               (8.0, 60.0)])  # fmt: skip
def test_an_ordinary_tube_in_mm_is_taken_as_mm(length: float, bore: float, outside: float) -> None:
    choice = choose_unit(mesh_of(plain_tube(length=length, bore=bore, outside=outside)), "auto")
    assert (choice.unit, choice.scale_to_mm) == ("mm", 1.0)


def test_a_pipe_of_352_in_metres_is_taken_as_metres_and_said() -> None:
    choice = choose_unit(mesh_of(pipe(), "m"), "auto")
    assert (choice.unit, choice.scale_to_mm) == ("m", 1000.0)
    assert "Read in m: about 352 mm long" in choice.remark


@pytest.mark.parametrize("unit", ["cm", "in"])
def test_a_pipe_that_fits_cm_and_inches_is_refused_with_every_reading(unit: str) -> None:
    with pytest.raises(UnitUnclear) as refusal:
        choose_unit(mesh_of(pipe(), unit), "auto")
    assert "2 likely readings of the part's size (cm, in)" in refusal.value.found
    assert refusal.value.found.count(" long, ") == len(UNITS_IN_MM)
    assert "352 long" in refusal.value.found
    assert refusal.value.remedy == "--units cm or --units in"


def test_a_unit_that_is_given_is_taken_without_a_look() -> None:
    for unit, scale in UNITS_IN_MM.items():
        choice = choose_unit(mesh_of(pipe()), unit)  # type: ignore[arg-type]
        assert (choice.unit, choice.scale_to_mm, choice.remark) == (unit, scale, "")


def test_a_unit_that_the_file_says_is_taken_and_told_if_it_is_not_mm() -> None:
    """A pipe of cm or inches, which its size leaves open."""
    choice = choose_unit(mesh_of(pipe(), "in"), "auto", StatedUnit("in", 25.4))
    assert (choice.unit, choice.scale_to_mm) == ("in", 25.4)
    assert choice.remark.startswith("Read in in, as the file says: about 352 mm long and ")
    choice = choose_unit(mesh_of(pipe()), "auto", StatedUnit("mm", 1.0))
    assert (choice.unit, choice.scale_to_mm, choice.remark) == ("mm", 1.0, "")


def test_a_unit_that_is_given_beats_the_file_and_tells_so_if_they_differ() -> None:
    choice = choose_unit(mesh_of(pipe()), "mm", StatedUnit("foot", 304.8))
    assert (choice.unit, choice.scale_to_mm) == ("mm", 1.0)
    assert choice.remark == "Read in mm, as --units says; the file says foot."
    assert not choose_unit(mesh_of(pipe()), "in", StatedUnit("in", 25.4)).remark


def test_a_part_too_small_in_any_unit_is_refused() -> None:
    with pytest.raises(UnitUnclear, match=r"0 likely readings.*--units mm or --units cm"):
        choose_unit(mesh_of(plain_tube(length=1e-4, bore=1e-5, outside=2e-5)), "auto")


def test_the_size_of_a_part_too_large_in_any_unit_is_told_in_full() -> None:
    with pytest.raises(UnitUnclear) as refusal:
        choose_unit(mesh_of(plain_tube(length=430_000.0, bore=20_000.0, outside=36_000.0)), "auto")
    assert "in mm 430000 long, " in refusal.value.found
    assert "e+" not in refusal.value.found


@pytest.mark.parametrize("count", [0, 1, 3])
def test_what_is_no_mesh_is_called_so_rather_than_of_unclear_unit(count: int) -> None:
    few = Mesh(np.eye(3) * 1e-6, np.tile([0, 1, 2], (count, 1)))
    with pytest.raises(BadMesh, match=f"{count} triangles"):
        choose_unit(few, "auto")


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_damage_that_mending_will_tell_does_not_hide_the_unit(value: float) -> None:
    """A vertex that is no number, a tear of a tenth of the part, a flipped tenth."""
    mesh = mesh_of(pipe())
    vertices, triangles = mesh.vertices.copy(), mesh.triangles.copy()
    vertices[3, 1] = value
    tenth = len(triangles) // 10
    triangles[:tenth] = triangles[:tenth, ::-1]
    assert choose_unit(Mesh(vertices, triangles[:-tenth]), "auto").unit == "mm"


def test_measures_do_not_depend_on_the_pose() -> None:
    """Prism of n = 63 sides: across its corners D cos(pi/(2n)) at the least, D at the most."""
    rng = np.random.default_rng(5)
    for _ in range(20):
        size = measure_part(mesh_of(tube(length=300.0, bore=19.0, outside=26.0,
                                         pose=random_pose(rng))))  # fmt: skip
        assert size.length == pytest.approx(300.0, abs=0.01)
        assert 26.0 * np.cos(np.pi / 126) - 0.01 <= size.width <= 26.01


def test_wall_of_a_prismatic_tube_is_twice_its_volume_over_its_area() -> None:
    """n sides, radii R and r, length L: V = n/2 sin(2 pi/n)(R2 - r2) L and
    A = 2 n sin(pi/n)(R + r) L + n sin(2 pi/n)(R2 - r2)."""
    size = measure_part(mesh_of(plain_tube(facets=63)))
    section = 63.0 / 2.0 * np.sin(2.0 * np.pi / 63.0) * (13.0**2 - 9.5**2)
    sides = 2.0 * 63.0 * np.sin(np.pi / 63.0) * (13.0 + 9.5) * 300.0
    assert size.wall == pytest.approx(2.0 * section * 300.0 / (sides + 2.0 * section), rel=1e-6)
