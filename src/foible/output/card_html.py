"""The field card as one page for a phone or for paper: no script, nothing fetched from anywhere."""

from __future__ import annotations

import re
from html import escape
from typing import TYPE_CHECKING

from foible.output.card_text import STICKS

if TYPE_CHECKING:
    from foible.output.card_text import Card, Row, Step

__all__ = ["card_html"]

LAMP = re.compile(r"(left|right) (coloured|white|yellow|orange)\b")
STYLE = """
:root { color-scheme: light dark; --ink: #1d2733; --paper: #fbfaf7; --pale: #eceae4; --line: #8b8578; --link: #1f4f8f; }
@media (prefers-color-scheme: dark) {
  :root { --ink: #e8e6e1; --paper: #171a1f; --pale: #242931; --line: #7d8694; --link: #9cc3f5; }
}
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 64rem; padding: 1rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.4 system-ui, sans-serif; }
h1 { font-size: 1.4rem; margin: 0 0 .6rem; }
h2 { font-size: 1.05rem; margin: 1.2rem 0 .4rem; }
h3 { font-size: 1rem; margin: 0; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1rem; margin: 0; }
dt { font-weight: 600; }
dd { margin: 0; }
p { margin: .3rem 0; }
a { color: var(--link); }
.steps { columns: 22rem; column-gap: 1rem; }
.step { break-inside: avoid; margin: 0 0 .8rem; padding: .5rem; background: var(--pale); border-top: 3px solid var(--line); }
.step:target { outline: 3px solid var(--link); }
.number { display: inline-block; min-width: 1.9em; margin-right: .4em; text-align: center; border: 2px solid; font-weight: 700; }
.about { font-size: .85rem; }
.step ul { list-style: none; margin: .3rem 0 0; padding: 0; }
.step li { padding: .25rem 0; border-top: 1px solid var(--line); }
.to { font-weight: 700; display: inline-block; min-width: 2.2em; padding: .1em .4em; text-align: center; border: 1px solid; }
.seen { white-space: nowrap; }
.lamp { display: inline-block; width: .8em; height: .8em; margin-right: .25em; border: 1px solid var(--ink); }
.lamp.red { background: #c62828; }
.lamp.green { background: #2e7d32; }
.lamp.white { background: #ffffff; }
.lamp.yellow { background: #f6d02f; }
.lamp.orange { background: #ef8a17; }
@page { margin: 10mm; }
@media print {
  :root { color-scheme: light; --ink: #000000; --paper: #ffffff; --pale: #ffffff; --line: #555555; --link: #000000; }
  html { font-size: 8.5pt; }
  body { max-width: none; padding: 0; }
  .steps { columns: 84mm; }
  .step { border: 1px solid var(--line); border-top-width: 2px; }
  .lamp { print-color-adjust: exact; }
  a { text-decoration: none; }
}
"""
"""On A4 the steps stand in two columns, on A5 in one; only a lamp's own mark is coloured, and its name stands beside it."""


def card_html(card: Card) -> str:
    """Return a card as a whole page."""
    facts = "\n".join(f"<dt>{escape(name)}</dt><dd>{escape(fact)}</dd>" for name, fact in card.facts)
    before = {row.to: step.number for step in card.steps for row in step.rows if row.to is not None}
    steps = "\n".join(_step(step, before.get(step.number)) for step in card.steps)
    outright = f"<p>{escape(card.outright)}</p>\n" if card.outright else ""
    reading, cautions = (
        "\n".join(f"<p>{escape(sentence)}</p>" for sentence in sentences) for sentences in (card.reading, card.cautions)
    )
    return f"""<!DOCTYPE html>
<html lang="en-GB">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(card.title)}</title>
<style>{STYLE}</style>
</head>
<body>
<main>
<h1>{escape(card.title)}</h1>
<dl>
{facts}
</dl>
<h2>How to read it</h2>
{reading}
<h2>Trials</h2>
{outright}<div class="steps">
{steps}
</div>
<h2>Take care</h2>
{cautions}
</main>
</body>
</html>
"""


def _step(step: Step, before: int | None) -> str:
    back = f' · from <a href="#step-{before}">{before}</a>' if before is not None else ""
    rows = "\n".join(f"<li>{_row(row)}</li>" for row in step.rows)
    return f"""<section class="step" id="step-{step.number}">
<h3><span class="number">{step.number}</span>{escape(step.said)}</h3>
<p class="about">{escape(step.lasts)}{back}</p>
<ul>
{rows}
</ul>
</section>"""


def _row(row: Row) -> str:
    sees = ", or ".join(LAMP.sub(_marked, escape(words)) for words in row.sees)
    to = escape(row.ends) if row.to is None else f'<a class="to" href="#step-{row.to}">{row.to}</a>'
    return f"{sees} →{STICKS}{to}"


def _marked(lamp: re.Match[str]) -> str:
    """Return a lamp's name with a mark in its colour before it."""
    colour = {"left": "red", "right": "green"}[lamp[1]] if lamp[2] == "coloured" else lamp[2]
    return f'<span class="seen"><span class="lamp {colour}" aria-hidden="true"></span>{lamp[0]}</span>'
