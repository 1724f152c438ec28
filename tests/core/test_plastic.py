"""Plastic in walls, solid layers and infill: closed forms, and parallel curves by Clipper2.

The polygons of round pieces have 512 corners: on their circle, they enclose less by the share
1 - sin(x) / x, x = 2 pi / 512, which is 2.5e-5. manifold3d's own offsets of outlines (by the
library Clipper2) share no code with the core.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from borewright.core.estimating.estimates import estimate_piece, least_time_s, sum_estimates
from borewright.core.estimating.plastic import wall_areas
from borewright.core.meshes.plane_sections import cut_sections
from borewright.core.values import Mesh, Printing, Settings
from hypothesis import given
from hypothesis import strategies as some
from manifold3d import CrossSection, Manifold

SIDES = 512
ROUND = 1e-4
"""Relative tolerance for round pieces: four times what their polygons lack."""

SETTINGS = Settings((180.0, 180.0, 180.0), nozzle=0.5, layer=0.25)
WALL, SOLID, INFILL = 1.5, 1.0, 0.15
"""3 lines of 0.5 mm, 4 layers of 0.25 mm, 15 %: what `SETTINGS` ask for."""


def asked(**changes: object) -> Settings:
    return replace(SETTINGS, printing=replace(Printing(), **changes))  # type: ignore[arg-type]


def mesh_of(solid: Manifold) -> Mesh:
    """A solid of manifold3d, stood on z = 0."""
    solid = solid.translate((0.0, 0.0, -solid.bounding_box()[2]))
    found = solid.to_mesh64()
    return Mesh(np.asarray(found.vert_properties[:, :3]), np.asarray(found.tri_verts, np.int64))


def disc(radius: float) -> CrossSection:
    return CrossSection.circle(radius, SIDES)


def square(side: float) -> CrossSection:
    return CrossSection.square((side, side), center=True)


def bar(section: CrossSection, height: float) -> Mesh:
    return mesh_of(Manifold.extrude(section, height))


def figure(mesh: Mesh, settings: Settings = SETTINGS) -> float:
    return estimate_piece(mesh, settings).filament.figure.volume


def solid(mesh: Mesh) -> float:
    return estimate_piece(mesh, SETTINGS).filament.solid.volume


def filled(area: float, walls: float, height: float) -> float:
    """Of a bar: walls all along, what they leave solid at both ends and infill between."""
    return walls * height + (area - walls) * (2.0 * SOLID + INFILL * (height - 2.0 * SOLID))


# Closed forms


def test_a_thick_tube() -> None:
    """Both walls are rings, 1.5 mm wide each."""
    area = math.pi * (30.0**2 - 10.0**2)
    walls = math.pi * (30.0**2 - 28.5**2 + 11.5**2 - 10.0**2)
    mesh = bar(disc(30.0) - disc(10.0), 60.0)
    assert figure(mesh) == pytest.approx(filled(area, walls, 60.0), rel=ROUND)


def test_a_tube_whose_walls_meet_is_all_plastic() -> None:
    mesh = bar(disc(13.0) - disc(10.5), 60.0)
    assert figure(mesh) == solid(mesh)
    assert solid(mesh) == pytest.approx(math.pi * (13.0**2 - 10.5**2) * 60.0, rel=ROUND)


def test_a_solid_cylinder() -> None:
    area, inside = math.pi * 20.0**2, math.pi * 18.5**2
    assert figure(bar(disc(20.0), 40.0)) == pytest.approx(
        filled(area, area - inside, 40.0), rel=ROUND
    )


@pytest.mark.parametrize("radius", [0.4, 1.0, 1.49])
def test_a_pin_thinner_than_its_walls_is_all_plastic(radius: float) -> None:
    """The formula falls again past a disc's radius, L / (2 pi); it is not asked there."""
    mesh = bar(disc(radius) + disc(radius).translate((9.0, 0.0)), 20.0)
    assert figure(mesh) == pytest.approx(solid(mesh), rel=ROUND)


def test_a_cone() -> None:
    """What the walls leave is a cone too, of radius R - t: pi (R - t)^3 H / (3 R) in all.

    Its lowest layers, over the base, are solid.
    """
    base, height = 20.0, 60.0
    mesh = mesh_of(Manifold.cylinder(height, base, 0.0, SIDES))
    slope = base / height

    def left_above(z: float) -> float:
        return math.pi * (base - WALL - slope * z) ** 3 / (3.0 * slope)

    enclosed = math.pi * base**2 * height / 3.0
    expected = enclosed - (1.0 - INFILL) * left_above(SOLID)
    assert figure(mesh) == pytest.approx(expected, rel=1e-3)


def test_a_square_bar_reads_too_much_at_its_corners() -> None:
    """Its walls take 4 a t - 4 t^2; read is 4 a t - pi t^2, more by 0.86 t^2."""
    side = 30.0
    read = 4.0 * side * WALL - math.pi * WALL**2
    true = 4.0 * side * WALL - 4.0 * WALL**2
    mesh = bar(square(side), 40.0)
    assert figure(mesh) == pytest.approx(filled(side**2, read, 40.0), rel=1e-9)
    assert figure(mesh) > filled(side**2, true, 40.0)


