"""A printer profile as a value and as text. All values here are this project's own."""

from __future__ import annotations

import contextlib
import json
import math
from dataclasses import asdict, replace

import pytest
from borewright.core.errors import BadProfile, BadSetting, CoreError
from borewright.core.estimating.materials import MATERIALS
from borewright.core.fitting.printer_profile import (
    SCHEMA,
    FitClearances,
    PrinterProfile,
    format_profile,
    parse_profile,
)
from borewright.core.fitting.profile_name import MOST_BYTES, check_name, name_key
from borewright.core.values import Compensation, Printing
from hypothesis import given
from hypothesis import strategies as some

FULL = PrinterProfile(
    name="Attic printer 0.6",
    envelope=(210.0, 205.5, 250.0),
    nozzle=0.6,
    layer=0.3,
    spread=0.15,
    clearances=FitClearances(glue=0.18, push=0.12, take_apart=0.27),
    compensation=Compensation(hole_undersize=0.15, first_layer_bulge=0.2, shrink_percent=0.3),
    printing=Printing("wood-PLA", 2.85, lines=2, solid_layers=5, infill_percent=7.5, flow=6.25),
)

FIRST = (
    '{"schema": "borewright.printer/1", "name": "mini", "envelope": [180.0, 170.0, 160.5], '
    '"nozzle": 0.6, "layer": 0.3, "spread": 0.15, '
    '"clearances": {"glue": 0.18, "push": null, "take_apart": 0.27}, '
    '"compensation": {"hole_undersize": 0.1, "first_layer_bulge": 0.2, "shrink_percent": 0.3}}'
)
"""A profile as version 1 wrote it, but for its line ends."""


def text_with(**changes: object) -> str:
    return json.dumps(json.loads(format_profile(FULL)) | changes)


def text_with_printing(**changes: object) -> str:
    return text_with(printing=json.loads(format_profile(FULL))["printing"] | changes)


def between(low: float, high: float) -> some.SearchStrategy[float]:
    return some.floats(low, high)


profiles = some.builds(
    PrinterProfile,
    name=some.sampled_from(["mini", "Attic printer 0.6", "Küche", "プリンタ", "a+b_c-d"]),
    envelope=some.none() | some.tuples(*[between(1.0, 10000.0)] * 3),
    nozzle=between(0.4, 2.0),
    layer=between(0.02, 0.4),
    spread=between(0.01, 1.0),
    clearances=some.builds(
        FitClearances, *[some.none() | between(0.0, 0.5)] * 3
    ),
    compensation=some.builds(
        Compensation, between(0.0, 1.0), between(0.0, 1.0), between(0.0, 5.0)
    ),
    printing=some.builds(
        Printing, some.sampled_from(sorted(MATERIALS)), between(1.0, 5.0), some.integers(1, 20),
        some.integers(0, 50), between(0.0, 100.0), some.none() | between(0.1, 500.0),
    ),
)  # fmt: skip


@given(profiles)
def test_what_is_written_is_read_again_to_the_last_digit(profile: PrinterProfile) -> None:
    assert parse_profile(format_profile(profile)) == profile


def test_the_text_is_for_people_too() -> None:
    assert format_profile(FULL).startswith(f'{{\n "schema": "{SCHEMA}",\n "name": "Attic printer')
    assert SCHEMA == "borewright.printer/2"


def test_a_profile_of_version_1_is_read_and_takes_the_defaults_for_printing() -> None:
    assert parse_profile(FIRST) == PrinterProfile(
        "mini",
        (180.0, 170.0, 160.5),
        nozzle=0.6,
        layer=0.3,
        spread=0.15,
        clearances=FitClearances(glue=0.18, take_apart=0.27),
        compensation=Compensation(0.1, 0.2, 0.3),
        printing=Printing("PLA", 1.75, lines=3, solid_layers=4, infill_percent=15.0, flow=None),
    )
    assert json.loads(format_profile(parse_profile(FIRST)))["schema"] == SCHEMA


def test_neither_version_takes_the_keys_of_the_other() -> None:
    with pytest.raises(BadProfile, match=r"1 unknown \(printing\)"):
        parse_profile(text_with(schema="borewright.printer/1"))
    with pytest.raises(BadProfile, match=r"1 keys missing \(printing\)"):
        parse_profile(FIRST.replace("printer/1", "printer/2"))


def test_each_fit_has_its_own_gap() -> None:
    gaps = FitClearances().with_gap("take-apart", 0.3)
    assert (gaps.of("glue"), gaps.of("push"), gaps.of("take-apart")) == (None, None, 0.3)
    assert FULL.clearances.of("push") == 0.12


