"""Decision trees in; out the field card in words, and as plain text.

`card_of` numbers the trials of all trees and puts everything into sentences; text, page and PDF print the same `Card`.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

from foible.diagnosis import DECIDED, Leaf, Question
from foible.kit import job_parts
from foible.output.card_words import STICKS, asked, lasting, named, readings, seen, share_of
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from foible.diagnosis import Plan, Tree, Way
    from foible.kit import Setup

__all__ = ["Branch", "Card", "Row", "Step", "card_of", "card_text"]

WIDTH = 100
"""Columns of the text."""
NOTHING_LISTED = "anything else"
OFFICIALS = "Foible advises; the officials decide."
GENTLY = (
    "Twist, tug and bend gently, and never a broken blade.",
    "Never open the apparatus or its supply.",
)
"""True for every card; common practice, no source."""
MASK = "A mask whose mesh is dented, rusty or loose is taken out of use, not mended."
"""For cards that name one; common practice, no source."""
STAYS = "Whatever a step exchanges or mends stays that way in the steps that follow; an exchange is for a known-good one."
SIDES_MEAN = (
    "“The fencer” is the one who complains, and “own” means theirs. A lamp is the one on the side named; "
    "“coloured” is red or green."
)
COLOURS = "Coloured is red on the left and green on the right."
CHANGING = "“Changing” means that a lamp flickers, or lights one time and not the next; “all along”, that it was lit before."
GOES = "“Up to 3 times” means: stop as soon as it shows anything but “each time”."


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


@dataclass(frozen=True, slots=True)
class Branch:
    """What follows one complaint."""

    said: str
    """The complaint; empty on the bench."""
    mirrored: tuple[str, ...]
    """Complaints that lead here with fencer and opponent exchanged."""
    steps: tuple[Step, ...]
    outright: str
    """What to assume the fault is where there is no trial; empty where there is one."""


@dataclass(frozen=True)
class Card:
    """Everything that a card says, in words."""

    title: str
    facts: tuple[tuple[str, str], ...]
    """What the card is for and how well it does, each fact with its label."""
    branches: tuple[Branch, ...]
    reading: tuple[str, ...]
    """How to read the card, in whole sentences."""
    cautions: tuple[str, ...]
    """The last one says who decides."""

    @property
    def steps(self) -> tuple[Step, ...]:
        """All steps, in the order of their numbers."""
        return tuple(step for branch in self.branches for step in branch.steps)

    @property
    def contents(self) -> tuple[tuple[str, str, int | None], ...]:
        """What a fencer may say, a word on who is who, and the step to begin with; None where there is none."""
        lines = []
        for branch in self.branches:
            first = branch.steps[0].number if branch.steps else None
            lines += [(branch.said, "", first)] if branch.said else []
            lines += [(said, EXCHANGED, first) for said in branch.mirrored]
        return tuple(lines)


EXCHANGED = "with fencer and opponent the other way round"
"""On a complaint that leads to the steps of another one."""


def card_of(setup: Setup, plan: Plan) -> Card:
    """Return the trees of a set-up's trials as a card."""
    numbers = count(1)
    branches = tuple(_branch(tree, plan, numbers) for tree in plan.trees)
    place = "at the piste" if plan.mode is Mode.PISTE else f"{plan.item} on the bench"
    return Card(
        title=f"Field card: {setup.weapon}, {place}",
        facts=tuple(_facts(plan)),
        branches=branches,
        reading=tuple(_reading(plan, branches)),
        cautions=(*GENTLY, *_cautions(setup, plan), OFFICIALS),
    )


def card_text(card: Card, width: int = WIDTH) -> str:
    """Return a card as plain text, no line longer than `width` columns."""
    label = max(len(name) for name, _ in card.facts) + 2
    lines = [card.title, "=" * min(len(card.title), width), ""]
    for name, fact in card.facts:
        lines += _wrapped(fact, width, f"{name + ':':<{label}}")
    lines += ["", *_wrapped(" ".join(card.reading), width), ""]
    for said, turned, to in card.contents:
        lines += _wrapped(f"“{said}”{f' ({turned})' if turned else ''}{f' → {to}' if to else ''}", width, "  ", hang=4)
    lines += [""] if card.contents else []
    number = len(str(len(card.steps)))
    for branch in card.branches:
        if branch.said:
            lines += [*_wrapped(f"“{branch.said}”", width), "-" * min(len(branch.said) + 2, width)]
        if branch.outright:
            lines += [*_wrapped(branch.outright, width), ""]
        for step in branch.steps:
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


