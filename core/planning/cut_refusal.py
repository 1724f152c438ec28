"""Why no plan was found: which rule binds, and by how much.

A rule binds if leaving out it alone frees a station where a seam must lie.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

from ..errors import BadSetting, CoreError, NoPlan, WallTooThin
from ..jointing.joint_design import LEAST_ENGAGEMENT
from ..values import FIT_SLACK, Settings, Survey
from .closing_rules import closing_rules
from .cut_remedies import height_needed, remedies
from .cut_search import insisted_cuts, is_possible, shortest_ground
from .intervals import GRAIN, Span, common, nearest
from .rule_words import Telling, avoid_words, has_obstacles, tell_ends, tell_rule
from .seam_reach import (
    SEAM_GAP,
    Ground,
    all_above_low_end,
    all_below_high_end,
    common_runs,
    most_pieces,
)
from .seam_stretches import (
    END_MARGIN,
    RULES,
    Rule,
    SeamField,
    Stretch,
    last_seam_under,
    seam_stretches,
)


def check_demands(survey: Survey, settings: Settings) -> None:
    """The cuts, stretches to avoid and number of pieces that the user asks for, each by itself.

    Raises
    ------
    BadSetting : fewer than one piece, a cut beyond the part's ends, or a stretch to avoid
        that ends where it starts or below
    NoPlan : a cut where no joint can be made, or two whose joints would meet
    """
    if settings.pieces is not None and settings.pieces < 1:
        raise BadSetting(f"--pieces {settings.pieces}", "1 or more", "--pieces 2, or none")
    for stretch in settings.avoid:
        if not stretch[0] < stretch[1]:
            turned = avoid_words((min(stretch), max(stretch)))
            remedy = "no such --avoid" if stretch[0] == stretch[1] else turned
            raise BadSetting(avoid_words(stretch), "the lower station first", remedy)
    cuts = insisted_cuts(settings)
    for cut in cuts:
        if not 0.0 < cut < survey.length:
            raise BadSetting(
                f"--cut {cut:g}",
                f"a station between the part's ends, 0 and {survey.length:.2f} mm",
                f"--cut {survey.length / 2.0:.1f}, or none",
            )
    allowed = seam_stretches(survey, settings, LEAST_ENGAGEMENT) if cuts else []
    for cut in cuts:
        if not _holding(allowed, cut):
            raise _impossible_cut(survey, settings, cut)
    for below, above in pairwise(cuts):
        zone = min(stretch.zone_at(below) for stretch in _holding(allowed, below))
        if above < below + zone + SEAM_GAP - GRAIN:
            raise NoPlan(
                f"--cut {below:g} and --cut {above:g} lie {above - below:.2f} mm apart",
                f"{zone + SEAM_GAP:.2f} mm, so that their joints do not meet",
                _nearest_cut(survey, settings, above),
            )


def refusal(survey: Survey, settings: Settings) -> CoreError:
    """The error to raise where `search_cuts` found nothing."""
    if settings.pieces is not None and is_possible(survey, replace(settings, pieces=None)):
        return _too_many_pieces(survey, settings)
    everywhere = 0.0, survey.length
    lines = SeamField(survey, settings).shortest_lines(everywhere)
    what_to_try = "; or ".join(remedies(survey, settings))
    if not _stretches_under(survey, settings):
        told = tell_ends(survey, lines)
        return NoPlan(told.found, told.needed, what_to_try)
    thin: tuple[Rule, ...] = ("wall", "tip")
    for rule in thin:
        if not _stretches_under(survey, settings, rule):
            told = tell_rule(rule, survey, settings, lines, everywhere)
            return WallTooThin(told.found, told.needed, what_to_try)
    told = _tell_stuck(survey, settings)
    return NoPlan(told.found, told.needed, what_to_try)


def _impossible_cut(survey: Survey, settings: Settings, cut: float) -> NoPlan:
    lines = SeamField(survey, settings).shortest_lines((cut, cut))
    tellings = [
        tell_rule(rule, survey, settings, lines, (cut, cut))
        for _, rules in closing_rules(survey, settings, [(cut, cut)])
        for rule in rules
    ]
    told = _together(tellings or [tell_ends(survey, lines)])
    return NoPlan(f"--cut {cut:g}: {told.found}", told.needed, _nearest_cut(survey, settings, cut))


def _together(tellings: list[Telling]) -> Telling:
    """All that was found; what is needed, each once."""
    return Telling(
        "; ".join(telling.found for telling in tellings),
        "; ".join(dict.fromkeys(telling.needed for telling in tellings)),
    )


def _nearest_cut(survey: Survey, settings: Settings, cut: float) -> str:
    """The nearest station, to 0.01 mm, that may take the place of a cut; tried by planning."""
    others = tuple(other for other in settings.cuts if other != cut)
    rest = replace(settings, cuts=others)
    ground = shortest_ground(survey, rest)
    height = rest.envelope[2] + FIT_SLACK
    runs = common_runs(all_above_low_end(ground, height), all_below_high_end(ground, height))
    free = ground.gate[runs.home] % 2 == 1
    fine = nearest(zip(runs.low[free].tolist(), runs.high[free].tolist(), strict=True), cut)
    if fine is not None:
        for station in _as_read(fine):
            if is_possible(survey, replace(rest, cuts=(*others, station))):
                return f"--cut {station:.10g}, the nearest station that is fine"
    if is_possible(survey, rest):
        return f"no --cut {cut:g}"
    return f"no --cut {cut:g}, together with {' or '.join(remedies(survey, rest))}"


def _as_read(station: float) -> tuple[float, float, float]:
    """A station to 0.01 mm, the nearer one first, and as it is."""
    below = math.floor(station * 100.0) / 100.0
    above = math.ceil(station * 100.0) / 100.0
    nearer, farther = (below, above) if station - below <= above - station else (above, below)
    return nearer, farther, station


def _too_many_pieces(survey: Survey, settings: Settings) -> NoPlan:
    ground = shortest_ground(survey, settings)
    most = most_pieces(ground, settings.envelope[2] + FIT_SLACK)
    if most == 1:
        return NoPlan(
            "1 piece at the most: no joint's zone lies between the part's ends",
            f"--pieces {settings.pieces}",
            "no --pieces",
        )
    return NoPlan(
        f"{most} pieces at the most, each joint's zone and {SEAM_GAP:.1f} mm between joints kept",
        f"--pieces {settings.pieces}",
        f"--pieces {most} or fewer" if most > 2 else "--pieces 2, or none",
    )


@dataclass(frozen=True, slots=True)
class _Stuck:
    """Where the way up from the low end stops.

    seam : the highest seam that can be reached before the next gate, 0: the low end
    low, high : stations between which the next seam would have to lie
    tip_limit, roof_limit : what its tenon's tip and its zone must stay under
    """

    seam: float
    low: float
    high: float
    tip_limit: float
    roof_limit: float


def _find_stuck(survey: Survey, settings: Settings, ground: Ground) -> _Stuck:
    height = settings.envelope[2] + FIT_SLACK
    reached = all_above_low_end(ground, height)
    gates = ground.gate[reached.home]
    passed = int(gates[gates % 2 == 0].max())
    roof_limit = float(ground.low[ground.gate == passed + 2][0]) - SEAM_GAP
    before = gates >= passed
    low, high, home = reached.low[before], reached.high[before], reached.home[before]
    tops = low + ground.zone_at(low, home)
    seams = (low + (roof_limit - tops) / (1.0 + ground.zone_slope[home])).clip(None, high)
    last = int((seams - 1e6 * (seams < low - GRAIN)).argmax())
    seam = float(seams[last])
    zone = float(ground.zone_at(seams[[last]], home[[last]])[0])
    field = SeamField(survey, settings)
    shortest = min(strip.least for strip in field.strips(LEAST_ENGAGEMENT))
    return _Stuck(
        seam=seam,
        low=max(seam + zone + SEAM_GAP, min(w.run.start for w in field.ways) + END_MARGIN),
        high=min(seam + height - shortest, roof_limit),
        tip_limit=seam + height,
        roof_limit=roof_limit,
    )


def _tell_stuck(survey: Survey, settings: Settings) -> Telling:
    stuck = _find_stuck(survey, settings, shortest_ground(survey, settings))
    height = settings.envelope[2]
    if stuck.low > stuck.high:
        needed = height_needed(survey, settings) or height + stuck.low - stuck.high
        return Telling(
            f"above the seam at {stuck.seam:.2f} mm the next can lie at {stuck.low:.2f} mm at the "
            f"lowest, and in a height of {height:.2f} mm at {stuck.high:.2f} mm at the highest",
            f"at least {needed:.2f} mm of height",
        )
    span = (stuck.low, stuck.high)
    lines = SeamField(survey, settings).shortest_lines(span)
    binding = _binding_rules(survey, settings, stuck)
    rules = [rule for rule in binding if has_obstacles(rule, survey, settings, lines)]
    tellings = [tell_rule(rule, survey, settings, lines, span) for rule in rules]
    return _together(tellings or [tell_ends(survey, lines)])


def _binding_rules(survey: Survey, settings: Settings, stuck: _Stuck) -> list[Rule]:
    """Rules each of which alone keeps seams out, else those that do so together."""
    alone = [rule for rule in RULES if _open_spans(survey, settings, stuck, set(RULES) - {rule})]
    if alone:
        return alone
    every = _extent(_open_spans(survey, settings, stuck, ()))
    return [
        rule
        for rule in RULES
        if _extent(_open_spans(survey, settings, stuck, {rule})) < every - GRAIN
    ]


def _open_spans(
    survey: Survey, settings: Settings, stuck: _Stuck, rules: Iterable[Rule]
) -> list[Span]:
    """Where the next seam could lie if these were the only rules."""
    spans = []
    for stretch in _stretches_under(survey, settings, *rules):
        top = min(stuck.tip_limit - stretch.stands, last_seam_under(stretch, stuck.roof_limit))
        if stuck.low <= top:
            spans += common([(stretch.low, stretch.high)], [(stuck.low, top)])
    return spans


def _extent(spans: list[Span]) -> float:
    return sum(high - low for low, high in spans)


def _stretches_under(survey: Survey, settings: Settings, *rules: Rule) -> list[Stretch]:
    """The stretches that these rules alone would leave."""
    return seam_stretches(survey, settings, LEAST_ENGAGEMENT, frozenset(RULES) - set(rules))


def _holding(stretches: list[Stretch], station: float) -> list[Stretch]:
    return [
        stretch for stretch in stretches if stretch.low - GRAIN <= station <= stretch.high + GRAIN
    ]
