"""What is alike is told once, of all that it is true of and of nothing else."""

from __future__ import annotations

from borewright.core.sheet.together import rows_together, runs_words, together, values_together
from hypothesis import given
from hypothesis import strategies as st

from tests.sheet_jobs import job_of, part_of, step_of, words_of
from tests.told_together import names_of, rows_singly, singly

NAMES = [f"post-{number:02}" for number in range(1, 31)]


@given(st.sets(st.integers(0, 29), min_size=1))
def test_a_list_of_names_says_those_and_no_others(chosen: set[int]) -> None:
    said = runs_words(NAMES, sorted(chosen))
    assert names_of(said, NAMES) == [NAMES[one] for one in sorted(chosen)]


def test_runs_are_said_by_their_ends_and_pairs_by_their_names() -> None:
    assert runs_words("abcdefghi", (0,)) == "a"
    assert runs_words("abcdefghi", (0, 1)) == "a and b"
    assert runs_words("abcdefghi", (0, 1, 2, 4, 6, 7, 8)) == "a to c, e and g to i"


@given(st.lists(st.sampled_from("xyz"), min_size=1))
def test_each_is_told_what_is_true_of_it(each: list[str]) -> None:
    alike = together(each)
    assert {told for _, told in alike} == set(each)
    assert len(alike) == len(set(each))
    found = {number: told for numbers, told in alike for number in numbers}
    assert [found[number] for number in range(len(each))] == each
    values = values_together("joint", enumerate(each, 1), "after {}")
    by_name = {name: value.shown for value in values for name in singly(value.name)}
    assert by_name == {f"after joint {number}": told for number, told in enumerate(each, 1)}


@given(st.lists(st.lists(st.sampled_from(["12.00", "12.01"]), min_size=1, max_size=3), min_size=1))
def test_rows_that_differ_in_a_digit_stand_apart(blocks: list[list[str]]) -> None:
    names = [str(number) for number in range(1, len(blocks) + 1)]
    rows = rows_together(names, [[(cell,) for cell in block] for block in blocks])
    found: dict[str, list[str]] = {name: [] for name in names}
    for row in rows_singly(("joint", "reads"), rows, ()):
        found[row["joint"]].append(row["reads"])
    assert [*found.values()] == blocks
    assert len(rows) == sum(len(block) for block in {tuple(block) for block in blocks})


def test_a_part_of_equal_joints_is_told_in_few_rows() -> None:
    """The longest of the tests' parts: its middle pieces are alike, and so are its joints."""
    count = len(part_of("rough").tables[1].rows)
    assert count == 3
    (readings,) = step_of("rough", "Measure").tables
    assert [row[0] for row in readings.rows] == ["1 to 3"] * 3
    assert "joints 1 to 3: " in words_of(step_of("rough", "Get the glue ready"))
    names = [piece.name for piece in job_of("rough").parts[0].pieces]
    (heights,) = step_of("rough", "Layer height").tables
    assert {row[0] for row in heights.rows} >= {names[0], names[-1]}
