"""Text to standard output and standard error, whatever they can take."""

from __future__ import annotations

import contextlib
import re
from typing import TextIO

_UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""What steers a terminal or turns the direction of writing, where a file's name has it."""


def write_text(stream: TextIO | None, text: str) -> str:
    r"""Write to a stream, whatever its encoding; why it did not work, or nothing.

    What would steer a terminal is written as JSON writes it, \u001b for an escape.
    """
    if stream is None:
        return "there is none"
    encoding = stream.encoding or "utf-8"
    seen = _UNSEEN.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
    try:
        stream.write(seen.encode(encoding, "backslashreplace").decode(encoding))
        stream.flush()
    except (OSError, ValueError) as problem:
        with contextlib.suppress(OSError, ValueError):
            stream.close()  # or Python would try once more when it ends
        return str(problem)
    return ""
