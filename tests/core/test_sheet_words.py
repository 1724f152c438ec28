"""What the sheet says: nothing empty, nothing out of place, no step without its cautions.

Cautions after public guidance: ECHA registration dossier 16286 (cyanoacrylate: skin, eyes,
large drops), UK HSE RR646 and WHO CICAD 36 (vapour), NIOSH on 3D printing with filaments
(dust, emissions), fire services and NFPA on oily rags, known second hand.
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from borewright.core.recording.job_record import JobRecord
from borewright.core.sheet.cautions import CAUTIONS, hazards_of
from borewright.core.sheet.sheet_parts import sheet_parts

from tests.sheet_jobs import (
    DRY,
    GLUED,
    JOBS,
    JOINTED,
    document_of,
    job_of,
    part_of,
    step_of,
    steps_of,
    text_of,
    values_of,
    words_of,
)

NEEDS = {
    "Against tipping": {"hot printer"},
    "First layers": {"hot printer"},
    "Off the bed": {"hot printer", "blade", "small parts"},
    "Measure": {"dust", "small parts"},
    "Clear and smooth the bore": {"dust", "small parts"},
    "Clean the side holes": {"dust"},
    "Fit the O-rings": {"small parts"},
    "Leak test, if air is to go through it": {"mouth"},
    "Clean up the seam": {"dust"},
    "Stain and coat, if you want to": {"solvent", "oily rags", "dust"},
    "If a mouth touches it: seal the mouthpiece": {"mouth", "dust", "solvent"},
    "Care": {"load"},
}
INSTANT = {"instant glue", "instant glue on cloth", "instant glue vapour"}
GLUE_STEPS = (
    "Get the glue ready", "Spread it and push home", "Hold it", "Let it set",
    "Leak test, if air is to go through it",
)  # fmt: skip
"""Steps with glue that has not set."""

SIGNS = {
    "instant glue": r"instant|cyanoacrylate", "instant glue on cloth": r"instant|cyanoacrylate",
    "instant glue vapour": r"instant|cyanoacrylate", "epoxy": r"epoxy|two-part",
    "dust": r"\bsand\b|sanding|abrasive|fine paper|\bfile |mandrel", "oily rags": r"\bstain",
    "solvent": r"solvent|varnish|\bstain|\bcoat\b|coating",
    "mouth": r"mouth touches|your mouth|lips",
    "blade": r"blade|drill bit|scrape|\btrim\b", "small parts": r"strings|o-ring|brims if|break ",
    "hot printer": r"hot |knocked over|let bed",
    "load": r"friction|full strength|rely|take them apart",
}  # fmt: skip
"""What is worked with, or what is done, and may hurt: where it stands, its caution stands too."""
SAID_OF_FILES = re.compile(r"as its file stands|in the file|your file|drawn in", re.IGNORECASE)
"""Files that are read, not such as cut."""

BEFORE = ("Measure", "Try it dry", "Clear and smooth the bore", "Clean the side holes")
AFTER = ("Stain and coat, if you want to", "If a mouth touches it: seal the mouthpiece")
LEAKS, SEAM = "Leak test", "Clean up the seam"
GLUING = ("Get the glue ready", "Spread it and push home", "Hold it", "Let it set", LEAKS, SEAM)
"""A leak is closed with glue, which is then cleaned off the seam."""
FITTING = (SEAM, "Fit the O-rings", "Lap the tenons", "Push together",
           "Put together and take apart", LEAKS)  # fmt: skip
"""Dust of a seam is brushed off before a ring, thread or wax would hold it."""


def part_has(name: str, found: str) -> bool:
    """Did the survey of a job's only part find any of a kind?"""
    survey = document_of(name)["parts"][0]["survey"]
    return bool(survey and survey[found])


@pytest.mark.parametrize("name", JOBS)
def test_nothing_is_empty_or_left_unsaid(name: str) -> None:
    text = text_of(name)
    assert all(text.before) and text.after
    for part in text.parts:
        assert part.name and part.tables and part.printing
    for step in steps_of(name):
        words = words_of(step)
        assert all(sentence.endswith((".", "?")) for sentence in step.text), step.title
        assert all(value.name and value.shown for value in step.values), step.title
        assert not re.search(r"\b(None|nan|inf)\b|[{}<>]|  |-0\.0*\b(?!\d)", words), words


