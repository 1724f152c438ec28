"""Several values typed into one field, with commas between."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from ...core.errors import BadSetting
from . import options

_Value = TypeVar("_Value")


@dataclass(frozen=True, slots=True)
class TypedList(Generic[_Value]):
    """A field for several values.

    parse : one of them; raises ValueError
    needed, example : what each is, in words, and some
    """

    label: str
    tooltip: str
    parse: Callable[[str], _Value]
    needed: str
    example: str

    def values(self, text: str) -> tuple[_Value, ...]:
        """Those typed, in their order; of an empty field none.

        Raises
        ------
        BadSetting : one of them is not what is needed
        """
        return tuple(self._value(one.strip()) for one in text.split(",") if one.strip())

    def _value(self, one: str) -> _Value:
        try:
            return self.parse(one)
        except ValueError:
            raise BadSetting(
                f"{one!r} under {self.label}", self.needed, f"{self.label} {self.example}"
            ) from None


SEAMS = TypedList(
    "Seams At",
    "Stations of seams to make whatever the plan, in mm from the low end, as in 120, 240.5",
    options.CUT.parse,
    f"stations in mm from {options.CUT.low:g} to {options.CUT.high:g}, with commas between",
    "120, 240.5",
)
AVOID = TypedList(
    "Avoid",
    "Stretches that no seam is seen in, in mm from the low end, as in 100-120, 200-210.5",
    options.parse_stretch,
    "stretches of two stations in mm, the lower first, with commas between",
    "100-120, 200-210.5",
)
PREFER = TypedList(
    "Prefer",
    "Stations near which a seam is better than elsewhere, in mm from the low end, as in 120, 240.5",
    options.PREFER.parse,
    f"stations in mm from {options.PREFER.low:g} to {options.PREFER.high:g}, with commas between",
    "120, 240.5",
)