def test_under_a_shoulder_solid_layers_reach_a_little_too_far() -> None:
    """A round boss on a round foot. Between the boss and the foot's wall lies a ring.

    Read is the shoulder's share of the section, true the ring under it that no wall
    holds: 18.5 to 10 of 20 to 10 mm. All other layers as for two bars.
    """
    low, high = 30.7, 29.8
    foot = Manifold.extrude(disc(20.0), low)
    boss = Manifold.extrude(disc(10.0), high).translate((0.0, 0.0, low))
    inside, ring = math.pi * 18.5**2, math.pi * (20.0**2 - 10.0**2)
    share = ring / (math.pi * 20.0**2)
    below = math.pi * 20.0**2 * low - (1.0 - INFILL) * inside * (
        (low - 2.0 * SOLID) + (1.0 - share) * SOLID
    )
    above = math.pi * 10.0**2 * high - (1.0 - INFILL) * math.pi * 8.5**2 * (high - SOLID)
    read = figure(mesh_of(foot + boss))
    assert read == pytest.approx(below + above, rel=ROUND)
    true = read - (1.0 - INFILL) * SOLID * (inside * share - math.pi * (18.5**2 - 10.0**2))
    assert true < read < 1.01 * true


# Against Clipper2


def rounded() -> CrossSection:
    return square(20.0).offset(4.0, circular_segments=SIDES)


def two_bores() -> CrossSection:
    return disc(25.0) - disc(6.0).translate((-9.0, 0.0)) - disc(6.0).translate((9.0, 0.0))


OUTLINES: dict[str, Callable[[], CrossSection]] = {
    "disc": lambda: disc(12.0),
    "rounded": rounded,
    "rounded around a bore": lambda: rounded() - disc(6.0),
    "disc around a square hollow": lambda: disc(20.0) - square(12.0),
    "two bores": two_bores,
}


def read_walls(section: CrossSection, width: float) -> float:
    mesh = bar(section, 10.0)
    columns = [np.ascontiguousarray(column) for column in mesh.vertices.T]
    (area,) = wall_areas(cut_sections(columns, mesh.triangles, np.array([5.0])), width).tolist()
    return float(area)


def true_walls(section: CrossSection, width: float) -> float:
    return float(section.area() - section.offset(-width, circular_segments=4 * SIDES).area())


@pytest.mark.parametrize("width", [0.4, 1.2, 2.4])
@pytest.mark.parametrize("case", OUTLINES)
def test_walls_along_smooth_outlines_are_exact_under_their_reach(case: str, width: float) -> None:
    section = OUTLINES[case]()
    assert read_walls(section, width) == pytest.approx(true_walls(section, width), rel=5e-4)


ANGLED: dict[str, tuple[Callable[[], CrossSection], int]] = {
    "square": (lambda: square(30.0), 4),
    "angle": (lambda: square(30.0) - square(30.0).translate((15.0, 15.0)), 5),
    "square around a square": (lambda: square(40.0) - square(20.0), 4),
}


@pytest.mark.parametrize("case", ANGLED)
def test_each_right_angle_outside_adds_its_known_share(case: str) -> None:
    """(1 - pi / 4) t^2; at a re-entrant corner and at those of a hollow nothing."""
    make, corners = ANGLED[case]
    section = make()
    excess = read_walls(section, 2.0) - true_walls(section, 2.0)
    assert excess == pytest.approx(corners * (1.0 - math.pi / 4.0) * 2.0**2, rel=1e-3)


def test_walls_that_meet_in_some_places_read_too_much_and_never_past_the_section() -> None:
    """A bore near one side of a disc: over 0.5 mm of wall on this side, 3.5 on that."""
    section = disc(12.0) - disc(10.0).translate((1.5, 0.0))
    read, true = read_walls(section, 1.5), true_walls(section, 1.5)
    assert true < min(read, section.area()) < 1.15 * true


def crowded() -> Manifold:
    """A drilled tube on a foot that tapers in, a ring with flats around it, a cone on top."""
    foot = Manifold.cylinder(20.0, 22.0, 13.0, 48)
    tube = Manifold.extrude(CrossSection.circle(13.0, 48), 70.0)
    ring = Manifold.extrude(CrossSection.circle(20.0, 8), 12.0).translate((0.0, 0.0, 41.3))
    top = Manifold.cylinder(9.0, 13.0, 9.0, 48).translate((0.0, 0.0, 70.0))
    bore = Manifold.extrude(CrossSection.circle(6.0, 48), 90.0).translate((0.0, 0.0, -5.0))
    hole = Manifold.cylinder(40.0, 4.0, 4.0, 24).rotate((0.0, 90.0, 0.0))
    return foot + tube + ring + top - bore - hole.translate((0.0, 0.0, 31.0))


