"""What a number on the sheet may be, and the table by which each is accounted for.

A rule stands for every text of one form: its place and its words, with a # for each number in it
and * for what differs otherwise. It says, one by one, what the numbers have to be: a number, to
half of the last digit that is told; a whole number, exactly; a `Short` one, without zeros at its
end; a `Near` one, as it was measured on facets; or a test.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from fnmatch import fnmatchcase

from tests.sheet.made import Made
from tests.sheet.told import NUMBER, Told

_ROUND_OFF = 1e-5
"""Of float32, in mm on some 100 mm, and a little more."""


@dataclass(frozen=True, slots=True)
class Near:
    """A number as measured, and by how much the measure may be off."""

    value: float
    off: float


@dataclass(frozen=True, slots=True)
class Short:
    """A length to 0.01 mm, or an angle to 0.1 degree, told without zeros at its end."""

    value: float
    digit: float = 0.01


Wanted = float | Near | Short | Callable[[float], bool]
Rule = Callable[[Made, Told], Sequence[Wanted]]
Rules = Mapping[str, Rule]


def constant(*numbers: float) -> Rule:
    """Numbers that are the same on every sheet, typed in from where they are published."""
    return lambda _made, _told: numbers


def counted_on(_made: Made, told: Told) -> Sequence[Wanted]:
    """The first, the second, ... of its form."""
    return [told.order + 1]


def faults_of(told: Sequence[Told], made: Made, rules: Rules) -> Iterator[str]:
    """Texts with a number that no rule accounts for, or that is another one than it has to be."""
    for one in told:
        if one.numbers:
            yield from faults_in(one, made, rules)


def altered(told: Told, which: int, digits: int) -> Told:
    """The same text with one of its numbers made greater by some of its last digit."""
    (start, stop) = [found.span() for found in NUMBER.finditer(told.words)][which]
    number = told.words[start:stop]
    decimals = len(number.partition(".")[2])
    other = f"{float(number) + digits * 10.0**-decimals:.{decimals}f}"
    return replace(told, words=f"{told.words[:start]}{other}{told.words[stop:]}")


def unused(told: Sequence[Told], rules: Rules) -> set[str]:
    """Rules that stand for no text."""
    return {form for form in rules if not any(_is_of(one, form) for one in told)}


def faults_in(told: Told, made: Made, rules: Rules) -> Iterator[str]:
    mine = [form for form in rules if _is_of(told, form)]
    if len(mine) != 1:
        yield f"{len(mine)} rules for: {told.form}  ({told.words}) {mine}"
        return
    wanted = rules[mine[0]](made, told)
    if len(wanted) != len(told.numbers):
        yield f"{told.form}: {told.numbers}, where {len(wanted)} numbers are accounted for"
        return
    for number, want in zip(told.numbers, wanted, strict=True):
        if not _is(number, want):
            yield f"{told.form}: {told.words!r} of {told.row}: {number} is not {want}"


def _is_of(told: Told, form: str) -> bool:
    return fnmatchcase(told.form, form.replace("[", "[[]"))


def _is(number: str, wanted: Wanted) -> bool:
    value, half = float(number), _half_digit(number)
    if isinstance(wanted, Short):
        return abs(value - wanted.value) <= wanted.digit / 2.0 + _ROUND_OFF
    if isinstance(wanted, int):
        return value == wanted
    if isinstance(wanted, Near):
        return abs(value - wanted.value) <= half + wanted.off + _ROUND_OFF
    if callable(wanted):
        return wanted(value)
    return abs(value - wanted) <= half + _ROUND_OFF


def _half_digit(number: str) -> float:
    decimals = len(number.partition(".")[2])
    return 0.5 * 10.0**-decimals if decimals else 0.5