@pytest.mark.parametrize(("changes", "told"), [
    ({"nozzle": 0.05}, r"nozzle 0\.05 mm; needed: 0\.1 to 2 mm"),
    ({"nozzle": math.nan}, "nozzle nan mm"),
    ({"layer": 0.61}, r"layer 0\.61 mm; needed: 0\.02 to 0\.6 mm"),
    ({"layer": 0.0}, "layer 0 mm"),
    ({"spread": 0.0}, "spread 0 mm"),
    ({"envelope": (180.0, 0.0, 180.0)}, "envelope 0 mm; needed: 1 to 10000 mm"),
    ({"envelope": (180.0, math.inf, 180.0)}, "envelope inf mm"),
    ({"clearances": FitClearances(take_apart=0.51)}, r"clearance for take-apart 0\.51 mm"),
    ({"clearances": FitClearances(glue=-0.01)}, r"clearance for glue -0\.01 mm"),
    ({"compensation": Compensation(hole_undersize=1.1)}, r"hole undersize 1\.1 mm"),
    ({"compensation": Compensation(first_layer_bulge=-0.1)}, r"first layer bulge -0\.1 mm"),
    ({"compensation": Compensation(shrink_percent=6.0)}, "shrink 6 %; needed: 0 to 5 %"),
    ({"printing": Printing(material="pla")}, "material 'pla', 0 times .*1 of PLA, PETG, ABS, wood"),
    ({"printing": Printing(filament=0.9)}, r"filament 0\.9 mm; needed: 1 to 5 mm"),
    ({"printing": Printing(lines=0)}, "lines 0 side by side; needed: 1 to 20"),
    ({"printing": Printing(solid_layers=51)}, "solid layers 51 layers; needed: 0 to 50 layers"),
    ({"printing": Printing(infill_percent=100.5)}, r"infill 100\.5 %; needed: 0 to 100 %"),
    ({"printing": Printing(infill_percent=math.nan)}, "infill nan %"),
    ({"printing": Printing(flow=0.0)}, r"flow 0 mm3/s; needed: 0\.1 to 500 mm3/s"),
])  # fmt: skip
def test_a_number_out_of_its_range_is_refused_at_birth(
    changes: dict[str, object], told: str
) -> None:
    with pytest.raises(BadSetting, match=told):
        replace(FULL, **changes)  # type: ignore[arg-type]


DAMAGED = {
    "empty": ("", "no JSON"),
    "cut short": (format_profile(FULL)[:-20], "no JSON: .* at line"),
    "two documents": (format_profile(FULL) * 2, "no JSON: Extra data"),
    "a list": ("[]", "1 JSON list"),
    "nested without end": ("[" * 100_000, "thousands deep|no JSON"),
    "digits without end": (text_with(nozzle=0).replace('"nozzle": 0', '"nozzle": ' + "9" * 5000),
                           "no number"),
    "NaN": (text_with(nozzle=math.nan), "1 value NaN"),
    "Infinity": (text_with(spread=math.inf), "1 value Infinity"),
    "over the greatest number": (text_with(nozzle=0).replace('"nozzle": 0', '"nozzle": 1e999'),
                                 "nozzle is 'inf', 0 of what"),
    "no schema": ("{}", "schema 'None'"),
    "a job's record": (text_with(schema="borewright.job/1"), "schema 'borewright.job/1'"),
    "version 0": (text_with(schema="borewright.printer/0"), "schema 'borewright.printer/0'"),
    "version in words": (text_with(schema="borewright.printer/one"), "schema"),
    "version with a point": (text_with(schema="borewright.printer/1.1"), "schema"),
    "version in other digits": (text_with(schema="borewright.printer/\u0661"), "schema"),
    "version 01": (text_with(schema="borewright.printer/01"), "schema"),
    "version without end": (text_with(schema="borewright.printer/" + "1" * 5000), "schema"),
    "schema is a number": (text_with(schema=1), "schema '1'"),
    "unknown key": (text_with(speed=60), r"1 unknown \(speed\)"),
    "missing key": (format_profile(FULL).replace('"spread": 0.15,', ""),
                    r"1 keys missing \(spread\)"),
    "doubled key": (format_profile(FULL).replace('"spread"', '"layer": 0.2, "spread"'),
                    "key 'layer' 2 times"),
    "name is a number": (text_with(name=3), "name is '3', 0 of what it has to be; needed: 1 text"),
    "nozzle is true": (text_with(nozzle=True), "needed: 1 number"),
    "nozzle is text": (text_with(nozzle="0.4"), "needed: 1 number"),
    "nozzle is null": (text_with(nozzle=None), "needed: 1 number"),
    "flat envelope": (text_with(envelope=[180, 180]), "needed: 3 numbers, or null"),
    "envelope in words": (text_with(envelope="180x180x180"), "needed: 3 numbers, or null"),
    "envelope of truths": (text_with(envelope=[1, 2, True]), "needed: 1 number"),
    "clearances are a list": (text_with(clearances=[0.1]), "0 JSON objects"),
    "unknown fit": (text_with(clearances={"glue": 0.1, "push": 0.1, "loose": 0.4}), "loose"),
    "a gap is text": (text_with(clearances={"glue": "0.1", "push": None, "take_apart": None}),
                      "glue is '0.1'"),
    "compensation is null": (text_with(compensation=None), "0 JSON objects"),
    "printing is a list": (text_with(printing=[]), "0 JSON objects"),
    "printing without a flow": (text_with(printing={"material": "PLA", "filament": 1.75,
                                "lines": 3, "solid_layers": 4, "infill_percent": 15}),
                                r"in printing 1 keys missing \(flow\)"),
    "lines by halves": (text_with_printing(lines=2.5), "lines is '2.5'.*needed: 1 whole number"),
    "solid layers are text": (text_with_printing(solid_layers="4"),
                              "solid_layers is '4'.*needed: 1 number"),
    "solid layers are true": (text_with_printing(solid_layers=True), "needed: 1 number"),
    "material is a number": (text_with_printing(material=3), "material is '3'.*needed: 1 text"),
    "flow is text": (text_with_printing(flow="fast"), "flow is 'fast'.*needed: 1 number"),
}  # fmt: skip