@pytest.mark.parametrize("name", JOBS)
def test_steps_stand_in_the_order_in_which_they_are_done(name: str) -> None:
    titles = [
        step.title.replace("Leak test, if air is to go through it", LEAKS)
        for step in part_of(name).bench
    ]
    order = (*BEFORE, *(FITTING if name in DRY else GLUING), *AFTER)
    assert titles == sorted(titles, key=order.index)
    assert len(set(titles)) == len(titles)


@pytest.mark.parametrize("name", JOBS)
def test_every_step_of_a_dangerous_kind_has_its_cautions(name: str) -> None:
    for step in steps_of(name):
        carried = {caution.hazard for caution in step.cautions}
        assert NEEDS.get(step.title, set()) <= carried, step.title
        words = SAID_OF_FILES.sub("", words_of(step)).lower()
        for hazard, sign in SIGNS.items():
            assert hazard in carried or not re.search(sign, words), (step.title, hazard)
        wet = re.sub(r"“.*?”|without glue|gap-filling glue", "", words)
        if re.search(r"\bglue\b", wet):
            assert carried & {"instant glue", "epoxy"}, step.title


@pytest.mark.parametrize("name", GLUED)
def test_glue_has_all_cautions_of_its_kind(name: str) -> None:
    for title in GLUE_STEPS[: 4 if name == "pins" else 5]:
        step = step_of(name, title)
        carried = {caution.hazard for caution in step.cautions}
        kinds = [kind for kind in ("instant glue", "epoxy") if kind in words_of(step)]
        assert kinds
        assert ("epoxy" not in kinds) or "epoxy" in carried
        assert ("instant glue" not in kinds) or carried >= INSTANT


@pytest.mark.parametrize("hazard", CAUTIONS)
def test_every_caution_is_carried_by_some_step_with_its_source(hazard: str) -> None:
    carried = [one for name in JOBS for step in steps_of(name) for one in step.cautions]
    mine = {one for one in carried if one.hazard == hazard}
    assert len(mine) == 1
    assert all(len(one.text) > 40 and len(one.source) > 15 for one in mine)


def test_cautions_say_what_the_guidance_says() -> None:
    told = {hazard: caution.text for hazard, caution in CAUTIONS.items()}
    for hazard, words in {
        "instant glue": ("do not pull", "warm soapy water", "never force", "medical help"),
        "instant glue on cloth": ("cotton or wool", "heat"),
        "instant glue vapour": ("Ventilate", "asthma"),
        "oily rags": ("by themselves", "flat outdoors", "metal can", "never in a heap"),
        "dust": ("wet", "extraction", "glasses", "mask"),
        "mouth": ("cure", "Local rules"),
        "load": ("hurt someone", "local code", "licensed"),
    }.items():
        assert all(word in told[hazard] for word in words), hazard
    assert "labels" in text_of("flute").before[0]


@pytest.mark.parametrize("name", DRY)
def test_nothing_is_said_of_glue_where_the_fit_takes_none(name: str) -> None:
    part = part_of(name)
    said = [words_of(step) for step in (*part.printing, *part.bench)]
    said += [word for table in part.tables for row in (table.header, *table.rows) for word in row]
    said += [note for table in part.tables for note in table.notes]
    assert not re.search(r"glue|epoxy|cyanoacrylate", "\n".join(said), re.IGNORECASE)


@pytest.mark.parametrize(("name", "title"), [
    ("pushed", "Push together"), ("apart", "Put together and take apart"),
    ("oring", "Fit the O-rings"), ("lapped", "Lap the tenons"),
])  # fmt: skip
def test_what_is_not_glued_has_steps_of_its_own(name: str, title: str) -> None:
    assert step_of(name, title)
    assert not {"Get the glue ready", "Hold it", "Let it set"} & {s.title for s in steps_of(name)}


def test_a_part_that_was_passed_on_has_no_steps_at_the_bench() -> None:
    assert part_of("block").bench == ()
    assert [table.title for table in part_of("block").tables] == ["Pieces"]


