"""What a case has shown in; out, the trials that exchange an item and do again what showed the fault.

A good item that is left lying proves nothing: what provoked the fault has to be done again with it. So these trials are in no
catalogue; they are made for each case, from the latest of its trials whose lamps sound kit would hardly show.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from foible.kit import WHOLE_SIDE, other
from foible.trials import Idea, described, written

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from foible.kit import Item, Setup
    from foible.trials import Trial

__all__ = ["exchange_named", "exchanges", "repeated"]

BORROWED_S = 20.0
"""What it takes longer to borrow the other fencer's item than to take a spare [s]; judgement, no source."""
LENT = ("weapon", "cord", "mask cord", "reel", "floor cable")
"""Kinds of item that the other side can lend."""
PROVOKED_S = 8.0
"""What a provocation costs that is in no catalogue [s]; judgement, no source."""


def exchanges(setup: Setup, shown: Trial, items: Iterable[str], says: Mapping[Trial, Idea], tools: Sequence[str]) -> list[Idea]:
    """Return for each of `items` the trial that does again what `shown` did, with a good one in its place.

    `says` are the catalogue's trials by what is done in them. Without a spare the good one is borrowed from the other side.
    """
    again = shown.with_own_kit()
    known = says.get(again)
    spare = "spare" in tools
    suspect = [setup.items[name] for name in items if name not in shown.swapped]
    can = [item for item in suspect if item.exchange_s is not None and (spare or _lent(setup, item))]
    made = [_exchange(setup, item, again, known, spare=spare) for item in can]
    before, mended = shown.swapped, shown.mended
    return [replace(idea, trial=replace(idea.trial, swapped=(*before, *idea.trial.swapped), mended=mended)) for idea in made]


def exchange_named(setup: Setup, say: str, by_sentence: Mapping[str, Idea]) -> Idea | None:
    """Return the exchange that a sentence of `exchanges` asks for; None where it is none, or of what no catalogue has.

    So an answer to it needs no reasoning. `by_sentence`: the catalogue's trials.
    """
    for item in setup.items.values():
        for spare in (True, False):
            start = f"exchange the {item.id} {_whose(item, spare=spare)} and "
            known = by_sentence.get(say.removeprefix(start)) if say.startswith(start) else None
            if known is not None and item.exchange_s is not None and (spare or _lent(setup, item)):
                return _exchange(setup, item, known.trial, known, spare=spare)
    return None


def _exchange(setup: Setup, item: Item, again: Trial, known: Idea | None, *, spare: bool) -> Idea:
    """Return the trial that does something again with a good item in; `known`: the same in the catalogue, where it is there."""
    seconds = (item.exchange_s or 0.0) + (known.seconds if known else PROVOKED_S) + (0.0 if spare else BORROWED_S)
    trial = replace(again, swapped=(item.id,))
    return Idea(
        say=f"exchange the {item.id} {_whose(item, spare=spare)} and {known.say if known else _phrase(again)}",
        seconds=seconds,
        needs=("spare",) if spare else (),
        once=item.side is None,
        side=item.side,
        item=None,
        trial=trial,
        table=written(setup, trial),
    )


def _whose(item: Item, *, spare: bool) -> str:
    return "for a known-good one" if spare or item.side is None else f"for the {other(item.side)} fencer's"


def repeated(setup: Setup, shown: Trial, says: Mapping[Trial, Idea]) -> Idea:
    """Return a trial that was made as one to make again, with the fencer's own kit."""
    again = shown.with_own_kit()
    known = says.get(again)
    if known is not None:
        return known
    say = _phrase(again)
    return Idea(say, PROVOKED_S, (), once=False, side=None, item=None, trial=again, table=written(setup, again))


def _lent(setup: Setup, item: Item) -> bool:
    return item.side is not None and item.kind in LENT and f"{other(item.side)} {item.kind}" in setup.items


def _phrase(trial: Trial) -> str:
    """Return what is done again, as a request."""
    fencing = [side for verb, _, side in (move.partition(" ") for move in trial.moves) if verb == WHOLE_SIDE]
    if fencing and not trial.arrangement.press:
        return f"have the {fencing[0]} fencer fence on"
    return f"do the same again: {described(trial)}"
