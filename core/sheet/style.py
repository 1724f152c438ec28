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
body { margin: 0 auto; padding: 1rem; max-width: 62rem;
  background: var(--paper); color: var(--ink);
  font: 1rem/1.45 system-ui, "Liberation Sans", Arial, Helvetica, sans-serif;
  overflow-wrap: anywhere; }
h1 { font-size: 1.6rem; margin: 0 0 .5rem; }
h2 { font-size: 1.3rem; margin: 2rem 0 .5rem; border-bottom: 1px solid var(--line); }
h3 { font-size: 1.1rem; margin: 1rem 0 .3rem; }
h4 { font-size: 1rem; margin: .8rem 0 .2rem; }
p { margin: .3rem 0; }
.soft, figcaption { color: var(--soft); font-size: .9rem; }
.scroll { overflow-x: auto; }
figure, .block { display: inline-block; vertical-align: top; max-width: 100%;
  margin: .4rem 0 .6rem; }
.block > p { width: 0; min-width: 100%; }
figcaption { width: 0; min-width: max(100%, 10rem); }
.drawing { display: block; }
.fitting .drawing { max-width: 100%; height: auto; }
table { border-collapse: collapse; font-size: .92rem; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; padding: .3rem 0; }
th, td { border: 1px solid var(--line); padding: .2rem .5rem; text-align: left; vertical-align: top;
  overflow-wrap: normal; }
tbody th { font-weight: inherit; }
.number { text-align: right; }
.short { white-space: nowrap; }
.words { min-width: 9rem; }
.long { overflow-wrap: anywhere; min-width: 12rem; }
ol, ul { padding-left: 1.8rem; }
li { margin: .6rem 0; }
li h3, li h4 { margin: 0 0 .2rem; }
.said span { display: block; margin: .2rem 0; }
dl { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 15rem), 1fr));
  gap: .15rem 1rem; margin: .3rem 0; }
dt, dd { display: inline; margin: 0; }
dt { color: var(--soft); margin-right: .5rem; }
dd { font-variant-numeric: tabular-nums; }
.caution { background: var(--caution); border-left: .3rem solid var(--ink);
  padding: .2rem .6rem; margin: .4rem 0; font-size: .92rem; }
.source { color: var(--soft); }
@media (min-width: 48rem), print {
  figure, .block { max-width: calc(100% - 1.2rem); margin-right: 1.2rem; }
  .aside { float: left; }
  .before { display: flow-root; min-width: 14rem; }
  h2, h3 { clear: both; }
  .whole { columns: 2; column-gap: 1.2rem; }
  .whole p { break-inside: avoid; }
  .work { display: flex; flex-wrap: wrap; align-items: flex-start; gap: 0 1rem; }
  .step { flex: 1 1 24rem; }
}
@media (max-width: 30rem) {
  table { font-size: .82rem; }
  th, td { padding: .15rem .35rem; }
  .words { min-width: 13rem; }
}
@page { margin: 8mm 10mm; }
@media print {
  html { font-size: 10pt; }
  body { padding: 0; max-width: none; line-height: 1.3; orphans: 1; widows: 1;
    font-family: Arial, Helvetica, "Liberation Sans", sans-serif; }
  h1 { font-size: 13pt; line-height: 5mm; margin: 0 0 1mm; }
  h2 { font-size: 12pt; line-height: 5mm; margin: 3mm 0 1mm; }
  section:first-of-type > h2 { margin-top: 0; }
  h3, h4 { font-size: 11pt; }
  figure, .block { max-width: 100%; margin: 0 2mm 2mm 0; break-inside: avoid; }
  .soft, figcaption, table { font-size: 9pt; }
  .caution { font-size: 10pt; }
  .source { font-size: 8pt; }
  figcaption { min-width: max(100%, 6rem); }
  .fitting .drawing { max-width: none; }
  th, td { padding: .3mm 1.2mm; }
  .scroll { overflow: visible; }
  ol, ul { padding-left: 7mm; margin: 1mm 0; }
  li { margin: 1mm 0 2mm; }
  p, dl { margin: .5mm 0; orphans: 2; widows: 2; }
  .said span { display: inline; }
  dl { display: block; }
  dl div { display: inline-block; margin-right: 4mm; }
  .caution { background: none; border: 1px solid var(--ink); border-left-width: 1mm;
    padding: .3mm 1.5mm; margin: 0 0 1mm; }
  .tall { display: block; break-inside: auto; }
  .tall thead { display: table-header-group; }
  .step, tr { break-inside: avoid; }
  h1, h2, h3, h4, caption { break-after: avoid; }
}
"""


def page_style() -> str:
    """The whole of the page's style."""
    colours = _COLOURS.format(light=_variables(LIGHT), dark=_variables(DARK))
    return f"{colours}{_LAYOUT}{DRAWING_STYLE}"


def _variables(colours: dict[str, str]) -> str:
    return " ".join(f"--{name}: {value};" for name, value in colours.items())