@pytest.mark.parametrize("name", ["whole", "leaning"])
def test_one_piece_is_neither_measured_nor_joined(name: str) -> None:
    titles = {step.title for step in part_of(name).bench}
    assert not titles & {"Measure", "Try it dry", "Get the glue ready", "Clean up the seam"}
    assert "Clear and smooth the bore" in titles


@pytest.mark.parametrize("name", ["pushed", "pins"])
def test_of_a_solid_part_nothing_is_said_of_bores(name: str) -> None:
    for step in part_of(name).bench:
        assert "bore" not in words_of(step), step.title


@pytest.mark.parametrize("name", JOINTED)
def test_a_plan_without_files_is_told_without_pieces(name: str) -> None:
    record = job_of(name)
    planned = replace(record, parts=tuple(_as_planned(record)), files={}, estimates={}, beds=())
    (part,) = sheet_parts(planned).parts
    assert (part.printing, part.bench) == ((), ())
    assert "Joints" in {table.title for table in part.tables}


def _as_planned(record: JobRecord) -> list[object]:
    return [replace(part, outcome=replace(part.outcome, pieces=())) for part in record.parts]  # type: ignore[type-var]


@pytest.mark.parametrize("name", ["whole", "leaning", "block"])
def test_of_a_part_in_one_piece_nothing_is_said_of_several(name: str) -> None:
    said = "\n".join(words_of(step) for step in steps_of(name))
    assert not re.search(r"neighbours|one spool|seams?\b|joints?\b|tenon|socket", said)


@pytest.mark.parametrize("name", [name for name in JOBS if not part_has(name, "side_holes")])
def test_where_there_are_no_side_holes_none_is_spoken_of(name: str) -> None:
    bench = "\n".join(words_of(step) for step in part_of(name).bench)
    assert not re.search(r"side holes?|rims? of holes", bench)


def test_holes_are_counted_as_people_count_them() -> None:
    title = "Leak test, if air is to go through it"
    told = {name: words_of(step_of(name, title)) for name in ("collar", "tiny", "flute", "twin")}
    assert "Stop one end with tape" in told["collar"].replace("stop", "Stop")
    assert "both side holes" in told["tiny"]
    assert "all 3 side holes" in told["flute"]
    assert "one end of both bores" in told["twin"]


def test_thin_glue_is_let_in_where_the_pieces_are_together_and_others_go_on_before() -> None:
    title = "Spread it and push home"
    assert "without glue and hold it home" in words_of(step_of("soaked", title))
    assert "glue on" not in words_of(step_of("soaked", title))
    assert "thin ring of medium instant glue" in words_of(step_of("flute", title))
    assert "thin ring of two-part epoxy on each pin" in words_of(step_of("pins", title))


def test_bores_that_no_dowel_in_foam_suits_are_told_what_does() -> None:
    title = "Clear and smooth the bore"
    assert "paper alone on a dowel of 2 mm" in words_of(step_of("tiny", title))
    assert "over a soft block" in words_of(step_of("wide", title))
    assert not any(step_of(name, title).tables for name in ("tiny", "wide"))


def test_what_softens_is_the_material_that_is_printed() -> None:
    assert "55 C" in words_of(step_of("flute", "Care"))
    assert "55 C" not in words_of(step_of("tiny", "Care"))
    assert "PETG" in words_of(step_of("tiny", "Care"))


def test_words_find_whole_words_only() -> None:
    assert hazards_of("A sandwich profile, printed") == ()
    assert hazards_of("Sand it.") == ("dust",)


def test_of_a_wind_instrument_nothing_is_said_with_an_if() -> None:
    record = job_of("flute")
    asked = replace(record, settings=replace(record.settings, wind=True))
    (part,) = sheet_parts(asked).parts
    told = {step.title: words_of(step) for step in part.bench}
    assert "Leak test" in told
    assert "of a wind instrument" not in told["Clean the side holes"]
    assert "of a wind instrument" in words_of(step_of("flute", "Clean the side holes"))


def test_lengths_that_end_at_a_tenon_say_so() -> None:
    *earlier, last = [one.shown for one in values_of(step_of("rough", "Hold it"))]
    assert all("to the tip of the tenon" in shown for shown in earlier)
    assert "tenon" not in last
    assert "tenon" not in words_of(step_of("flute", "Hold it"))
