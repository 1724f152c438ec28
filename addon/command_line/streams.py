"""Text to standard output and standard error, whatever they can take."""

from __future__ import annotations

import contextlib
from typing import TextIO


def write_text(stream: TextIO | None, text: str) -> str:
    """Write to a stream, whatever its encoding; why it did not work, or nothing."""
    if stream is None:
        return "there is none"
    encoding = stream.encoding or "utf-8"
    try:
        stream.write(text.encode(encoding, "backslashreplace").decode(encoding))
        stream.flush()
    except (OSError, ValueError) as problem:
        with contextlib.suppress(OSError, ValueError):
            stream.close()  # or Python would try once more when it ends
        return str(problem)
    return ""
