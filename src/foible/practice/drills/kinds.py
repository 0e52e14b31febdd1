"""A pool in; out, one drill of a kind: the right choice is the model's, and every other one is wrong by the model too.

Each function draws at random and returns None where what it drew makes no good question; whoever asks tries again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.practice.drills.drill import CHOICES, Choice, Drill, fault_words, mixed, see_words
from foible.practice.drills.pools import kind_table
from foible.practice.drills.sights import BANDS, BROUGHT, HARDLY

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from random import Random

    from foible.kit import Failure
    from foible.practice.drills.pools import Pool
    from foible.trials import Idea

__all__ = ["MAKERS"]

WRONG = CHOICES - 1
LEFT_ALONE = 0.2
"""Of the readings that a fault leaves alone, so many are asked; judgement."""


def lamps(pool: Pool, rng: Random) -> Drill | None:
    """Ask which lamps light in a trial with a fault."""
    place = rng.randrange(len(pool.trials))
    idea, groups = pool.trials[place], pool.groups(place)
    answer, failure = _telling(pool, place, rng)
    if failure is None:
        return None
    others = {seen: f"That is what {fault_words(of[0])} would show." for seen, of in groups.items() if seen != answer}
    sound = pool.sights.seen(idea, None)
    if sound is not None and sound != answer:
        others[sound] = "That is what sound kit shows."
    wrong = [Choice(_lamp_words(seen), right=False, because=why) for seen, why in others.items()]
    rng.shuffle(wrong)
    wrong += [
        Choice(_lamp_words(seen), right=False, because=f"Here {see_words(answer)}.")
        for seen in _toggled(pool, answer, rng)
        if seen not in others
    ]
    if len(wrong) < WRONG:
        return None
    right = Choice(_lamp_words(answer), right=True, because="")
    given = (f"Fault: {fault_words(failure)}.", f"You {idea.say}.")
    choices = mixed(rng, right, wrong[:WRONG])
    return _drill(pool, "lamps", given, "Which lamp lights?", choices, (idea, (failure,)), (idea.say, failure.id))


def meter(pool: Pool, rng: Random) -> Drill | None:
    """Ask in which band a meter reads on an item with a fault."""
    failure = rng.choice(pool.failures)
    fitting = [idea for idea in pool.meters if idea.item == failure.item]
    if not fitting:
        return None
    idea = rng.choice(fitting)
    answer = pool.sights.seen(idea, failure)
    sound = pool.sights.seen(idea, None)
    if answer is None or (answer == sound and rng.random() > LEFT_ALONE):
        return None
    because = {True: "", False: f"With this fault it reads {answer}{'' if sound is None else f'; sound, {sound}'}."}
    choices = tuple(Choice(words, right=words == answer, because=because[words == answer]) for words, _, _ in BANDS)
    given = (f"On the bench, by itself: the {failure.item}.", f"Fault: {fault_words(failure)}.", f"You {idea.say}.")
    question = "What does the meter read?"
    return _drill(pool, "meter", given, question, choices, (idea, (failure,)), (idea.say, failure.id))


def culprit(pool: Pool, rng: Random) -> Drill | None:
    """Ask which of four faults shows what was seen."""
    place = rng.randrange(len(pool.trials))
    idea, groups = pool.trials[place], pool.groups(place)
    answer, failure = _telling(pool, place, rng)
    if failure is None:
        return None
    others = [(other, seen) for seen, of in groups.items() if seen != answer for other in of if other.part != failure.part]
    wrong = _near(failure, others, rng)
    if len(wrong) < WRONG:
        return None
    choices = mixed(
        rng,
        Choice(_suspect(pool, failure), right=True, because=""),
        [Choice(_suspect(pool, other), right=False, because=f"With it, {see_words(seen)}.") for other, seen in wrong],
    )
    given = (f"You {idea.say}.", f"What you see: {see_words(answer)}.")
    question = "One of these has failed. Which?"
    return _drill(pool, "culprit", given, question, choices, (idea, (failure,)), (idea.say, answer, failure.id))


def innocent(pool: Pool, rng: Random) -> Drill | None:
    """Ask which of four faults does not show what was seen."""
    place = rng.randrange(len(pool.trials))
    idea, groups = pool.trials[place], pool.groups(place)
    answers = [seen for seen, of in groups.items() if len({each.part for each in of}) >= WRONG]
    if not answers or len(groups) < 2:  # noqa: PLR2004 — one that could and one that could not
        return None
    answer = rng.choice(answers)
    odd, seen = rng.choice([(other, shown) for shown, of in groups.items() if shown != answer for other in of])
    wrong = _near(odd, [(other, answer) for other in groups[answer] if other.part != odd.part], rng)
    if len(wrong) < WRONG:
        return None
    choices = mixed(
        rng,
        Choice(_suspect(pool, odd), right=True, because=f"With it, {see_words(seen)}."),
        [Choice(_suspect(pool, other), right=False, because=f"With it, {see_words(answer)}: it can be.") for other, _ in wrong],
    )
    given = (f"You {idea.say}.", f"What you see: {see_words(answer)}.")
    question = "Three of these could have done that. Which cannot?"
    return _drill(pool, "innocent", given, question, choices, (idea, (odd,)), (idea.say, answer, odd.id))


def split(pool: Pool, rng: Random) -> Drill | None:
    """Ask which of four trials shows two faults apart."""
    place = rng.randrange(len(pool.trials))
    idea, groups = pool.trials[place], pool.groups(place)
    if len(groups) < 2:  # noqa: PLR2004 — two to tell apart
        return None
    first, second = rng.sample(list(groups), 2)
    one, two = rng.choice(groups[first]), rng.choice(groups[second])
    if one.part == two.part or pool.sights.setup.items[one.item].side != pool.sights.setup.items[two.item].side:
        return None
    wrong: list[tuple[Idea, str]] = []
    for other in rng.sample(pool.trials, len(pool.trials)):
        seen = pool.sights.seen(other, one)
        if seen is not None and seen == pool.sights.seen(other, two):
            wrong.append((other, seen))
        if len(wrong) == WRONG:
            break
    else:
        return None
    apart = f"With the first, {see_words(first)}; with the second, {see_words(second)}."
    choices = mixed(
        rng,
        Choice(_capital(idea.say), right=True, because=apart),
        [Choice(_capital(other.say), right=False, because=f"With either, {see_words(seen)}.") for other, seen in wrong],
    )
    given = (f"It is one of two. First: {_suspect(pool, one)}.", f"Second: {_suspect(pool, two)}.")
    question = "Which trial tells them apart?"
    return _drill(pool, "split", given, question, choices, (idea, (one,)), (idea.say, one.id, two.id))


def reveal(pool: Pool, rng: Random) -> Drill | None:
    """Ask which of four movements brings a fault on, or which of four looks shows it."""
    moves = pool.table.seen == "moves"
    failure = rng.choice(pool.failures)
    near = [idea for idea in pool.trials if not moves or _side_of(pool, failure) in (None, idea.side)]
    shows = [idea for idea in near if _brings(pool, idea, failure, moves=moves)]
    hides = [idea for idea in near if _leaves(pool, idea, failure, moves=moves)]
    if not shows or len(hides) < WRONG:
        return None
    idea = rng.choice(shows)
    own = [other for other in hides if _item_of(pool, other) == failure.item]
    rest = [other for other in hides if other not in own]
    wrong = (rng.sample(own, min(len(own), WRONG)) + rng.sample(rest, min(len(rest), WRONG)))[:WRONG]
    brings = "hardly brings it on" if moves else "shows nothing of it"
    because = f"Then {see_words(pool.sights.seen(idea, failure) or '')}."
    choices = mixed(
        rng,
        Choice(_capital(idea.say), right=True, because=because),
        [Choice(_capital(other.say), right=False, because=f"That {brings}.") for other in wrong],
    )
    given = (f"Fault: {failure.id}{'; it comes and goes' if moves else ''}.",)
    question = "Which movement is most likely to bring it on?" if moves else "What shows it?"
    return _drill(pool, "reveal", given, question, choices, (idea, (failure,)), (idea.say, failure.id))


MAKERS: dict[str, Callable[[Pool, Random], Drill | None]] = {
    each.__name__: each for each in (lamps, meter, culprit, innocent, split, reveal)
}
"""What makes a drill, by its kind."""


def _drill(  # noqa: PLR0913, PLR0917 — a question has this many sides
    pool: Pool,
    kind: str,
    given: tuple[str, ...],
    question: str,
    choices: tuple[Choice, ...],
    shown: tuple[Idea, tuple[Failure, ...]],
    about: tuple[str, ...],
) -> Drill | None:
    if len({choice.words for choice in choices}) < CHOICES:
        return None
    weapon = pool.sights.setup.weapon
    return Drill(kind, kind_table(kind), pool.table.idea, weapon, given, question, choices, shown, about)


def _telling(pool: Pool, place: int, rng: Random) -> tuple[str, Failure | None]:
    """Return what a trial shows with a fault, and the fault: something else than sound kit shows, where anything does."""
    groups, sound = pool.groups(place), pool.sights.seen(pool.trials[place], None)
    telling = [seen for seen in groups if seen != sound]
    if not telling:
        return "", None
    failure, answer = rng.choice([(failure, seen) for seen in telling for failure in groups[seen]])
    return answer, failure


def _near(failure: Failure, others: Sequence[tuple[Failure, str]], rng: Random) -> list[tuple[Failure, str]]:
    """Return three faults of different parts, the likelier ones of the same item or side first: what is far off fools nobody."""
    drawn = rng.sample(others, len(others))
    drawn.sort(key=lambda each: (each[0].item != failure.item, each[0].item[:4] != failure.item[:4]))
    found: dict[str, tuple[Failure, str]] = {}
    own = 0
    for other, seen in drawn:
        if other.item == failure.item and own == WRONG - 1:  # one at least lies elsewhere
            continue
        own += other.item == failure.item and other.part not in found
        found.setdefault(other.part, (other, seen))
        if len(found) == WRONG:
            break
    return list(found.values())


def _toggled(pool: Pool, answer: str, rng: Random) -> list[str]:
    """Return what could light instead: every set of lamps of which no two exclude each other."""
    kind = pool.sights.setup.kind
    by_side = []
    for side in ("left", "right"):
        names = [f"{side} {lamp.names[side]}" for lamp in kind.lamps if not lamp.optional]
        by_side.append(["", *names])
    sets = [" and ".join(filter(None, (one, two))) or "no lamp" for one in by_side[0] for two in by_side[1]]
    return [each for each in rng.sample(sets, len(sets)) if each != answer]


def _brings(pool: Pool, idea: Idea, failure: Failure, *, moves: bool) -> bool:
    """Return whether a trial shows a fault for sure, as it would not show sound kit."""
    seen, sound = pool.sights.seen(idea, failure), pool.sights.seen(idea, None)
    if seen is None or sound is None or seen == sound:
        return False
    return not moves or (pool.sights.stirred(idea, failure) or 0.0) >= BROUGHT


def _leaves(pool: Pool, idea: Idea, failure: Failure, *, moves: bool) -> bool:
    """Return whether a trial hardly brings on a fault, or shows of it what it shows of sound kit."""
    if moves:
        stirred = pool.sights.stirred(idea, failure)
        return stirred is not None and stirred <= HARDLY
    seen = pool.sights.seen(idea, failure)
    return seen is not None and seen == pool.sights.seen(idea, None)


def _side_of(pool: Pool, failure: Failure) -> str | None:
    return pool.sights.setup.items[failure.item].side


def _item_of(pool: Pool, idea: Idea) -> str | None:
    """Return the item that a trial moves or looks at."""
    setup = pool.sights.setup
    if idea.trial.moves:
        return next((setup.movements[move] for move in idea.trial.moves if move in setup.movements), None)
    if idea.trial.gauge:
        return f"{idea.trial.gauge[0]} weapon"
    return next((setup.parts[part].item for part in idea.trial.examine if part in setup.parts), None)


def _suspect(pool: Pool, failure: Failure) -> str:
    return fault_words(failure) if pool.table.seen == "lamps" else failure.id


def _lamp_words(seen: str) -> str:
    return _capital(seen.replace(" and ", " + "))


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
