"""The top of a case file: weapon, complaint and side asked for, by number or in words; title, piste, fencer, fittings changed."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

from foible.errors import InputError, UnknownNameError
from foible.kit import SIDES, plain
from foible.services.fitting import fitted_named
from foible.trials import case_text, former_names, headed_text, load_complaints

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    from foible.services.reasoning import Reasoning

    Ask = Callable[[str], str | None]
    Say = Callable[[str], None]

__all__ = ["begun_text", "described_text", "unused_file"]

COLOURS = {"red": "left", "green": "right"}
"""The lamps that stand for a side."""


def unused_file(folder: Path) -> Path:
    """Return the name of a case file that a folder does not have yet: case.toml, case-2.toml and so on."""
    names = (folder / ("case.toml" if number == 1 else f"case-{number}.toml") for number in range(1, 10_000))
    return next(path for path in names if not path.exists())


def begun_text(reasoning: Reasoning, ask: Ask, say: Say) -> str:
    """Return the text of a case file that begins with what is answered.

    A complaint of the list, with the side whose it is, is the first trial; other words are kept as they are.
    """
    weapon = _weapon(reasoning, ask, say)
    setup = reasoning.setup(weapon)
    complaints = [complaint.say for complaint in load_complaints(setup, SIDES[0])]
    words = _chosen("What does the fencer say: a number, words of your own, or Enter? ", complaints, ask, say) or ""
    head: dict[str, object] = {"weapon": setup.weapon, "names": former_names(reasoning.overlays).version}
    if words not in complaints:
        return case_text({"title": words or "Case", **head, "complaint": words}, [])
    side = _side(ask, say)
    if side is None:
        return case_text({"title": words, **head, "complaint": words}, [])
    table = next(complaint.table for complaint in load_complaints(setup, side) if complaint.say == words)
    title = f"{setup.weapon.capitalize()}, {side}: {words}"
    return case_text({"title": title, **head, "complaint": words}, [table.model_dump(exclude_defaults=True)])


def described_text(text: str, what: str, words: str) -> str:
    """Return the text of a case file with another title, piste or fencer, or with something else fitted. Raises InputError."""
    if what != "fitted":
        if not words and what == "title":
            raise InputError(seen="a title cannot be empty", remedy="write it behind the word: title White on the lamé")
        return headed_text(text, {what: words})
    ((side, slots),) = fitted_named([words]).items()
    if side not in SIDES:
        raise UnknownNameError(what="side", name=side, known=SIDES)
    return headed_text(text, {side: {**tomllib.loads(text).get(side, {}), **slots}})


def _weapon(reasoning: Reasoning, ask: Ask, say: Say) -> str:
    """Return the weapon that is chosen; the usual one where nobody says. Raises UnknownNameError for any other word."""
    weapons = [weapon.name for weapon in reasoning.weapons()]
    answer = _chosen(f"Which weapon: a number or its name (Enter for {weapons[0]})? ", weapons, ask, say)
    return reasoning.weapon(answer or weapons[0]).name


def _side(ask: Ask, say: Say) -> str | None:
    """Return the side of the fencer who complains; None where the input ends."""
    while True:
        answer = ask(f"Who says it: {', '.join(f'{number} {side}' for number, side in enumerate(SIDES, start=1))}? ")
        if answer is None:
            return None
        named = _by_number(answer, SIDES) or COLOURS.get(answer.lower(), answer.lower())
        if named in SIDES:
            return named
        say(f"“{answer}” is not a side: give 1 or left, 2 or right.")


def _chosen(question: str, among: Sequence[str], ask: Ask, say: Say) -> str | None:
    """Return the entry of a list that a number or its words stand for, else the words as they are; None for the end."""
    for number, entry in enumerate(among, start=1):
        say(f"{number:>3}  {entry}")
    while True:
        answer = ask(question)
        if answer is None or not answer.isdecimal():
            return next((entry for entry in among if answer and plain(entry) == plain(answer)), answer)
        if chosen := _by_number(answer, among):
            return chosen
        say(f"“{answer}” is not a number from 1 to {len(among)}.")


def _by_number(answer: str, among: Sequence[str]) -> str | None:
    number = int(answer) if answer.isdecimal() else 0
    return among[number - 1] if 1 <= number <= len(among) else None
