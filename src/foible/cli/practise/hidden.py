"""`foible practise fault`: a fault is hidden, and whoever practises looks for it line by line; then the talk about it."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import KitFolders, Weapon
from foible.cli.terminal import console, reasoning_at, todays_names
from foible.errors import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from foible.practice import Attempt, Done, Step
    from foible.services.practice.talk import Talk
    from foible.services.reasoning import Reasoning

__all__ = ["HIDDEN", "fault"]

NUMBERS = 1_000_000
HELP = """Say the name of an item (“left cord”) to see what can be done at it, and a number to do it.
“again” does what the fencer did; “it is left cord”, “it is left cord clip bite” or “it is nothing” names it;
“talk” ends; an empty line lists the items."""


def fault(
    weapon: Weapon = None,
    level: Annotated[str, typer.Option(help="steady, comes-and-goes, two, nothing or told-wrongly.")] = "steady",
    number: Annotated[int | None, typer.Option(min=0, help="Which one: the same number hides the same fault.")] = None,
    kit: KitFolders = None,
) -> None:
    """Look for a hidden fault: make trials, name it, prove it; then talk about every step."""
    from foible.output.words import duration_words
    from foible.practice import Attempt, level_named
    from foible.services.practice.strip import hidden_at
    from foible.services.practice.talk import talk_about

    reasoning, out = reasoning_at(kit), console()
    which = str(secrets.randbelow(NUMBERS) if number is None else number)
    with todays_names(kit) as given:
        known = reasoning.weapon(given.weapon(weapon) if weapon else None).name
    found = hidden_at(reasoning, known, level_named(level).value, which)
    attempt = Attempt(found, reasoning.ideas(found.setup), ())
    told = f"“{found.complaint.say}”, says the fencer on the {found.complaint.side}." if found.complaint else ""
    out.print(told or f"The {found.item} is on the bench. Nobody complains.")
    out.print(HELP, style="dim")
    while True:
        try:
            said = " ".join(out.input(f"[bold]{attempt.trials_made} trials, {duration_words(attempt.seconds)}>[/] ").split())
        except EOFError:
            break
        if said == "talk":
            break
        try:
            attempt = _after(out, reasoning, attempt, said)
        except InputError as error:
            out.print(f"{error.seen}: {error.remedy}.")
    _tell(out, talk_about(reasoning, attempt))
    out.print(
        f"The same fault: foible practise fault --weapon {found.setup.kind.word} --level {level} --number {which}", style="dim"
    )


def _after(console: Console, reasoning: Reasoning, attempt: Attempt, said: str) -> Attempt:
    """Return the attempt after a line; what only asks leaves it as it is. Raises InputError."""
    from foible.practice import Deed, Step
    from foible.services.practice.plans import told_again
    from foible.services.practice.strip import doable_at

    setup = attempt.setup
    if said == "again":
        place = told_again(attempt.hidden, attempt.ideas)
        if place is None:
            raise InputError(seen="there is no trial that does what the fencer did", remedy="say an item, and choose what to do")
        return _made(console, reasoning, attempt, Step(Deed.TRIAL, place))
    if said.startswith("it is "):
        return _made(console, reasoning, attempt, _naming(attempt, said.removeprefix("it is ")))
    item, _, number = said.rpartition(" ")
    if number.isdigit() and item:
        steps = [step for _, group in doable_at(attempt, setup.items.name(item)).groups for step, _ in group]
        if not 1 <= int(number) <= len(steps):
            raise InputError(seen=f"there is no number {number} at the {item}", remedy=f"say “{item}” for the list")
        return _made(console, reasoning, attempt, steps[int(number) - 1])
    if not said:
        console.print(", ".join(each.id for each in setup.items.values() if not each.tool))
        return attempt
    counted = 0
    name = setup.items.name(said)
    for group, listed in doable_at(attempt, name).groups:
        console.print(group, style="bold")
        for _, say in listed:
            counted += 1
            console.print(f"  {name} {counted}: {say}", highlight=False)
    return attempt


def _naming(attempt: Attempt, name: str) -> Step:
    from foible.practice import Deed, Step

    if name in {"nothing", "nothing wrong"}:
        return Step(Deed.NAME, 0)
    setup = attempt.setup
    items = list(setup.items)
    if name in setup.parts:
        part = setup.parts.name(name)
        return Step(Deed.NAME, items.index(setup.parts[part].item) + 1, list(setup.parts).index(part))
    return Step(Deed.NAME, items.index(setup.items.name(name)) + 1)


def _made(console: Console, reasoning: Reasoning, attempt: Attempt, step: Step) -> Attempt:
    from foible.practice import written_steps
    from foible.services.practice.strip import attempt_at

    after = attempt_at(reasoning, attempt.hidden, written_steps((*attempt.steps, step)))
    console.print(_came(after.done[-1]), highlight=False)
    return after


def _came(done: Done) -> str:
    table = done.table
    told = (*table.saw, *table.found, *table.lights, *((table.reads,) if table.reads else ())) if table else ()
    return f"{done.say}: {', '.join(told)}" if told else f"{done.say}."


def _tell(console: Console, talk: Talk) -> None:
    from foible.output.words import duration_words, percent, telling_words

    result, faults = talk.judged, talk.attempt.hidden.faults
    console.print("Right." if result.right else "Not right.", style="bold")
    console.print(f"What was wrong: {' and '.join(each.failure.id for each in faults) or 'nothing'}.", highlight=False)
    console.print(f"{talk.points} of 100 points.")
    for flaw in talk.flaws:
        console.print(f"Watch: {flaw.words}", highlight=False)
    for number, line in enumerate(talk.lines, start=1):
        console.print(f"{number}. {_came(line.done)}", highlight=False)
        if line.done.idea:
            console.print(f"   could tell {telling_words(line.bits)}", highlight=False)
        if line.best:
            console.print(f"   better: {line.best}{f': {line.why}' if line.why else ''}", highlight=False)
        console.print(
            f"   known by then: {', '.join(f'{name} {percent(share)}' for name, share in line.standing)}", highlight=False
        )
    for plan in talk.plans:
        console.print(f"{plan.who}: {plan.trials} trials, {duration_words(plan.seconds)}", highlight=False)


HIDDEN = {"fault": fault}
"""The command, by its name in the terminal."""
