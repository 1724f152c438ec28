"""Clearing bores and side holes: steps with stock and file sizes for this part."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..bench.mandrels import (
    BORE_GRITS,
    FEPA_GRAINS,
    LIGHT_SQUEEZE,
    PAPER,
    PAPER_SOURCE,
    SOURCE,
    Mandrel,
    is_straight,
    mandrels_for,
)
from ..recording.strength_record import strength_of
from ..values import Outcome, RoundSurface, Settings
from .cautions import make_step
from .sheet_text import Step, Table, Value
from .tables import file_words

_NONE_LIGHT = (
    "No one of these presses lightly all around and keeps the wall: take one that does not reach, "
    "and wind tape on the dowel until it does."
)

_SAME = 0.005
"""Bores whose diameters are told alike are one, mm."""


def bore_steps(outcome: Outcome, settings: Settings) -> Iterator[Step]:
    """Clear strings and smooth the bore; nothing of a solid part."""
    bores = outcome.survey.bores
    if not bores:
        return
    straight = [bore for bore in bores if is_straight(_ends(bore))]
    text = [
        "Pull strings out with a bottle brush; work from both ends of each piece.",
        (
            "Smooth a bore only where you feel ridges. Wrap a dowel in foam, then in abrasive "
            "paper, grain outward, one turn each, and tape the ends."
        ),
        "Turn it and move it in and out by hand, wet if the paper allows; never with a drill.",
        "Stop as soon as it is smooth: each pass makes the bore wider.",
    ]
    tapered = [bore for bore in bores if bore not in straight]
    if tapered:
        text.append(
            "A mandrel touches a tapered bore at one place only: use a thin dowel with soft foam "
            "there, and work from the wide end."
        )
    yield make_step(
        "Clear and smooth the bore",
        text,
        [*_bore_values(bores), *_grit_values()],
        _mandrel_tables(outcome, straight, settings),
    )


def _ends(bore: RoundSurface) -> tuple[float, float]:
    return 2.0 * bore.radius_at(bore.start), 2.0 * bore.radius_at(bore.stop)


def _bore_values(bores: Sequence[RoundSurface]) -> list[Value]:
    return [Value(f"bore {number}", _bore_words(bore)) for number, bore in enumerate(bores, 1)]


def _bore_words(bore: RoundSurface) -> str:
    low, high = _ends(bore)
    if abs(low - high) < 2.0 * _SAME:
        return f"{low:.2f} mm"
    return f"{low:.2f} to {high:.2f} mm"


def _grit_values() -> list[Value]:
    grains = ", then ".join(f"{grit} ({FEPA_GRAINS[grit]:g} micrometres)" for grit in BORE_GRITS)
    return [Value("paper", f"{grains}; FEPA P grades of ISO 6344, from memory")]


def _mandrel_tables(
    outcome: Outcome, straight: Sequence[RoundSurface], settings: Settings
) -> list[Table]:
    """One for each diameter that can be told from the others, with the thinnest wall beside it."""
    thinnest: dict[str, float] = {}
    diameters: dict[str, float] = {}
    for bore in straight:
        name = f"{_ends(bore)[0]:.2f}"
        diameters.setdefault(name, min(_ends(bore)))
        wall = wall_beside(outcome, outcome.survey.bores.index(bore), settings)
        thinnest[name] = min(wall, thinnest.get(name, wall))
    found = {
        name: mandrels_for(diameter, thinnest[name], settings.least_wall)
        for name, diameter in diameters.items()
    }
    return [_mandrel_table(name, told) for name, told in found.items() if told]


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
    none = () if any(not _is_second_choice(one) for one in told) else (_NONE_LIGHT,)
    return Table(
        f"For the bore of {bore} mm",
        ("dowel", "foam", "with paper", "foam squeezed by", "presses", "wall left"),
        tuple(_mandrel_row(mandrel) for mandrel in sorted(told, key=_is_second_choice)),
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


def _is_second_choice(mandrel: Mandrel) -> bool:
    return mandrel.press != "light" or not mandrel.keeps_wall


def _mandrel_row(mandrel: Mandrel) -> tuple[str, ...]:
    low, high = mandrel.across
    thin, thick = (share * 100.0 for share in mandrel.squeeze)
    words = {"falls short": "not everywhere", "light": "lightly", "hard": "hard"}
    kept = "" if mandrel.keeps_wall else ", too little"
    return (
        mandrel.dowel.name,
        f"{mandrel.foam:g} mm",
        f"{low:.2f} to {high:.2f}",
        f"{round(thin) + 0} to {round(thick) + 0} %",
        words[mandrel.press],
        f"{mandrel.wall_left:.2f}{kept}",
    )


def hole_steps(outcome: Outcome) -> Iterator[Step]:
    """Clean each side hole; nothing where there are none."""
    holes = outcome.survey.side_holes
    if not holes:
        return
    yield make_step(
        "Clean the side holes",
        (
            (
                "Take the hanging threads off the top of each hole with a round file of the size "
                "told here, in short strokes from outside inward, along the hole."
            ),
            (
                "Keep the file off the rim: where the part is a wind instrument, a wider hole or a "
                "rounder rim changes its pitch."
            ),
            "Stop at the drawn width.",
        ),
        [
            Value(
                f"hole {number}",
                f"{file_words(hole)}; drawn {hole.axial_width:.2f} along, "
                f"{hole.across_width:.2f} across",
            )
            for number, hole in enumerate(holes, 1)
        ],
    )
