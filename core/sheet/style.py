"""How the sheet looks: on paper (A4 and Letter), on a phone, in light and in dark.

Contrast is at least 4.5 to 1 everywhere (WCAG 2.2, 1.4.3): `tests/core/test_sheet.py` works it out.
"""

from __future__ import annotations

from .svg import DRAWING_STYLE

LIGHT = {
    "paper": "#ffffff",
    "ink": "#1c1c1c",
    "soft": "#555555",
    "line": "#c8c8c8",
    "caution": "#fff4d6",
}
DARK = {
    "paper": "#161616",
    "ink": "#ececec",
    "soft": "#b4b4b4",
    "line": "#4a4a4a",
    "caution": "#3a3010",
}

_COLOURS = """\
:root {{ {light} }}
@media screen and (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}
"""

_LAYOUT = """\
* { box-sizing: border-box; }
body { margin: 0 auto; padding: 1rem; max-width: 60rem;
  background: var(--paper); color: var(--ink);
  font: 1rem/1.45 system-ui, "Liberation Sans", Arial, Helvetica, sans-serif;
  overflow-wrap: anywhere; }
h1 { font-size: 1.6rem; margin: 0 0 .5rem; }
h2 { font-size: 1.3rem; margin: 2rem 0 .5rem; border-bottom: 1px solid var(--line); }
h3 { font-size: 1.05rem; margin: 1.4rem 0 .4rem; }
h4 { font-size: 1rem; margin: .8rem 0 .2rem; }
p { margin: .3rem 0; }
.soft { color: var(--soft); font-size: .9rem; }
.scroll { overflow-x: auto; margin: .6rem 0; }
figure { margin: .8rem 0; break-inside: avoid; }
figcaption { color: var(--soft); font-size: .9rem; }
.drawing { display: block; }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; padding: .3rem 0; }
th, td { border: 1px solid var(--line); padding: .2rem .5rem; text-align: left; vertical-align: top;
  overflow-wrap: normal; }
ol, ul { padding-left: 1.5rem; }
li { margin: .6rem 0; break-inside: avoid; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .1rem .8rem; margin: .3rem 0; }
dd { margin: 0; font-variant-numeric: tabular-nums; }
.caution { background: var(--caution); border-left: .3rem solid var(--ink);
  padding: .3rem .6rem; margin: .4rem 0; }
@media (max-width: 30rem) { dl { grid-template-columns: 1fr; } dd { margin-bottom: .3rem; } }
@page { margin: 10mm; }
@media print {
  body { padding: 0; max-width: none; font-size: 9.5pt; }
  .scroll { overflow: visible; }
  .caution { background: none; border: 1px solid var(--ink); border-left-width: .3rem; }
  h2, h3, h4, caption { break-after: avoid; }
  tr { break-inside: avoid; }
}
"""


def page_style() -> str:
    """The whole of the page's style."""
    colours = _COLOURS.format(light=_variables(LIGHT), dark=_variables(DARK))
    return f"{colours}{_LAYOUT}{DRAWING_STYLE}"


def _variables(colours: dict[str, str]) -> str:
    return " ".join(f"--{name}: {value};" for name, value in colours.items())
