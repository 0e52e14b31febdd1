"""Drills in the terminal, answered by number; and what one knows by now. Whoever uses this account is one learner."""

from __future__ import annotations

import secrets
import time
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import Data, KitFolders, Weapon
from foible.cli.terminal import console, reasoning_at, todays_names
from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from foible.practice.drills import Drill
    from foible.services.practice.progress import Progress

__all__ = ["DRILLS"]

LEARNER = "learner"
"""The file in the user's own folder with the token under which they practise."""


def drill(  # long: six options and a loop of questions
    *,
    weapon: Weapon = None,
    idea: Annotated[str, typer.Option("--idea", help="About which idea; by default about each in turn.")] = "any",
    count: Annotated[int, typer.Option("--count", min=1, max=40, help="How many drills.")] = 5,
    seed: Annotated[str | None, typer.Option("--seed", help="The same word brings the same drills.")] = None,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Answer drills by number: the model makes the question and knows the one right answer."""
    from foible.services.practice.drills import drill_of, once, reason_of, result_of

    reasoning, run, right = reasoning_at(kit), seed or secrets.token_hex(3), 0
    with todays_names(kit) as given:
        known = reasoning.weapon(given.weapon(weapon) if weapon else None).name
    with _progress(data) as progress:
        learner = _learner()
        for number in range(1, count + 1):
            asked, began = drill_of(reasoning, known, idea, run, number), time.monotonic()
            _ask(asked, number, count)
            chosen = _answer(len(asked.choices))
            if chosen is None:
                count = number - 1
                break
            choice = asked.choices[chosen]
            shown = result_of(asked, run, number, right=choice.right, seconds=time.monotonic() - began)
            progress.note(learner, shown, datetime.now(UTC), token=once(learner, known, idea, run, number))
            right += choice.right
            _say("Right." if choice.right else f"Not so: {asked.right + 1} it is. {choice.because}")
            _say(f"{reason_of(reasoning, asked).text}\n")
    _say(f"{right} of {count} right. (--seed {run} brings the same ones.)")


def progress(*, weapon: Weapon = None, data: Data = None, kit: KitFolders = None) -> None:
    """Tell what you know by now, idea by idea, and what comes next."""
    from foible.services.practice.drills import drilled_weapons
    from foible.services.practice.standing import next_of, standings

    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        only = reasoning.weapon(given.weapon(weapon)).name if weapon else None
    with _progress(data) as kept:
        cards = [(card.subject, card.weapon, card.memory) for card in kept.cards(_learner())]
    weapons = [each for each in drilled_weapons(reasoning) if only in (None, each.name)]
    found = standings(cards, weapons, datetime.now(UTC))
    for each in found:
        _say(f"{each.weapon:6} {each.title:26} {each.say}")
    coming = next_of(found, {(each.subject, each.weapon) for each in found})
    if coming:
        _say(f"\nNext: foible practise drill --weapon {coming.weapon} --idea {coming.subject}")


DRILLS: dict[str, Callable[..., None]] = {"drill": drill, "progress": progress}
"""The commands, by their names in the terminal."""


@contextmanager
def _progress(data: str | None) -> Iterator[Progress]:
    """Open what learners have shown, and close it again."""
    from foible.records import Database
    from foible.services.opening import data_url
    from foible.services.practice.progress import Progress

    database = Database(data_url(data))
    try:
        yield Progress(database)
    finally:
        database.dispose()


def _learner() -> str:
    """Return the token under which whoever uses this account practises; it is made when first needed."""
    from foible.services.opening import data_url
    from foible.services.practice.progress import new_token

    path = Path(data_url(None).removeprefix("sqlite:///")).with_name(LEARNER)
    try:
        if not path.exists():
            path.touch(mode=0o600)
            path.write_text(new_token(), encoding="utf-8")
        token = path.read_text(encoding="utf-8").strip()
    except OSError as error:
        seen = f"{path} cannot be used ({error.strerror})"
        raise InputError(seen=seen, remedy="allow Foible to write there: it keeps under which name you practise") from error
    if not token:
        path.unlink()
        return _learner()
    return token


def _ask(asked: Drill, number: int, count: int) -> None:
    _say(f"{number} of {count} · {asked.weapon} · {asked.title}")
    for line in asked.given:
        _say(line)
    _say(asked.question)
    for place, choice in enumerate(asked.choices, start=1):
        _say(f"  {place}  {choice.words}")


def _answer(choices: int) -> int | None:
    """Return the choice taken, from 0; None where nobody answers any more."""
    while True:
        try:
            given = console().input(f"1 to {choices}: ").strip()
        except (EOFError, KeyboardInterrupt):
            _say("")
            return None
        if given.isdecimal() and 1 <= int(given) <= choices:
            return int(given) - 1
        _say(f"“{given[:20]}” is no choice: type a number from 1 to {choices}.")


def _say(text: str) -> None:
    from foible.output.words import held_words

    console().print(held_words(text), markup=False, highlight=False, soft_wrap=True)
