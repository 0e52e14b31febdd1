"""A practice strip for every surface: hidden faults by their address, what can be done at an item, and what one has seen."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.diagnosis import Activity, StagedFault
from foible.errors import NotFoundError
from foible.kit import SIDES, node_item
from foible.practice import Attempt, Deed, Step, hidden, level_named, read_steps, staged

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from foible.kit import Failure, Setup
    from foible.practice import Hidden
    from foible.services.reasoning import Reasoning
    from foible.trials import Idea, TrialTable

__all__ = [
    "MADE",
    "Doable",
    "attempt_at",
    "doable_at",
    "hidden_at",
    "items_of",
    "lamps_lit",
    "made_address",
    "made_faults",
    "repairs_of",
]

MADE = "made"
"""What stands in an address in place of a level where somebody made the fault by hand."""
MOST_MADE = 2
"""Faults that can be made by hand at once."""
FIRST = 6
"""Things to do that are shown first: as many as somebody new looks through; judgement, no source."""
HIGHEST = 2**31
"""Numbers of hidden faults are below this."""
_TIMES, _PLUS, _ROUND = 2_654_435_761, 0x5F01B1E, 2**32
"""What hides a fault from whoever reads an address: an affine map of whole numbers below 2³², with its inverse."""
_BACK = pow(_TIMES, -1, _ROUND)


@dataclass(frozen=True)
class Doable:
    """What can be done at one item, in groups, each step with its words."""

    item: str
    groups: tuple[tuple[str, tuple[tuple[Step, str], ...]], ...]

    @property
    def count(self) -> int:
        """How many things can be done."""
        return sum(len(steps) for _, steps in self.groups)

    @property
    def first(self) -> tuple[tuple[Step, str], ...]:
        """The few that are shown first: the first of each group in turn, then the second."""
        turns = (steps[place] for place in range(FIRST) for _, steps in self.groups if place < len(steps))
        return tuple(each for each, _ in zip(turns, range(FIRST), strict=False))


def hidden_at(reasoning: Reasoning, weapon: str, level: str, number: str) -> Hidden:
    """Return the hidden fault at an address. Raises NotFoundError."""
    setup = reasoning.setup(weapon)
    if level == MADE:
        return _made(setup, number)
    if not number.isascii() or not number.isdigit() or int(number) >= HIGHEST:
        raise NotFoundError(what="number", name=number, known=[])
    return hidden(setup, level_named(level), int(number))


def made_address(setup: Setup, faults: Sequence[StagedFault], seed: int) -> str:
    """Return what stands in an address for faults made by hand; it does not say what they are."""
    return "-".join([str(seed), *(f"{(_number(setup, fault) * _TIMES + _PLUS) % _ROUND:08x}" for fault in faults)])


def attempt_at(reasoning: Reasoning, found: Hidden, did: str) -> Attempt:
    """Return an attempt by the word with its steps. Raises InputError."""
    attempt = Attempt(found, reasoning.ideas(found.setup), read_steps(did))
    _ = attempt.done  # so that a word of another kit is refused here
    return attempt


def doable_at(attempt: Attempt, item: str) -> Doable:
    """Return what can be done at an item: trials by kind, an exchange, repairs."""
    setup = attempt.setup
    groups: dict[str, list[tuple[Step, str]]] = {}
    for place in _by_item(setup, tuple(attempt.ideas)).get(item, ()):
        idea = attempt.ideas[place]
        groups.setdefault(_kind(idea), []).append((Step(Deed.TRIAL, place), idea.say))
    acts = []
    if setup.items[item].exchange_s is not None and item not in attempt.swapped:
        acts.append((Step(Deed.EXCHANGE, list(setup.items).index(item)), f"exchange the {item} for a known-good one"))
    acts += [
        (Step(Deed.MEND, number), job.partition(": ")[2])
        for number, job in enumerate(attempt.jobs)
        if job.partition(": ")[0] == item and job not in attempt.mended
    ]
    if acts:
        groups["put right"] = acts
    order = ("hit and touch", "move it", "unplug and bridge", "look and feel", "measure", "put right")
    return Doable(item, tuple((name, tuple(groups[name])) for name in order if name in groups))


def lamps_lit(setup: Setup, table: TrialTable | None) -> Mapping[str, Mapping[str, str]]:
    """Return by side and kind of lamp how it was in a trial: “lit”, “flickers”, “sometimes” or “dark”; empty without lamps."""
    if table is None or not table.saw:
        return {}
    shown = {side: dict.fromkeys((lamp.kind for lamp in setup.kind.lamps), "dark") for side in SIDES}
    for phrase in table.saw:
        side, word, *manner = phrase.split(" ")
        for lamp in setup.kind.lamps:
            if side in shown and word == lamp.word:
                shown[side][lamp.kind] = "lit" if not manner or manner == ["all", "along"] else manner[0]
    return shown


def repairs_of(attempt: Attempt, part: str) -> tuple[str, ...]:
    """Return what is done to put a part right, whatever is wrong with it."""
    failures = attempt.setup.failures.values()
    return tuple(dict.fromkeys(each.repair for each in failures if each.part == part and each.repair))


def _kind(idea: Idea) -> str:
    trial = idea.trial
    if trial.meter or trial.box or trial.gauge:
        return "measure"
    if trial.examine:
        return "look and feel"
    if trial.moves:
        return "move it"
    return "unplug and bridge" if trial.arrangement.unplugged or trial.arrangement.bridged else "hit and touch"


@lru_cache(maxsize=8)
def _by_item(setup: Setup, ideas: tuple[Idea, ...]) -> dict[str, list[int]]:
    """Return the places of trials by the items that take part in them."""
    found: dict[str, list[int]] = {}
    for place, idea in enumerate(ideas):
        if idea.trial.swapped or idea.repair:
            continue  # an exchange is a step of its own
        for item in dict.fromkeys(items_of(setup, idea)):
            found.setdefault(item, []).append(place)
    return found


def items_of(setup: Setup, idea: Idea) -> Iterable[str]:
    """Yield the items that a trial touches, presses, moves, unplugs, looks at or measures."""
    trial, arrangement = idea.trial, idea.trial.arrangement
    if idea.item:
        yield idea.item
        return
    names = list(trial.examine)
    for plug in (*arrangement.unplugged, *(name for name, _, _ in arrangement.bridged)):
        ends = (setup.network.branches[setup.network.index(branch)] for branch in setup.connections[plug].pins.values())
        yield from dict.fromkeys(node_item(node) for branch in ends for node in (branch.a, branch.b))
    names += [place for pair in arrangement.touching for place in pair] + ([arrangement.on] if arrangement.on else [])
    names += [f"{arrangement.press} weapon"] if arrangement.press else []
    names += [setup.movements[move] for move in trial.moves if move in setup.movements]
    for name in names:
        fitting = [item for item in setup.items if name == item or name.startswith(f"{item} ")]
        if fitting:
            yield max(fitting, key=len)
    if not names and not arrangement.unplugged and not arrangement.bridged:
        yield "apparatus"


def _number(setup: Setup, fault: StagedFault) -> int:
    place = list(setup.failures).index(fault.failure.id)
    ladder = [ohms for ohms, _ in fault.failure.ladder]
    step = ladder.index(fault.ohms) if fault.ohms in ladder else 0
    return (place * 32 + step) * 4 + int(fault.activity)


def made_faults(setup: Setup, number: str) -> tuple[list[StagedFault], int]:
    """Return the faults that an address of faults made by hand stands for, with its seed. Raises NotFoundError."""
    seed, *codes = number.split("-")
    failures: list[Failure] = list(setup.failures.values())
    faults = []
    try:
        for code in codes[:MOST_MADE]:
            rest, activity = divmod((int(code, 16) - _PLUS) * _BACK % _ROUND, 4)
            place, step = divmod(rest, 32)
            failure = failures[place]
            ladder = failure.ladder or ((float("nan"), 1.0),)
            faults.append(StagedFault(failure, ladder[step][0], Activity(activity)))
        return faults, int(seed) % HIGHEST
    except (ValueError, IndexError) as error:
        raise NotFoundError(what="hidden fault", name=number, known=[]) from error


def _made(setup: Setup, number: str) -> Hidden:
    faults, seed = made_faults(setup, number)
    return staged(setup, faults, seed)
