"""What a glued joint holds, as numbers beside the assumptions that they rest on.

Newtons and megapascals (N/mm2) beside the core's millimetres and radians. Nothing here
refuses or moves a joint; it tells. The elastic model is O. Volkersen's shear lag (1938):
adherends that only stretch, glue that only shears, both linear, no bending, no peel.

With stiffnesses E A of tenon and socket, a glue line of gap g, shear modulus G and
outline p (of a tube pi D), and an overlap L, the shear t along the overlap obeys
t'' = w^2 t, with w^2 = (G p / g) (1 / (E1 A1) + 1 / (E2 A2)). A tension P enters the tenon
at one end and leaves the socket at the other, which fixes t' there: +- (G / g) P / (E A)
of the adherend that carries it. So

    t(x) / mean = a cosh(w x) / sinh(a) + d a sinh(w x) / cosh(a),   a = w L / 2,
    d = (E1 A1 - E2 A2) / (E1 A1 + E2 A2),

with x from the middle; t is convex, so its peak is at an end: a (coth a + |d| tanh a).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True)
class Stated:
    """A number that is assumed, not measured: its range, its unit and where it is from."""

    low: float
    high: float
    unit: str
    source: str

    def __post_init__(self) -> None:
        assert 0.0 < self.low <= self.high


@dataclass(frozen=True, slots=True)
class Assumptions:
    """Every number about materials that the strength of a joint rests on.

    modulus : of the print, along the axis
    layer_strength : tension across layers at which they part, printed solid, no notch
    glue_modulus : in shear
    design_shear : mean shear that a glued joint may be reckoned with
    breaking_shear : mean shear at which such joints broke
    greatest_gap : up to which the glue fills and sets well
    """

    material: str = "PLA"
    glue: str = "cyanoacrylate"
    modulus: Stated = Stated(2500.0, 2500.0, "MPa", "from memory")
    layer_strength: Stated = Stated(35.0, 45.0, "MPa", "common practice, no source")
    glue_modulus: Stated = Stated(700.0, 700.0, "MPa", "from memory, doubtful")
    design_shear: Stated = Stated(1.0, 2.0, "MPa", "from memory, safety factor in it")
    breaking_shear: Stated = Stated(3.0, 10.0, "MPa", "from memory, doubtful")
    greatest_gap: Stated = Stated(0.2, 0.2, "mm", "common practice, no source")


@dataclass(frozen=True, slots=True)
class JointSizes:
    """A tenon in its socket, as plain sizes, mm and mm2.

    bore_radius : at the tenon's root; 0 of a solid one
    socket_outer_radius : of the wall around the socket
    parallel_length : of the tenon, which is the overlap
    radial_clearance : gap a side, and so the glue line
    glue_area : of the tenon's parallel part; more than a circle's around two bores,
        whose straight flanks then count in the sections too, the web between them not
    """

    tenon_radius: float
    bore_radius: float
    socket_outer_radius: float
    parallel_length: float
    radial_clearance: float
    glue_area: float

    def __post_init__(self) -> None:
        assert 0.0 <= self.bore_radius < self.tenon_radius
        assert self.tenon_radius + self.radial_clearance < self.socket_outer_radius
        assert self.parallel_length > 0.0
        assert self.radial_clearance > 0.0
        assert self.outline_excess > -1e-6 * self.outline

    @property
    def outline(self) -> float:
        """Length of the tenon's outline, mm."""
        return self.glue_area / self.parallel_length

    @property
    def outline_excess(self) -> float:
        """By which that is longer than a circle, mm."""
        return self.outline - 2.0 * math.pi * self.tenon_radius

    @property
    def root_area(self) -> float:
        """Section of the tenon at its root, mm2."""
        return self._section(self.bore_radius, self.tenon_radius)

    @property
    def socket_area(self) -> float:
        """Section of the wall around the socket, mm2."""
        return self._section(self.tenon_radius + self.radial_clearance, self.socket_outer_radius)

    @property
    def root_wall(self) -> float:
        """The tenon's wall at its root, mm; the radius of a solid one."""
        return self.tenon_radius - self.bore_radius

    def _section(self, inner: float, outer: float) -> float:
        return (outer - inner) * (math.pi * (outer + inner) + self.outline_excess)


First = Literal["layers", "glue", "either"]


