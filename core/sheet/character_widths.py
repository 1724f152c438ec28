"""How wide a text can get on paper: a bound for the fonts that the drawings name.

Of every character the wider of two free fonts is taken, DejaVu Sans and Liberation Sans, read
from their own tables. The second has the widths of Arial and Helvetica; the first is about as
wide as screen fonts get.
"""

from __future__ import annotations

from bisect import bisect_right

FONTS = '"Liberation Sans", Arial, Helvetica, "DejaVu Sans", sans-serif'
"""What the drawings are lettered in, the first that is there."""

ASCENT, DESCENT = 0.95, 0.25
"""How far letters reach over and under their base line, of the font's size, at the most."""

_UNKNOWN = 1.2
"""Width of a character that is not in the table: its text is told to keep to its box."""

_HUNDREDTHS = {
    28: "'ijlìíîïĩīĭįıĵĺļ",
    30: "łIÌÍÎÏĨĪĬĮİ",
    34: " ,.·‘’/:;\\|¦",
    37: "fſŀ-",
    40: "ľ()[]tţťŧ",
    42: "!¡²³¹rŕŗř",
    48: '"ªº',
    50: "*J`¨°´¸Ĵ",
    53: "“”szśŝşšźżž",
    56: "cçćĉċč?L_§¯ĳĹĻĽĿ–",
    58: "Łkķĸ",
    60: "vxyýÿŷ",
    62: "⌀FTaeo«»¿àáâãäåèéêëðòóôõöøāăąēĕėęěōŏőŢŤŦ",
    64: "ß$0123456789bdghnpqu{}¢£¤¥µ¶ñùúûüþďđĝğġģĥńņňŋũūŭůűų",
    67: "EKPSYÈÉÊËÝÞĒĔĖĘĚĶŚŜŞŠŶŸ",
    69: "ABVXZÀÁÂÃÄÅĀĂĄŹŻŽ",
    73: "ħCRÇĆĈĊČŔŖŘ",
    76: "UÙÚÛÜĲŨŪŬŮŰŲNÑŃŅŇŊHĤ",
    79: "&DGÐĎĐĜĞĠĢOQÒÓÔÕÖØŌŎŐ",
    84: "wŉŵ#+<=>^~¬±×÷≤≥−",
    92: "MĦ",
    98: "%¼½¾m",
    103: "WæŴ©®Æ—…@œ",
    107: "Œ",
}
_WIDTHS = {
    character: hundredths / 100.0
    for hundredths, characters in _HUNDREDTHS.items()
    for character in characters
}


def text_width(text: str, size: float) -> float:
    """Width, mm, that a text of a size never passes in the fonts named."""
    return size * sum(_WIDTHS.get(character, _UNKNOWN) for character in text)


def is_bounded(text: str) -> bool:
    """Whether every character is one whose width is known."""
    return all(character in _WIDTHS for character in text)


def shortened(text: str, size: float, room: float) -> str:
    """A text that fits a room, mm: whole, or cut off in the middle with an ellipsis."""
    if text_width(text, size) <= room:
        return text
    kept = bisect_right(
        range(len(text)), room, key=lambda kept: text_width(_cut_off(text, kept), size)
    )
    return _cut_off(text, max(kept - 1, 0))


def _cut_off(text: str, kept: int) -> str:
    """So many characters of a text, from both ends; the more, the wider."""
    return f"{text[: kept - kept // 2]}…{text[len(text) - kept // 2 :]}"
