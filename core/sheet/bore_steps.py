"""Clearing bores and side holes: steps with stock and file sizes for this part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..bench.mandrels import (
    BORE_GRITS,
    FEPA_GRAINS,
    LIGHT_SQUEEZE,
    METRIC_DOWELS,
    PAPER,
    PAPER_SOURCE,
    SOURCE,
    BareDowel,
    Mandrel,
    bare_dowel_for,
    is_straight,
    mandrels_for,
)
from ..recording.strength_record import strength_of
from ..values import Outcome, RoundSurface, Settings
from .cautions import make_step
from .sheet_text import Step, Table, Value
from .tables import file_words
from .together import values_together

_NOT_LIGHT = (
    "Of those that keep the wall not one presses lightly all around: wind tape on the dowel, under "
    "the foam, until it just reaches."
)

_SAME = 0.005
"""Bores whose diameters are told alike are one, mm."""


def bore_steps(outcome: Outcome, settings: Settings) -> Iterator[Step]:
    """Clear strings and smooth the bore; nothing of a solid part."""
    bores = outcome.survey.bores
    if not bores:
        return
    told = _mandrels(outcome, settings)
    bare = {name: bare_dowel_for(float(name)) for name, found in told.items() if not found}
    tapers = any(not is_straight(_ends(bore)) for bore in bores)
    in_foam = tapers or len(bare) < len(told)
    values = [Value(f"for the bore of {name} mm", _bare_words(name, bare[name])) for name in bare]
    if in_foam or any(float(name) > _narrowest() for name in bare):
        values += _grit_values()
    yield make_step(
        "Clear and smooth the bore",
        [
            "Pull strings out with a brush; work from both ends of each piece.",
            *_smoothing_words(in_foam=in_foam, bare=any(bare.values()), tapers=tapers),
        ],
        [*_bore_values(bores), *values],
        [_mandrel_table(name, found) for name, found in told.items() if found],
    )


def _smoothing_words(*, in_foam: bool, bare: bool, tapers: bool) -> Iterator[str]:
    """How to use what is told of stock."""
    if not in_foam and not bare:
        return
    yield "Smooth a bore only where you feel ridges."
    if in_foam:
        yield (
            "Wrap a dowel in foam, then in abrasive paper, grain outward, one turn each, and tape "
            "the ends."
        )
    else:
        yield "Wrap a dowel in one turn of abrasive paper, grain outward, and tape the ends."
    yield "Turn it and move it in and out by hand, wet if the paper allows; never with a drill."
    yield "Stop as soon as it is smooth: each pass makes the bore wider."
    if tapers:
        yield (
            "A dowel touches a tapered bore at one place only: take a thin one with soft foam "
            "there, and work from the wide end."
        )


def _bare_words(bore: str, bare: BareDowel | None) -> str:
    """What to do where no dowel in foam suits a bore, mm."""
    if bare is not None:
        low, high = bare.across
        return (
            f"no foam: paper alone on a dowel of {bare.dowel.name}, {low:.2f} to {high:.2f} mm "
            "across"
        )
    if float(bore) < _narrowest():
        return "too narrow for a dowel: clear it with a brush, and leave it at that"
    return "wider than dowels are: abrasive paper over a soft block, by hand"


def _narrowest() -> float:
    """mm, of a bore that the thinnest dowel passes with paper on it."""
    return min(METRIC_DOWELS) + 2.0 * PAPER[1]


def _ends(bore: RoundSurface) -> tuple[float, float]:
    return 2.0 * bore.radius_at(bore.start), 2.0 * bore.radius_at(bore.stop)


def _bore_values(bores: Sequence[RoundSurface]) -> list[Value]:
    return values_together("bore", enumerate(map(_bore_words, bores), 1))


def _bore_words(bore: RoundSurface) -> str:
    low, high = _ends(bore)
    if abs(low - high) < 2.0 * _SAME:
        return f"{low:.2f} mm"
    return f"{low:.2f} to {high:.2f} mm"


def _grit_values() -> list[Value]:
    grains = ", then ".join(f"{grit} ({FEPA_GRAINS[grit]:g} micrometres)" for grit in BORE_GRITS)
    return [Value("paper", f"{grains}; FEPA P grades of ISO 6344, from memory")]


def _mandrels(outcome: Outcome, settings: Settings) -> dict[str, tuple[Mandrel, ...]]:
    """By each straight diameter that can be told from the others, its thinnest wall counted."""
    thinnest: dict[str, float] = {}
    diameters: dict[str, float] = {}
    for number, bore in enumerate(outcome.survey.bores):
        if not is_straight(_ends(bore)):
            continue
        name = f"{_ends(bore)[0]:.2f}"
        diameters.setdefault(name, min(_ends(bore)))
        wall = wall_beside(outcome, number, settings)
        thinnest[name] = min(wall, thinnest.get(name, wall))
    return {
        name: mandrels_for(diameter, thinnest[name], settings.least_wall)
        for name, diameter in diameters.items()
    }


def wall_beside(outcome: Outcome, bore: int, settings: Settings) -> float:
    """The thinnest wall beside a bore, mm: the part's own, a tenon's, or under a groove."""
    walls = [outcome.survey.wall_least]
    for joint in outcome.plan.joints:
        strength = strength_of(joint, outcome.survey, settings)
        parts = () if strength is None else strength.parts
        for tenon, part in zip(joint.tenons, parts, strict=False):
            if bore in tenon.bores:
                walls.append(part.sizes.root_wall)
        walls += [
            tenon.groove.wall_left
            for tenon in joint.tenons
            if tenon.groove is not None and bore in tenon.bores
        ]
    return min(walls)


def _mandrel_table(bore: str, told: Sequence[Mandrel]) -> Table:
    thin, thick = PAPER
    first = told[0]
    none = () if any(one.press == "light" for one in told) else (_NOT_LIGHT,)
    return Table(
        f"For the bore of {bore} mm",
        ("dowel", "foam", "with paper", "foam squeezed by", "presses", "wall left"),
        tuple(_mandrel_row(one) for one in sorted(told, key=lambda one: one.press != "light")),
        (
            (
                f"Across: dowel, twice the foam, twice the paper of {thin:g} to {thick:g} mm "
                f"({PAPER_SOURCE}). Lightly: {LIGHT_SQUEEZE[0] * 100:.0f} to "
                f"{LIGHT_SQUEEZE[1] * 100:.0f} % of the foam, judgement, no source. Stock sizes: "
                f"{SOURCE}; measure yours and pack with tape."
            ),
            (
                f"Wall left: of {first.wall:.2f} mm, the thinnest beside this bore, when the "
                "mandrel has cut all that it can reach with the thickest paper; at least "
                f"{first.least_wall:.2f} mm should be left."
            ),
            *none,
        ),
    )


def _mandrel_row(mandrel: Mandrel) -> tuple[str, ...]:
    low, high = mandrel.across
    thin, thick = (share * 100.0 for share in mandrel.squeeze)
    return (
        mandrel.dowel.name,
        f"{mandrel.foam:g} mm",
        f"{low:.2f} to {high:.2f}",
        f"{round(thin) + 0} to {round(thick) + 0} %",
        "lightly" if mandrel.press == "light" else "not everywhere",
        f"{mandrel.wall_left:.2f}",
    )


def hole_steps(outcome: Outcome, settings: Settings) -> Iterator[Step]:
    """Clean each side hole; nothing where there are none."""
    holes = outcome.survey.side_holes
    if not holes:
        return
    told = [file_words(hole) for hole in holes]
    filed = any("file" in words for words in told)
    of_wind = "" if settings.wind else "of a wind instrument "
    yield make_step(
        "Clean the side holes",
        [
            *_cleaning_words(filed=filed, drilled=any("drill" in words for words in told)),
            f"Keep off the rim: {of_wind}a wider hole or a rounder rim changes the pitch.",
            "Stop at the drawn width.",
        ],
        values_together(
            "hole",
            enumerate(
                (
                    f"{words}; drawn {hole.axial_width:.2f} along, {hole.across_width:.2f} across"
                    for hole, words in zip(holes, told, strict=True)
                ),
                1,
            ),
        ),
    )


def _cleaning_words(*, filed: bool, drilled: bool) -> Iterator[str]:
    """How to take off what hangs in from a hole's top."""
    if filed:
        yield (
            "Take the hanging threads off the top of each hole with the round file told here, in "
            "short strokes from outside inward, along the hole."
        )
    if drilled:
        yield (
            "Turn the drill bit told here in your fingers, not in a machine, straight along the "
            "hole."
        )
