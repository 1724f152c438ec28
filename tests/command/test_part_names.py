"""What parts are called, and options that name one."""

from __future__ import annotations

from itertools import pairwise, product
from pathlib import Path

import pytest
from borewright.addon.jobs.job_settings import JobAsked, check_own_names, settings_of
from borewright.addon.jobs.part_stems import part_stems
from borewright.core.errors import BadSetting
from borewright.core.values import PartDemands, Settings

from tests.command.asked import asked, parsed

ENVELOPE = ["--envelope", "180x180x180"]


@pytest.mark.parametrize(("paths", "names"), [
    (["pipe.stl"], ["pipe"]),
    (["head.stl", "body.stl"], ["head", "body"]),
    (["a/pipe.stl", "b/pipe.stl", "pipe.obj"], ["pipe", "pipe-2", "pipe-3"]),
    (["pipe.stl", "pipe.stl"], ["pipe", "pipe-2"]),
    (["pipe.stl", "PIPE.stl"], ["pipe", "PIPE-2"]),
    (["pipe.stl", "pipe.obj", "pipe-2.stl"], ["pipe", "pipe-3", "pipe-2"]),
    (["a-2.stl", "a.stl", "a.obj", "a-2.obj"], ["a-2", "a", "a-3", "a-2-2"]),
    (["fl\u00f6te.stl", "flo\u0308te.stl"], ["fl\u00f6te", "flo\u0308te-2"]),
    (["Stra\u00dfe.stl", "STRASSE.stl"], ["Stra\u00dfe", "STRASSE-2"]),
    (["v1.2.stl", "v1.3.stl"], ["v1.2", "v1.3"]),
])  # fmt: skip
def test_files_of_one_stem_are_told_apart(paths: list[str], names: list[str]) -> None:
    assert list(part_stems([Path(path) for path in paths])) == names


@pytest.mark.parametrize("count", [2, 3, 4])
def test_no_two_parts_have_one_name_and_single_stems_keep_theirs(count: int) -> None:
    stems = ("p", "P", "p-2", "p-3", "P-2-2")
    for given in product(stems, repeat=count):
        names = part_stems([Path(f"{stem}.stl") for stem in given])
        folded = [name.casefold() for name in names]
        assert len(set(folded)) == count, given
        for stem, name in zip(given, names, strict=True):
            if [one.casefold() for one in given].count(stem.casefold()) == 1:
                assert name == stem
        assert all(name.startswith(stem) for stem, name in zip(given, names, strict=True))


def test_an_option_without_a_name_holds_for_every_part_and_one_with_it_for_one() -> None:
    job = asked("head.stl", "body.stl", *ENVELOPE, "--cut", "50", "--cut", "body:150",
                "--avoid", "body:100-120.5", "--prefer", "head:80", "--pieces", "2",
                "--pieces", "BODY:4", "--avoid", "5-6")  # fmt: skip
    head, body = settings_of(job, "head"), settings_of(job, "body")
    assert (head.cuts, head.avoid, head.prefer, head.pieces) == ((50.0,), ((5.0, 6.0),), (80.0,), 2)
    assert (body.cuts, body.prefer, body.pieces) == ((50.0, 150.0), (), 4)
    assert body.avoid == ((5.0, 6.0), (100.0, 120.5))
    assert job.own == {
        "body": PartDemands((150.0,), ((100.0, 120.5),), (), 4),
        "head": PartDemands(prefer=(80.0,)),
    }


def test_a_file_of_several_bodies_can_be_named_whole_or_by_the_letter_of_one() -> None:
    job = asked("pair.stl", "b.stl", *ENVELOPE, "--cut", "pair:50", "--cut", "pair-b:60")
    assert settings_of(job, "pair-a").cuts == (50.0,)
    assert settings_of(job, "pair-b").cuts == (50.0, 60.0)
    assert settings_of(job, "b").cuts == ()
    check_own_names(job, ["pair-a", "pair-b", "b"])
    with pytest.raises(BadSetting, match=r"0 parts called pair-b, .* among pair, b; "):
        check_own_names(job, ["pair", "b"])


def test_a_name_may_hold_a_colon_and_a_hyphen() -> None:
    job = asked("a:b-c.stl", *ENVELOPE, "--avoid", "a:b-c:1-2", "--cut", "a:b-c:7")
    assert settings_of(job, "a:b-c").avoid == ((1.0, 2.0),)
    assert settings_of(job, "a:b-c").cuts == (7.0,)


def test_a_stem_that_ends_like_a_body_is_a_part_of_its_own() -> None:
    job = asked("pipe.stl", "pipe-a.stl", *ENVELOPE, "--cut", "pipe:50", "--cut", "pipe-a:60")
    assert settings_of(job, "pipe").cuts == (50.0,)
    assert settings_of(job, "pipe-a").cuts == (60.0,)


@pytest.mark.parametrize(("options", "message"), [
    (["--cut", "foot:5"], r"--cut for a part 'foot'.*2 of this job, head, body"),
    (["--pieces", "2", "--pieces", "3"], "--pieces 2 times for every part; needed: once"),
    (["--pieces", "body:2", "--pieces", "Body:3"], "--pieces 2 times for part 'body'"),
])  # fmt: skip
def test_a_name_of_no_part_and_two_numbers_for_one_are_refused(
    options: list[str], message: str
) -> None:
    with pytest.raises(ValueError, match=message):
        parsed("head.stl", "body.stl", *ENVELOPE, *options)


def test_each_part_has_the_settings_of_all_where_nothing_names_it() -> None:
    settings = Settings(envelope=(1.0, 1.0, 1.0), cuts=(3.0,))
    job = JobAsked((Path("a.stl"), Path("b.stl")), settings, {}, None)
    for one, other in pairwise(("a", "b", "b-c")):
        assert settings_of(job, one) == settings_of(job, other) == settings
