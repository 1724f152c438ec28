"""Every number on the sheet is accounted for by another route; one that no rule knows fails.

The real command makes the folders. What a number has to be comes from `job.json`, from the
pieces' files as trimesh reads them, from closed forms, and from values typed in again.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

import pytest
from borewright.addon.command_line.command import main
from borewright.core.values import Mesh
from manifold3d import CrossSection, Manifold

from tests.drawn_jobs import SHARED, as_mesh, own_parts
from tests.loose_parts import as_trimesh, mesh_of
from tests.parts import Hole, tube
from tests.sheet.drawing_rules import RULES as DRAWINGS
from tests.sheet.made import Made
from tests.sheet.numbers import altered, faults_in, faults_of, unused
from tests.sheet.step_rules import RULES as STEPS
from tests.sheet.table_rules import RULES as TABLES
from tests.sheet.told import Told, told_by
from tests.sheet.wind_rules import RULES as WIND

NAMED = re.compile(r"((?:(?!from ).* )?(?:joint|hole|bore)) (\d+).*")
"""Values that each joint, hole or bore has; the start of layers is told from one of them."""

RULES = {**TABLES, **STEPS, **DRAWINGS, **WIND}

ENVELOPES = {
    "fife": "180x180x180", "double": "160x160x170", "newel": "200x200x160",
    "sunshade": "180x180x200", "five": "160x160x150", "blown": "180x180x180", "post": "180x180x180",
}  # fmt: skip
GIVEN = ("fife", "double", "newel", "sunshade")
"""Parts of an independent CAD kernel, where they lie beside the checkout."""

FIFE = [(96, 0, 7), (122, 0, 8), (147, 0, 7.5), (196, 0, 7), (221, 0, 8.5), (247, 0, 6.5),
        (312, 0, 10)]  # fmt: skip
DOUBLE = [(90, 6), (118, 6.5), (160, 6.5)]


def _fife() -> Mesh:
    holes = [Hole(*hole) for hole in FIFE]
    return as_mesh(tube(length=352.0, bore=14.2, outside=21.4, holes=holes))


def _double() -> Mesh:
    """Two bores of 11 mm in a body of 35 x 19.5; holes from +y into the one at +x."""
    at = [(-7.75, 0.0), (7.75, 0.0)]
    body = CrossSection.batch_hull([CrossSection.circle(9.75, 128).translate(xy) for xy in at])
    for xy in at:
        body -= CrossSection.circle(5.5, 128).translate(xy)
    solid = Manifold.extrude(body, 300.0)
    for station, diameter in DOUBLE:
        drill = Manifold.cylinder(20.0, diameter / 2.0, circular_segments=64)
        solid -= drill.rotate((-90.0, 0.0, 0.0)).translate((7.75, 0.0, station))
    return mesh_of(solid)


def _newel() -> Mesh:
    post = Manifold.cylinder(420.0, 19.0, circular_segments=96)
    for station, height, diameter in ((90, 12, 52), (300, 10, 50)):
        post += Manifold.cylinder(height, diameter / 2.0, circular_segments=96).translate(
            (0.0, 0.0, station)
        )
    return mesh_of(post)


MORE = {"blown": ("--wind", "--trial")}
"""What else is asked for of a part: the fife as the wind instrument that it is."""

OWN: Mapping[str, Callable[[], Mesh]] = {
    "fife": _fife,
    "double": _double,
    "newel": _newel,
    "sunshade": lambda: as_mesh(tube(length=360.0, bore=57.6, outside=60.0)),
    "five": lambda: own_parts()["five"],
    "blown": _fife,
    "post": lambda: as_mesh(tube(length=640.0, bore=30.0, outside=50.0)),
}


@pytest.fixture(scope="module")
def own_folders(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Made]:
    """Each own part split by the command, once."""
    root = tmp_path_factory.mktemp("own")

    @cache
    def made(name: str) -> Made:
        as_trimesh(OWN[name]()).export(root / f"{name}.stl")
        return _split(root / f"{name}.stl", root / name, name, *MORE.get(name, ()))

    return made


def _split(part: Path, out: Path, name: str, *more: str) -> Made:
    argv = ["split", str(part), "--envelope", ENVELOPES[name], "--out", str(out), "--quiet", *more]
    assert main(argv) == 0
    return Made(out)


def told_of(made: Made) -> list[Told]:
    pieces = [piece["name"] for piece in made.part["pieces"]]
    trial = made.job["trial"]
    if trial:
        pieces.append(Path(trial["file"]).stem)
    return told_by(made.folder / "sheet.html", made.names, pieces)


@pytest.mark.parametrize("name", OWN)
def test_every_number_on_the_sheet_of_an_own_part_is_accounted_for(
    own_folders: Callable[[str], Made], name: str
) -> None:
    made = own_folders(name)
    told = told_of(made)
    assert sum(len(one.numbers) for one in told) > 150
    assert list(faults_of(told, made, RULES)) == []


@pytest.mark.parametrize("name", GIVEN)
def test_every_number_on_the_sheet_of_a_given_part_is_accounted_for(
    tmp_path: Path, name: str
) -> None:
    part = SHARED / f"{name}.stl"
    if not part.exists():
        pytest.skip("the shared parts do not lie beside the checkout")
    made = _split(part, tmp_path / "out", name)
    assert list(faults_of(told_of(made), made, RULES)) == []


@pytest.mark.parametrize("name", OWN)
def test_where_one_is_told_of_all_are(own_folders: Callable[[str], Made], name: str) -> None:
    """What is told of several at once leaves none of them out: joints, holes, bores, pieces."""
    made = own_folders(name)
    told: dict[str, set[str]] = defaultdict(set)
    for one in told_of(made):
        if named := NAMED.fullmatch(one.words if one.place.endswith(" | name") else ""):
            told[f"{one.place}: {named[1]}"].add(named[2])
        for key in {"joint", "hole", "piece"} & set(one.row):
            told[f"{one.place.split(' | ')[0]}: {key}"].add(one.row[key])
    joints = {str(number) for number in range(1, len(made.joints) + 1)}
    holes = {str(number) for number in range(1, len(made.survey["side_holes"]) + 1)}
    bores = {str(number) for number in range(1, len(made.survey["bores"]) + 1)}
    pieces = {piece["name"] for piece in made.part["pieces"]}
    tenons = {number for number in joints if not made.is_collared(int(number))}
    for place, found in told.items():
        is_of_tenons = place.startswith(("Measure", "Layer height"))
        whole = {"hole": holes, "bore": bores, "piece": pieces}.get(
            place.rpartition(": ")[2].rpartition(" ")[2], tenons if is_of_tenons else joints
        )
        assert found == whole, place
    assert len(told) >= 8


def test_every_rule_can_say_no(own_folders: Callable[[str], Made]) -> None:
    """Each number of each sheet made greater by seven of its last digit is found out.

    Or by six, where by seven it is another number that may stand there.
    """
    passed = []
    for name in OWN:
        made = own_folders(name)
        for told in told_of(made):
            for which in range(len(told.numbers)):
                others = [altered(told, which, digits) for digits in (7, 6)]
                if not any(_says_no(other, made) for other in others):
                    passed.append(f"{name}: {told.place} | {others[0].words}")
    assert "\n".join(passed) == ""


def _says_no(told: Told, made: Made) -> bool:
    """Does a rule refuse it, or fail on it?"""
    try:
        return any(True for _ in faults_in(told, made, RULES))
    except (AssertionError, StopIteration, IndexError, ValueError):
        return True


def test_no_rule_stands_for_nothing(own_folders: Callable[[str], Made]) -> None:
    told = [one for name in OWN for one in told_of(own_folders(name))]
    assert unused(told, RULES) == set()


def test_a_number_that_is_new_istold_of(own_folders: Callable[[str], Made]) -> None:
    new = Told("Measure", "Wait for 5 minutes.")
    assert [fault.partition(":")[0] for fault in faults_of([new], own_folders("fife"), RULES)] == [
        "0 rules for"
    ]