def _facts(plan: Plan) -> Iterator[tuple[str, str]]:
    yield "tools", ", ".join(plan.tools) or "none"
    if plan.facts:
        yield "place", ", ".join(plan.facts)
    yield "time", f"at most {lasting(plan.budget_s)} of trials, {lasting(plan.expected_s)} on average"
    yield "right", f"the first name is right in {share_of(plan.right)} of cases, as far as Foible's model goes"
    yield "undecided", f"{share_of(plan.undecided)} of cases" if plan.undecided else "none"


def _branch(tree: Tree, plan: Plan, numbers: Iterator[int]) -> Branch:
    outright = ""
    if isinstance(tree.root, Leaf):
        outright = f"No trial is worth making in this time → {_end(tree.root, plan)}"
    return Branch(tree.say, tuple(said for said, _ in tree.mirrored), tuple(_steps(tree, plan, numbers)), outright)


def _steps(tree: Tree, plan: Plan, numbers: Iterator[int]) -> Iterator[Step]:
    questions = tree.questions()
    number = {id(question): i for question, i in zip(questions, numbers, strict=False)}
    for question in questions:
        said = asked(question.each.idea.say, sides=plan.mode is Mode.PISTE)
        goes = f" · up to {question.each.goes} times" if question.each.goes > 1 else ""
        rows = tuple(_row(question, way, number.get(id(way.node)), plan) for way in question.ways)
        again = "once more: " if question.again else ""
        yield Step(number[id(question)], f"{again}{said}{goes}", lasting(question.each.seconds), rows)


def _row(question: Question, way: Way, to: int | None, plan: Plan) -> Row:
    words = [
        seen(word, sides=plan.mode is Mode.PISTE) + (" each time" if word == question.each.quiet else "")
        for word in readings(way.words)
    ]
    words += [NOTHING_LISTED] if way.rest else []
    return Row(tuple(words), to, _end(way.node, plan) if isinstance(way.node, Leaf) else "")


def _end(leaf: Leaf, plan: Plan) -> str:
    """Return what an end says: what to act on, or which names remain."""
    sides = plan.mode is Mode.PISTE
    aims = ", ".join(f"{named(name, plan.item, sides=sides)}{STICKS}{share_of(share)}" for name, share in leaf.aims)
    return aims if leaf.decided else f"undecided: {aims}"


def _reading(plan: Plan, branches: Sequence[Branch]) -> Iterator[str]:
    steps = [step for branch in branches for step in branch.steps]
    questions = [question for tree in plan.trees for question in tree.questions()]
    if plan.mode is Mode.PISTE:
        yield "Begin with what the fencer says, do what the step asks, and go on where the arrow points."
        yield SIDES_MEAN
    elif steps:
        yield "Start at step 1, do what it says, and go on where the arrow points."
    at_fault = "the item at fault" if plan.mode is Mode.PISTE else "the repair it needs"
    yield f"A name after an arrow is {at_fault}, with its probability; undecided, below {DECIDED:.0%}: try the names in turn."
    words = [word for step in steps for row in step.rows for word in row.sees]
    if plan.mode is Mode.BENCH and any("coloured" in word for word in words):
        yield COLOURS
    if any("changing" in word for word in words):
        yield CHANGING
    if any(question.each.goes > 1 for question in questions):
        yield GOES
    if any(question.each.acts >= 0 for question in questions):
        yield STAYS


def _cautions(setup: Setup, plan: Plan) -> dict[str, None]:
    """Return the cautions for the repairs and items that a card names, each once."""
    trees = plan.trees
    called = [aim for tree in trees for leaf in tree.leaves() for aim, _ in leaf.aims]
    called += [question.each.idea.repair or "" for tree in trees for question in tree.questions()]
    repairs = [setup.repairs[name] for _, name in map(job_parts, called) if name in setup.repairs]
    masks = [MASK] if any(aim.endswith(" mask") for aim in called) else []
    return dict.fromkeys([*masks, *(caution for repair in repairs for caution in repair.cautions)])
