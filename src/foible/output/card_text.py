"""A decision tree in; out the field card in words, and as plain text.

`card_of` numbers the trials of a tree and puts everything into sentences; the text, the page and the PDF print the same `Card`.
"""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.diagnosis import DECIDED, Leaf, Question
from foible.kit import job_parts
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.diagnosis import Tree, Way
    from foible.kit import Setup

__all__ = ["Card", "Row", "Step", "card_of", "card_text"]

STICKS = "\N{NO-BREAK SPACE}"
"""Stands between a figure and what it belongs to."""
WIDTH = 100
"""Columns of the text."""
MOST_BETWEEN = 4
"""Undecided sets of names that the head of a card lists."""
MINUTES_FROM = 100
"""From this many seconds on, a time is given in minutes [s]."""
NOTHING_LISTED = "anything else"
OFFICIALS = "Foible advises; the officials decide."
GENTLY = (
    "Twist, tug and bend gently, and never a broken blade.",
    "Never open the apparatus or its supply.",
)
"""True for every card; common practice, no source."""
MASK = "A mask whose mesh is dented, rusty or loose is taken out of use, not mended."
"""For cards that name one; common practice, no source."""
STAYS = "Whatever a step exchanges or mends stays that way in the steps that follow."
COLOURS = "Coloured is red on the left and green on the right."
CHANGING = "“Changing” means that a lamp flickers, or lights one time and not the next."
READING = re.compile(r"(?:under )?([\d.]+)(?: to ([\d.]+))? Ω")


@dataclass(frozen=True, slots=True)
class Row:
    """What can be seen in a trial, and where that leads."""

    sees: tuple[str, ...]
    """Any of these."""
    to: int | None
    """The step to go on with; None at an end."""
    ends: str
    """What an end says; empty where a step follows."""


@dataclass(frozen=True, slots=True)
class Step:
    """A numbered trial with what can be seen in it."""

    number: int
    said: str
    """The trial as a request, with “once more” in front where it is a repeat."""
    lasts: str
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Card:
    """Everything that a card says, in words."""

    title: str
    facts: tuple[tuple[str, str], ...]
    """What the card is for and how well it does, each fact with its label."""
    steps: tuple[Step, ...]
    outright: str
    """What to assume the fault is where there is no trial; empty where there is one."""
    reading: tuple[str, ...]
    """How to read the card, in whole sentences."""
    cautions: tuple[str, ...]
    """The last one says who decides."""


def card_of(setup: Setup, tree: Tree) -> Card:
    """Return a tree of a set-up's trials as a card."""
    steps = tuple(_steps(tree))
    place = "at the piste" if tree.mode is Mode.PISTE else f"{tree.item} on the bench"
    return Card(
        title=f"Field card: {setup.weapon}, {place}",
        facts=tuple(_facts(tree)),
        steps=steps,
        outright=f"No trial is worth making in this time → {_end(tree.root, tree.item)}" if isinstance(tree.root, Leaf) else "",
        reading=tuple(_reading(tree, steps)),
        cautions=(*GENTLY, *_cautions(setup, tree), OFFICIALS),
    )


def card_text(card: Card, width: int = WIDTH) -> str:
    """Return a card as plain text, no line longer than `width` columns."""
    label = max(len(name) for name, _ in card.facts) + 2
    lines = [card.title, "=" * min(len(card.title), width), ""]
    for name, fact in card.facts:
        lines += _wrapped(fact, width, f"{name + ':':<{label}}")
    lines += ["", *_wrapped(" ".join(card.reading), width), ""]
    if card.outright:
        lines += [*_wrapped(card.outright, width), ""]
    number = len(str(len(card.steps)))
    for step in card.steps:
        lines += _wrapped(f"{step.said} · {step.lasts}", width, f"{step.number:>{number}}  ")
        for row in step.rows:
            target = row.ends if row.to is None else str(row.to)
            lines += _wrapped(f"{', or '.join(row.sees)} → {target}", width, " " * (number + 4), hang=4)
        lines.append("")
    for caution in card.cautions:
        lines += _wrapped(caution, width)
    return "\n".join(lines) + "\n"


def _wrapped(text: str, width: int, before: str = "", hang: int = 0) -> list[str]:
    return textwrap.wrap(
        text,
        width,
        initial_indent=before,
        subsequent_indent=" " * (len(before) + hang),
        break_long_words=False,
        break_on_hyphens=False,
    )


# --- the words --------------------------------------------------------------------------------------------------------