def laid_by_layers(solid: Manifold) -> float:
    """As the settings ask, each layer's regions by themselves: no share and no formula."""
    height = solid.bounding_box()[5]
    count = round(height / SETTINGS.layer)
    step = height / count
    layers = [solid.slice((number + 0.5) * step) for number in range(count)]
    laid = 0.0
    for number, layer in enumerate(layers):
        near = range(number - 4, number + 5)
        sparse = layer.offset(-WALL, circular_segments=64)
        for other in near:
            sparse ^= layers[other] if 0 <= other < count else CrossSection()
        laid += (layer.area() - (1.0 - INFILL) * sparse.area()) * step
    return laid


def test_a_piece_of_everything_is_within_one_percent_of_its_layers() -> None:
    """Corners of the ring, the hole's mouths and solid layers at borders are in the percent."""
    solid = crowded()
    assert figure(mesh_of(solid)) == pytest.approx(laid_by_layers(solid), rel=0.01)


# What holds for every piece

STEPPED = mesh_of(
    Manifold.extrude(disc(20.0) - disc(8.0), 30.0)
    + Manifold.extrude(rounded() - disc(8.0), 25.0).translate((0.0, 0.0, 30.0))
)

printings = some.builds(
    Printing,
    some.sampled_from(["PLA", "ABS"]),
    some.just(1.75),
    some.integers(1, 20),
    some.integers(0, 50),
    some.floats(0.0, 100.0),
)
pieces = some.one_of(
    some.builds(
        lambda r, wall, h: bar(CrossSection.circle(r, 24) - CrossSection.circle(r - wall, 24), h),
        some.floats(5.0, 40.0), some.floats(0.4, 4.9), some.floats(1.0, 200.0),
    ),
    some.builds(
        lambda low, high, h: mesh_of(Manifold.cylinder(h, low, high, 24)),
        some.floats(1.0, 40.0), some.floats(0.0, 40.0), some.floats(0.3, 200.0),
    ),
)  # fmt: skip


@given(pieces, printings)
def test_the_figure_never_passes_the_solid_nor_falls_under_its_infill(
    mesh: Mesh, printing: Printing
) -> None:
    filament = estimate_piece(mesh, replace(SETTINGS, printing=printing)).filament
    most, least = filament.solid.volume, printing.infill_percent / 100.0 * filament.solid.volume
    assert least * (1.0 - 1e-9) <= filament.figure.volume <= most
    assert filament.figure.mass_g <= filament.solid.mass_g
    assert filament.figure.filament_m <= filament.solid.filament_m


@pytest.mark.parametrize(("less", "more"), [
    ({"lines": 2}, {"lines": 3}),
    ({"solid_layers": 0}, {"solid_layers": 4}),
    ({"infill_percent": 10.0}, {"infill_percent": 20.0}),
])  # fmt: skip
def test_more_of_anything_takes_more(less: dict[str, object], more: dict[str, object]) -> None:
    assert figure(STEPPED, asked(**less)) < figure(STEPPED, asked(**more))


def test_full_infill_is_the_solid() -> None:
    assert figure(STEPPED, asked(infill_percent=100.0)) == solid(STEPPED)


def test_turning_shifting_and_renumbering_change_nothing() -> None:
    mesh = STEPPED
    cosine, sine = math.cos(0.7), math.sin(0.7)
    turn = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    order = np.random.default_rng(5).permutation(len(mesh.triangles))
    other = Mesh(mesh.vertices @ turn.T + [30.0, 12.5, 0.0], mesh.triangles[order][:, [1, 2, 0]])
    assert figure(other) == pytest.approx(figure(mesh), rel=1e-9)


# Filament, beds and time


def test_mass_and_length_follow_the_material_and_the_filament() -> None:
    estimate = estimate_piece(STEPPED, asked(material="PETG", filament=2.85))
    for plastic in (estimate.filament.solid, estimate.filament.figure):
        assert plastic.mass_g == pytest.approx(plastic.volume * 1.27e-3)
        assert plastic.filament_m * 6.379397 == pytest.approx(plastic.volume / 1000.0)


def test_a_bed_takes_what_its_pieces_take() -> None:
    one, other = (estimate_piece(bar(disc(9.0), high), SETTINGS) for high in (20.0, 50.0))
    bed = sum_estimates([one, other])
    for whole, parts in (
        (bed.solid, (one.filament.solid, other.filament.solid)),
        (bed.figure, (one.filament.figure, other.filament.figure)),
    ):
        assert whole.volume == pytest.approx(sum(part.volume for part in parts))
        assert whole.mass_g == pytest.approx(sum(part.mass_g for part in parts))
        assert whole.filament_m == pytest.approx(sum(part.filament_m for part in parts))
    assert sum_estimates([]).solid.volume == 0.0


def test_no_time_without_a_flow() -> None:
    plastic = estimate_piece(STEPPED, SETTINGS).filament.figure
    assert least_time_s(plastic, None) is None
    assert least_time_s(plastic, 8.0) == plastic.volume / 8.0
