"""A record as the text of a JSON file."""

from __future__ import annotations

import json
from collections.abc import Mapping


def json_text(document: Mapping[str, object]) -> str:
    """Indented, in the order given, its numbers in full."""
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
