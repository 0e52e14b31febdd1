"""An item on the bench: what pages call it, what can lie there, and a case that begins with what a gauge has shown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError, UnknownNameError
from foible.kit import SIDES
from foible.records import EntryKind, NewEntry
from foible.services.cases import dumped
from foible.trials import read_trial, report_key, reported

if TYPE_CHECKING:
    from collections.abc import Iterable

    from foible.kit import Setup
    from foible.services.cases import Cases
    from foible.trials import Idea

__all__ = ["first_failed", "gauges_of", "lying", "thing_words", "this_words"]

NO_KIT = ("handling", "tools")
"""Kinds of item that nobody lays on a bench."""
CORD = "cord"


def thing_words(setup: Setup, item: str) -> str:
    """Return what an item is called without its side: “foil”, “body cord”, “reel”."""
    known = setup.items[item]
    if known.kind == "weapon":
        return setup.weapon
    return "body cord" if known.kind == CORD else known.kind


def lying(setup: Setup) -> tuple[tuple[str, str], ...]:
    """Return what can lie on the bench, as item and words; of each pair the first side's, for on the bench there is one."""
    items = (item for item in setup.items.values() if item.kind not in NO_KIT and item.side in {None, SIDES[0]})
    order = sorted(items, key=lambda item: item.kind not in {"weapon", CORD})
    return tuple((item.id, thing_words(setup, item.id)) for item in order)


def gauges_of(ideas: Iterable[Idea], item: str) -> tuple[tuple[str, Idea], ...]:
    """Return the gauges that can be tried on an item on the bench, each with its trial."""
    return tuple((idea.trial.gauge[1], idea) for idea in ideas if idea.item == item and idea.trial.gauge)


def first_failed(cases: Cases, weapon: str, say: str, *, token: str, by: str = "") -> tuple[str, NewEntry]:
    """Return the item on the bench, and the entry with which its case begins: a gauge, named by its trial, failed.

    Raises UnknownNameError, and ProblemsError with all that is wrong.
    """
    setup = cases.reasoning.setup(weapon)
    known = {idea.say: idea for idea in cases.reasoning.ideas(setup) if idea.item}
    if say not in known:
        raise UnknownNameError(what="trial on the bench", name=say, known=known)
    idea = known[say]
    table = reported(idea.table, report_key(idea), ("fails",))
    _, wrong = read_trial(setup, table)
    if wrong:
        raise ProblemsError([Problem("your answer", None, error.seen, error.remedy) for _, error in wrong])
    return idea.item or "", NewEntry(EntryKind.TRIAL, token, say=say, trial=dumped(table), by=by, names=cases.names)


def this_words(text: str, setup: Setup, item: str | None) -> str:
    """Return a sentence about an item on the bench, where there is one of it and no side: “this foil”."""
    if not item or item not in setup.items or setup.items[item].side is None:
        return text
    side, thing = setup.items[item].side, thing_words(setup, item)
    if text == item:
        return f"this {thing}"
    text = text.removeprefix("tools ")
    own = sorted((part.removeprefix(f"{item} ") for part in setup.parts if part.startswith(f"{item} ")), key=len, reverse=True)
    if own:
        text = re.sub(rf"\b{item} (?=(?:{'|'.join(map(re.escape, own))})\b)", "", text)
    names = "|".join(re.escape(name) for name in dict.fromkeys((thing, setup.items[item].kind)))
    text = re.sub(rf"\b(?:the )?{side} (?:{names})\b", f"this {thing}", text)
    return re.sub(rf"\b{side} (?=\w)", "", text)
