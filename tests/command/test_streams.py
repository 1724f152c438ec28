"""What the commands write to a terminal."""

from __future__ import annotations

import io
import json

import pytest

from addon.command_line.streams import write_text


@pytest.mark.parametrize("steering", ["\x1b[2J", "\x07", "\r", "\x7f", "\x9b", "\u202e", "\u2066"])
def test_a_files_name_steers_no_terminal(steering: str) -> None:
    stream = io.StringIO()
    document = json.dumps({"source": f"pipe{steering}.stl"}, ensure_ascii=False)
    assert write_text(stream, f"pipe{steering}.stl\n{document}\n") == ""
    table, record = stream.getvalue().splitlines()
    assert table == f"pipe\\u{ord(steering[0]):04x}{steering[1:]}.stl"
    assert json.loads(record) == json.loads(document)


def test_words_of_any_language_are_written_as_they_are() -> None:
    stream = io.StringIO()
    assert write_text(stream, "f\u016f\u0107\u2014\u6f22\U0001f3b6\t1\n") == ""
    assert stream.getvalue() == "f\u016f\u0107\u2014\u6f22\U0001f3b6\t1\n"