@dataclass(frozen=True, slots=True)
class Strength:
    """What a joint holds under the assumptions named; loads in N, straight along the axis.

    glue_volume : mm3, of the gap beside the parallel part
    design_load : at the low end of the design shear, as mean over the glue area
    design_torque : N mm, at that shear; of an outline with flanks at the least
    peak_over_mean : of the shear along the overlap, elastic
    useful_overlap : mm, which carries 99 % of what any longer one would at the same peak;
        more is for alignment, bending and tightness
    tilt : radians, by which the tenon can lean in its socket without glue
    glue_breaks, layers_part : least and greatest load, of the ranges assumed
    first : which of them is reached first; either, where the ranges overlap
    gap_filled : the gap is one that the glue fills
    """

    sizes: JointSizes
    assumptions: Assumptions
    glue_volume: float
    design_load: float
    design_torque: float
    peak_over_mean: float
    useful_overlap: float
    tilt: float
    glue_breaks: tuple[float, float]
    layers_part: tuple[float, float]
    first: First
    gap_filled: bool


DEFAULT_ASSUMPTIONS = Assumptions()


def joint_strength(sizes: JointSizes, assumptions: Assumptions = DEFAULT_ASSUMPTIONS) -> Strength:
    """All numbers of one tenon in its socket, glued.

    Layers part in the weaker of two sections, each of which carries the whole load: the
    tenon's at its root, and the socket's beside the tenon's tip.
    """
    area = sizes.glue_area
    modulus = assumptions.modulus.low
    tenon, socket = modulus * sizes.root_area, modulus * sizes.socket_area
    lag = shear_lag(
        assumptions.glue_modulus.low, sizes.radial_clearance, sizes.outline, tenon, socket
    )
    uneven = unevenness(tenon, socket)
    shear, layers = assumptions.breaking_shear, assumptions.layer_strength
    section = min(sizes.root_area, sizes.socket_area)
    glue_breaks = (shear.low * area, shear.high * area)
    layers_part = (layers.low * section, layers.high * section)
    return Strength(
        sizes=sizes,
        assumptions=assumptions,
        glue_volume=area * sizes.radial_clearance,
        design_load=assumptions.design_shear.low * area,
        design_torque=assumptions.design_shear.low * area * sizes.tenon_radius,
        peak_over_mean=peak_over_mean(lag, sizes.parallel_length, uneven),
        useful_overlap=overlap_for_share(0.99, lag, uneven),
        tilt=tilt_of(sizes.radial_clearance, sizes.parallel_length),
        glue_breaks=glue_breaks,
        layers_part=layers_part,
        first=first_reached(layers_part, glue_breaks),
        gap_filled=sizes.radial_clearance <= assumptions.greatest_gap.high,
    )


def shear_lag(
    glue_modulus: float, gap: float, outline: float, stiffness: float, other_stiffness: float
) -> float:
    """Rate w of the shear lag, 1/mm: how fast the shear falls from an overlap's end.

    Parameters
    ----------
    glue_modulus : MPa, in shear
    gap : mm, of the glue line
    outline : mm, that the glue runs around; per unit of width it is 1
    stiffness, other_stiffness : E A of the adherends, N; per unit of width E t
    """
    return math.sqrt(glue_modulus * outline / gap * (1.0 / stiffness + 1.0 / other_stiffness))


def unevenness(stiffness: float, other_stiffness: float) -> float:
    """How unlike two adherends are: 0 alike, towards 1 where one does not stretch."""
    return abs(stiffness - other_stiffness) / (stiffness + other_stiffness)


def peak_over_mean(lag: float, overlap: float, uneven: float) -> float:
    """Greatest shear in the glue over the mean: a (coth a + d tanh a), a = w L / 2."""
    half = 0.5 * lag * overlap
    share = math.tanh(half)
    if share == 0.0:
        return 1.0
    return half * (1.0 / share + uneven * share)


def overlap_for_share(share: float, lag: float, uneven: float) -> float:
    """Overlap, mm, that carries a share of an endless one's load at the same peak.

    That load over the endless one's is (1 + d) t / (1 + d t^2), with t = tanh(w L / 2):
    solved for t, the lesser root.
    """
    assert 0.0 < share < 1.0
    both = 1.0 + uneven
    root = math.sqrt(both * both - 4.0 * uneven * share * share)
    return 2.0 * math.atanh(2.0 * share / (both + root)) / lag


def tilt_of(radial_clearance: float, overlap: float) -> float:
    """Angle, radians, that a tenon can lean by until it touches at both ends: atan(2 c / L)."""
    return math.atan2(2.0 * radial_clearance, overlap)


def first_reached(layers: tuple[float, float], glue: tuple[float, float]) -> First:
    """Whether layers part before the glue breaks: of the ranges of load, N, at which they do."""
    if layers[1] < glue[0]:
        return "layers"
    return "glue" if glue[1] < layers[0] else "either"