def _facts(tree: Tree) -> Iterator[tuple[str, str]]:
    yield "tools", ", ".join(tree.tools) or "none"
    yield "time", f"at most {_lasting(tree.budget_s)} of trials, {_lasting(tree.expected_s)} on average"
    yield "right", f"the first name is right in {_share(tree.right)} of cases"
    listed = [
        f"{_any([_named(name, tree.item) for name in names])}{STICKS}{_share(share)}"
        for names, share in tree.between[:MOST_BETWEEN]
    ]
    listed += ["and others"] if len(tree.between) > MOST_BETWEEN else []
    undecided = f"{_share(tree.undecided)} of cases" if tree.undecided else "none"
    yield "undecided", undecided + (f", between: {'; '.join(listed)}" if listed else "")


def _steps(tree: Tree) -> Iterator[Step]:
    questions = tree.questions()
    number = {id(question): i for i, question in enumerate(questions, start=1)}
    for question in questions:
        said = f"once more: {question.idea.say}" if question.again else question.idea.say
        rows = tuple(_row(way, number.get(id(way.node)), tree.item) for way in question.ways)
        yield Step(number[id(question)], said, _lasting(question.idea.seconds), rows)


def _row(way: Way, to: int | None, item: str | None) -> Row:
    sees = tuple(_readings(way.words)) or (NOTHING_LISTED,)
    return Row(sees, to, _end(way.node, item) if isinstance(way.node, Leaf) else "")


def _end(leaf: Leaf, item: str | None) -> str:
    """Return what an end says: what to act on, which names remain, or that it is better to ask."""
    aims = ", ".join(f"{_named(name, item)}{STICKS}{_share(share)}" for name, share in leaf.aims)
    if leaf.rare:
        return f"ask Foible; so far {aims}"
    return aims if leaf.decided else f"undecided: {aims}"


def _named(aim: str, item: str | None) -> str:
    """Return an aim without the item that the whole card is about."""
    about, repair = job_parts(aim)
    return repair if repair and about == item else aim


def _readings(words: Sequence[str]) -> list[str]:
    """Return outcomes with neighbouring meter ranges joined: “0.5 to 1 Ω” and “1 to 2 Ω” as “0.5 to 2 Ω”."""
    drawn: list[str] = []
    for word in words:
        before, now = (READING.fullmatch(drawn[-1]) if drawn else None), READING.fullmatch(word)
        if before and now and now[2] and now[1] == (before[2] or before[1]):
            drawn[-1] = f"{before[1]} to {now[2]} Ω" if before[2] else f"under {now[2]} Ω"
        else:
            drawn.append(word)
    return drawn


def _reading(tree: Tree, steps: Sequence[Step]) -> Iterator[str]:
    if steps:
        yield "Start at step 1, do what it says, and go on where the arrow points."
    named = "the item at fault" if tree.mode is Mode.PISTE else "the repair it needs"
    yield f"After each arrow stands {named}, with its probability; below {DECIDED:.0%} it is undecided."
    words = [word for step in steps for row in step.rows for word in row.sees]
    if any("coloured" in word for word in words):
        yield COLOURS
    if any("changing" in word for word in words):
        yield CHANGING
    changing = [question for question in tree.questions() if question.idea.trial.swapped or question.idea.repair]
    if any(isinstance(way.node, Question) for question in changing for way in question.ways):
        yield STAYS


def _cautions(setup: Setup, tree: Tree) -> dict[str, None]:
    """Return the cautions for the repairs and items that a card names, each once."""
    named = [aim for leaf in tree.leaves() for aim, _ in leaf.aims] + [
        question.idea.repair or "" for question in tree.questions()
    ]
    repairs = [setup.repairs[name] for _, name in map(job_parts, named) if name in setup.repairs]
    masks = [MASK] if any(aim.endswith(" mask") for aim in named) else []
    return dict.fromkeys([*masks, *(caution for repair in repairs for caution in repair.cautions)])


def _any(names: Sequence[str]) -> str:
    return " and ".join([", ".join(names[:-1]), names[-1]]) if len(names) > 1 else names[0]


def _share(share: float) -> str:
    """Return a share in per cent, never 0 or 100."""
    return "under 1%" if share < 0.005 else "over 99%" if share >= 0.995 else f"{share:.0%}"  # noqa: PLR2004 — half a hundredth


def _lasting(seconds: float) -> str:
    return f"{seconds / 60:.3g}{STICKS}min" if seconds >= MINUTES_FROM else f"{seconds:.0f}{STICKS}s"