@pytest.mark.parametrize("case", DAMAGED)
def test_a_damaged_text_is_told(case: str) -> None:
    text, told = DAMAGED[case]
    with pytest.raises(BadProfile, match=told) as problem:
        parse_profile(text)
    assert "mend the file" in problem.value.remedy


def test_a_newer_version_is_told_as_such_and_is_no_damage() -> None:
    with pytest.raises(BadProfile, match="of version 12; needed: version 2, the newest") as told:
        parse_profile(text_with(schema="borewright.printer/12", speed=60))
    assert "newer Borewright" in told.value.remedy


@pytest.mark.parametrize(
    "changes",
    [
        {"nozzle": 9},
        {"layer": 0.7},
        {"name": "CON"},
        {"spread": -1},
        {"printing": asdict(Printing(material="gold"))},
    ],
)
def test_a_sound_text_with_a_value_out_of_range_is_refused(changes: dict[str, object]) -> None:
    with pytest.raises(CoreError):
        parse_profile(text_with(**changes))


@given(some.text(max_size=200) | some.binary(max_size=200).map(lambda data: data.decode("latin-1")))
def test_no_text_breaks_the_reader(text: str) -> None:
    with pytest.raises(CoreError):
        parse_profile(text)


@given(some.integers(0, len(format_profile(FULL)) - 1), some.characters())
def test_one_changed_letter_is_another_profile_or_told(place: int, letter: str) -> None:
    text = format_profile(FULL)
    changed = text[:place] + letter + text[place + 1 :]
    with contextlib.suppress(CoreError):
        assert parse_profile(changed).name


# Names


@pytest.mark.parametrize("name", ["mini", "Mini 0.4", "a", "9", "Küche", "Ku\u0308che",
                                  "プリンタ", "हिन्दी", "a.b", "console", "com10",
                                  "a" * MOST_BYTES])  # fmt: skip
def test_names_that_every_system_takes(name: str) -> None:
    check_name(name)


@pytest.mark.parametrize("name", [
    "", " ", ".", "..", "a/b", "a\\b", "../up", "a:b", "a*", "a?", 'a"b', "a<b", "a>b", "a|b",
    "a\0b", "a\nb", "a\tb", ".hidden", "-flag", "dot.", "blank ", " blank", "CON", "con",
    "Nul.json", "aux.a.b", "COM1", "lpt9.x", "COM\u00b9", "com1 .x",
    "a" * (MOST_BYTES + 1), "é" * 51, "😀",
    "a\u202eb", "a\ud800", "a\u00a0b", "a\u200bb",
])  # fmt: skip
def test_names_that_some_system_does_not_take(name: str) -> None:
    with pytest.raises(BadProfile, match=r"found: .*[0-9].*; needed: .*; try: another name"):
        check_name(name)


def test_names_that_some_system_takes_for_one_have_one_key() -> None:
    assert name_key("Mini") == name_key("MINI") == name_key("mini")
    assert name_key("Küche") == name_key("Ku\u0308che")
    assert name_key("Straße") == name_key("STRASSE")
    assert name_key("mini") != name_key("mini2")
