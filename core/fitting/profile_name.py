"""Names of printer profiles, which are names of files on every system.

Two names that differ in capitals only are one name: some systems' files are so.
"""

from __future__ import annotations

import unicodedata

from ..errors import BadProfile

MOST_BYTES = 100
"""Of a name in UTF-8; the ending and a temporary file's mark still fit into 255."""

_MARKS = " -_.+"
"""Characters allowed inside of a name besides letters and digits of any script."""

_DEVICES = {"con", "prn", "aux", "nul"} | {
    f"{port}{number}" for port in ("com", "lpt") for number in range(10)
}
"""What Windows takes for a device, whatever ending follows."""


def name_key(name: str) -> str:
    """What two names have in common that are one on some system."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())


def check_name(name: str) -> None:
    """Is a name one that every system can give to a file?

    Raises
    ------
    BadProfile : it is empty, too long, holds a character that a system has another use
        for, starts or ends with such, or is a device's name
    """
    size = len(name.encode("utf-8", "surrogatepass"))
    if not 0 < size <= MOST_BYTES:
        raise _bad_name(f"a profile name of {size} bytes", f"1 to {MOST_BYTES} bytes in UTF-8")
    odd = [letter for letter in name if not (_is_word(letter) or letter in _MARKS)]
    if odd:
        raise _bad_name(
            f"profile name {name!r} with {len(odd)} odd characters, the first {odd[0]!r}",
            f"letters, digits, and of other characters only {_MARKS.strip()} and the blank",
        )
    if not (_is_word(name[0]) and _is_word(name[-1])):
        raise _bad_name(
            f"profile name {name!r}, whose first or last of {len(name)} characters is no letter "
            "or digit",
            "a letter or digit at either end",
        )
    device = name_key(name).partition(".")[0].strip()
    if device in _DEVICES:
        raise _bad_name(
            f"1 profile name that is a device's on some systems: {name!r}", "a name of its own"
        )


def _bad_name(found: str, needed: str) -> BadProfile:
    return BadProfile(found, needed, "another name, as in mini-04")


def _is_word(letter: str) -> bool:
    """A letter, its accent where that is a character of its own, or a digit."""
    return unicodedata.category(letter)[0] in "LNM"
