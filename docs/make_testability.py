"""Makes docs/testability.md: what each set of tools can tell about each weapon.

`python -m docs.make_testability` writes it in place; `page` returns it, so that a test can check that it is current.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from foible.cli.show_testability import FIGURES, mending, percentages, words
from foible.diagnosis.testability import STANDARD_SETS
from foible.services.reasoning import Reasoning

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from foible.diagnosis.testability import Figures, Testability

DOCS = Path(__file__).parent
NAME = "testability.md"
WEAPONS = ("foil", "épée", "sabre")
MOST = 10
"""Groups, and failures that are not detected, that are named for each set of tools."""

INTRODUCTION = """# What the trials can tell

Made by `docs/make_testability.py` from the kit files and the catalogues of trials; `foible testability` prints the same.

How much of what can fail do the tools at hand show, and how far do they tell it apart? The terms are those of IEEE Std 1522
(from memory): FFD, the fraction of faults detected, and FFI, the fraction of faults isolated, here as shares of all failures,
weighted by rate.

- A failure is one mode of one part at one severity, steady or coming and going. Its weight is its rate in the kit files.
- A trial **tells apart** two failures if the total variation distance between what it shows under one and under the other is at
  least 0.5: made once, it tells them apart at least as often as not (judgement, no source).
- A failure is **detected** if some available trial tells it from sound kit.
- It is **isolated to one item** (part, repair) if it is detected and some available trial tells it from every failure of every
  other item (part, repair). “≤ 2” and “≤ 3” mean that at most two or three items (parts, repairs) are left. Divided by
  “detected”, the figures are shares of the failures detected, which is how some define FFI.
- An **ambiguity group** is a set of failures of which no two are told apart. If one repair mends them all, that does not
  matter.

This is strict: one rare failure elsewhere that shows nearly the same, at a severity where the rule leaves it open whether the
lamp lights, is enough for a failure not to count as isolated. How probable that failure is plays no part here; in a case it does.

All trials of the catalogue count, at the piste and on the bench for each item. A trial on the bench is about its own item and
what both sides share: under a failure of another item it shows what sound kit shows, so an item found to have nothing wrong is
cleared. Repeating a trial would tell more, and so would making a repair and looking again; neither is counted. A failure that
comes and goes counts under the trial that provokes it most.

“Lamps only” is the scoring apparatus at the piste; “eye” adds looking and feeling, at the piste and on the bench. Each of the
next three sets adds one tool to these two, then come all three together, and finally weight, shims and the hand tools that open
a point, a plug or a grip. The right side mirrors the left: failures are named for the left, and their shares count both sides.
The rates are those of the kit files, and many are judgement; take the figures as a comparison of tools and weapons, not as
promises.
"""
JSON = """## JSON

`foible testability --json` prints one object with the `schema` `foible.testability/1`, `weapon` and `sets[]`:

| key | meaning |
| --- | --- |
| `tools` | what is at hand besides the lamps |
| `share` | the share of all failures that the figures are about; here 1 |
| `detected` | FFD, between 0 and 1 |
| `to_item`, `to_part`, `to_repair` | FFI to at most 1, 2 and 3 |
| `split` | the same five keys under `steady`, `often` (coming and going) and `seldom` |
| `groups[]` | `share`, `failures`, `items`, `parts`, `repairs`, `same_repair`; as many groups as `--groups` asks for |
| `undetected[]` | `failure`, `share`; as many again |
"""


def page(weapons: Mapping[str, Mapping[str, Testability]]) -> str:
    """Return the page, from what each set of tools tells of the failures of each weapon."""
    sections = [INTRODUCTION]
    for weapon, made in weapons.items():
        sections += ["\n".join(_weapon(weapon, made)) + "\n"]
    return "\n".join([*sections, JSON])


def _weapon(weapon: str, made: Mapping[str, Testability]) -> Iterator[str]:
    yield f"## {weapon.capitalize()}\n"
    yield "Share of all failures [%]:\n"
    yield from _table(["at hand", *FIGURES], [[name, *percentages(known.overall)] for name, known in made.items()])
    yield "\nThe same for failures that are steady, that come and go often, and that come and go seldom, each [%]:\n"
    split = [[name, *(cell for of in known.split.values() for cell in _short(of))] for name, known in made.items()]
    first = next(iter(made.values())).split
    headings = [f"{activity.name.lower()}: {what}" for activity in first for what in ("detected", "item", "part", "repair")]
    yield from _table(["at hand", *headings], split)
    for name, known in made.items():
        yield f"\n### {weapon.capitalize()}, {name}\n"
        rows = [[f"{100 * group.share:.1f}", words(group.failures), mending(group)] for group in known.groups[:MOST]]
        yield from _table(["%", "not told apart", "to mend"], rows)
        hidden = known.undetected[:MOST]
        left = sum(share for _, share in known.undetected[MOST:])
        named = "; ".join(f"{words([failure])} {100 * share:.2f}" for failure, share in hidden)
        yield f"\nNot detected [%]: {named}; all others together {100 * left:.2f}."


def _short(of: Figures) -> list[str]:
    shares = percentages(of)
    return [shares[0], *shares[1::3]]


def _table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    yield f"| {' | '.join(headings)} |"
    yield "| " + " | ".join("---" for _ in headings) + " |"
    for row in rows:
        yield f"| {' | '.join(row)} |"


if __name__ == "__main__":
    reasoning = Reasoning()
    path = (Path(sys.argv[1]) if len(sys.argv) > 1 else DOCS) / NAME
    path.write_text(page({weapon: reasoning.testability(weapon, STANDARD_SETS) for weapon in WEAPONS}), encoding="utf-8")
    print(path)
