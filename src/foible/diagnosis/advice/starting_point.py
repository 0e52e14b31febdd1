"""What a fencer complains of in; out, all that can be tried after it and what it shows: the ground of a field card.

A fault that comes and goes is as ready under a handling as it happens to be: nobody knows beforehand, and every look teaches.
The adviser sharpens a mean after each trial. A card has to weigh up thousands of runs of trials, so it draws instead: every kind
of hypothesis stands several times, each time with a readiness of its own under every handling (`Presence.drawn`). Given the
readiness, looks are independent, and what a run of trials teaches of it is in the weights. So doing the same thing again tells
what it tells the program: less each time.

Doing it again is also a trial of its own: *until it shows, three times at most*. With q the chance that one go shows what sound
kit shows, the chance of another outcome o is P(o) (1 + q + q²), and that of the quiet one q³.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from foible.diagnosis.advice.exchange import exchanges, repeated
from foible.diagnosis.advice.lookahead import Chooser
from foible.diagnosis.advice.prices import ASKING_S
from foible.diagnosis.shown.hypotheses import SOUND
from foible.facts import METAL_PISTE, ORANGE_LAMPS
from foible.situation import Mode

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.advice.adviser import Adviser
    from foible.diagnosis.advice.aims import Aim
    from foible.diagnosis.advice.model import DecisionModel
    from foible.diagnosis.advice.outcomes import Experiment
    from foible.diagnosis.shown.presence import Learnt, Presence
    from foible.kit import Setup
    from foible.situation import Situation
    from foible.trials import Idea, Trial

    Floats = NDArray[np.float64]

__all__ = ["GOES", "OTHERS", "Opening", "StartingPoint", "Try", "starting_point"]

WRONG_S = 200.0
"""What a wrong name costs at the piste on paper [s], where every further trial takes lines as well; judgement, no source."""
GOES = 3
"""How often something is done at most to see whether it shows; judgement, no source."""
DRAWS = 6
"""How many times each kind of hypothesis stands, each with a readiness of its own."""
SEED = 2026
"""Cards for the same kit are the same."""
WHOLE = 0.995
"""The likeliest kinds of hypothesis that together are this probable after the complaint are considered; judgement, no source."""
RARE = 0.01
"""Outcomes of a trial less probable than this after the complaint are taken together; a card has no room for them."""
LEAST_BITS = 0.01
"""Trials that tell less than this straight after the complaint are left out [bit]; judgement, no source."""
MOST_TRIES = 70
"""The most trials that are considered after one complaint: the ones that tell most for their cost."""
OTHERS = "something else"
"""What outcomes taken together are called."""
NOTHING_LIT = "nothing"
"""What is reported where no lamp is lit."""


@dataclass(frozen=True, slots=True)
class Try:
    """A trial that a card can ask for."""

    idea: Idea
    outcomes: tuple[str, ...]
    """What it can show, in words."""
    seconds: float
    """What it takes [s]."""
    cost_s: float
    """What it costs in choosing: the same, with asking and explaining, but without an act that has to be made anyway [s]."""
    acts: int
    """The aim that it acts on, by number; −1 for none."""
    goes: int = 1
    """How often it is done at most, until it shows something else than sound kit would."""
    quiet: str = ""
    """What sound kit shows, in words, where it is done more than once."""


@dataclass(frozen=True)
class Opening:
    """What a complaint leaves open, before anything is tried."""

    say: str
    """What the fencer says; empty where nobody has complained."""
    shown: Trial | None
    """The trial that the complaint tells of."""
    weight: Floats
    """Weight of each of the adviser's kinds of hypothesis, shape (K,)."""
    learnt: Learnt
    """What the complaint teaches of readiness."""
    broken: Mapping[str, Floats]
    """By weapon, the share of each kind in which it is broken and out of use, shape (K,)."""


@dataclass(frozen=True)
class StartingPoint:
    """The states that things may be in after a complaint, drawn with their readiness, and what can be tried."""

    say: str
    """What the fencer says; empty where nobody has complained."""
    shown: Trial | None
    """The trial that the complaint tells of."""
    tries: tuple[Try, ...]
    model: DecisionModel
    """Its tables are those of the trials, and its states those that things may be in."""
    aims: tuple[Aim, ...]
    start: Floats
    """Weight of each state, shape (P,), adding up to 1."""
    sound: int
    """A state in which nothing is wrong."""
    broken: Mapping[str, Floats]
    """By weapon, the share of each state in which it is broken and out of use, shape (P,)."""


def starting_point(adviser: Adviser, presence: Presence, situation: Situation, opening: Opening) -> StartingPoint:
    """Return what can be tried after a complaint in a situation, and what it shows."""
    (outcome_tables, chosen, _), sound = adviser.ground, adviser.starts_of(SOUND)
    likely = _likely(opening.weight, sound)
    found = list(_tried(outcome_tables.setup, adviser, situation, opening.shown))
    ways = presence.drawn_readiness(opening.learnt, [each.idea.trial for each, _ in found], DRAWS, np.random.default_rng(SEED))
    start = np.repeat(opening.weight[likely] / opening.weight[likely].sum() / DRAWS, DRAWS)
    tries, tables = [], []
    for each, experiment in found:
        if experiment.looks is None:
            table = np.repeat(experiment.chance[:, likely], DRAWS, axis=1).astype(np.float64)
        else:
            looks = [look[:, likely] for look in experiment.looks]
            regimes = [outcome_tables.regimes(each.idea.trial, chosen, way) for way in ways]
            table = np.stack([_shows(regime, looks, likely) for regime in regimes], axis=2).reshape(len(looks[0]), -1)
        quiet = int(experiment.chance[:, sound].argmax())
        once = replace(each, quiet=each.outcomes[quiet] if each.goes > 1 else "")
        made, told = _without_rare(once, _several(table, quiet, each.goes), start)
        tries.append(made)
        tables.append(told.astype(np.float32))
    states = np.repeat(likely, DRAWS)
    model = replace(
        adviser.model,
        wrong=WRONG_S if adviser.mode is Mode.PISTE else adviser.model.wrong,
        tables=tuple(tables),
        cost=np.array([each.cost_s for each in tries]),
        group=adviser.model.group[states],
        mends=np.array([each.acts for each in tries], dtype=np.intp),
    )
    worth = _worth(model, start)
    return StartingPoint(
        say=opening.say,
        shown=opening.shown,
        tries=tuple(tries[i] for i in worth),
        model=model.only(worth, range(len(states))),
        aims=adviser.aims,
        start=start,
        sound=int(np.searchsorted(likely, sound)) * DRAWS,
        broken={item: np.repeat(share[likely], DRAWS) for item, share in opening.broken.items()},
    )


def _worth(model: DecisionModel, start: Floats) -> list[int]:
    """Return the trials that tell most for their cost straight after the complaint, rising."""
    bits = Chooser(model).bits(start, range(len(model.tables)))
    order = np.argsort(-bits / model.cost, kind="stable")
    return sorted(i for i in order[:MOST_TRIES].tolist() if bits[i] >= LEAST_BITS)


def _shows(regimes: Sequence[Floats], looks: Sequence[NDArray[np.float32]], likely: NDArray[np.intp]) -> Floats:
    """Return what a trial shows where failures are as ready as some regimes say, shape (outcomes, likely)."""
    return np.asarray(np.sum([regime[likely] * look for regime, look in zip(regimes, looks, strict=True)], axis=0))


def _likely(of_kinds: Floats, sound: int) -> NDArray[np.intp]:
    """Return the likeliest kinds of hypothesis and “nothing wrong”, rising."""
    order = np.argsort(-of_kinds, kind="stable")
    count = int(np.searchsorted(np.cumsum(of_kinds[order]), WHOLE * of_kinds.sum())) + 1
    return np.unique([*order[:count].tolist(), sound]).astype(np.intp)


def _without_rare(each: Try, table: Floats, start: Floats) -> tuple[Try, Floats]:
    """Return a trial with its rare outcomes taken together, and its table."""
    chance = table @ start
    often = [o for o, words in enumerate(each.outcomes) if chance[o] >= RARE and words != OTHERS]
    seldom = [o for o in range(len(each.outcomes)) if o not in often]
    made = replace(each, outcomes=(*(each.outcomes[o] for o in often), *([OTHERS] if seldom else [])))
    told = [table[often], *([table[seldom].sum(axis=0, keepdims=True)] if seldom else [])]
    return made, np.concatenate(told)


def _several(table: Floats, quiet: int, goes: int) -> Floats:
    """Return what a trial shows that is done until it shows something else than outcome `quiet`, `goes` times at most."""
    still = table[quiet]
    told = table * sum(still**go for go in range(goes))
    told[quiet] = still**goes
    return np.asarray(told)


# --- what can be tried ------------------------------------------------------------------------------------------------


def _tried(setup: Setup, adviser: Adviser, situation: Situation, shown: Trial | None) -> Iterator[tuple[Try, Experiment]]:
    """Yield what can be tried with the tools at hand, with its outcomes."""
    outcome_tables, chosen, says = adviser.ground
    model = adviser.model
    piste = METAL_PISTE in situation.facts or (shown is not None and outcome_tables.about_piste(shown))
    plain = _without_orange(setup, situation)
    again = repeated(setup, shown, says) if shown is not None else None
    for number, idea in enumerate(adviser.ideas):
        trial = idea.trial
        barred = trial.swapped if shown is not None else ()
        if barred or not set(idea.needs) <= set(situation.tools) or (not piste and outcome_tables.about_piste(trial)):
            continue
        acts = -1 if model.mends is None else int(model.mends[number])
        found = plain(adviser.experiments[number])
        cost = float(model.cost[number])
        yield Try(idea, _words(found), idea.seconds, cost, acts), found
        if idea.trial.moves and idea.item is None:
            yield _repeatedly(Try(idea, _words(found), idea.seconds, cost, acts), idea.seconds), found
    if shown is None or again is None:
        return
    if again.trial not in says or not again.trial.moves:
        found = plain(outcome_tables.experiment(again, chosen, adviser.prior))
        once = Try(again, _words(found), again.seconds, again.seconds + ASKING_S, -1)
        if again.trial not in says:
            yield once, found
        yield _repeatedly(once, again.seconds), found
    items = [aim.item for aim in adviser.aims if aim.name == aim.item and aim.item in setup.items]
    for idea in exchanges(setup, shown, items, says, situation.tools):
        acts, cost = adviser.exchanging(idea)
        found = plain(outcome_tables.experiment(idea, chosen, adviser.prior))
        once = Try(idea, _words(found), idea.seconds, cost, acts)
        yield once, found
        yield _repeatedly(once, again.seconds), found


def _repeatedly(once: Try, go_s: float) -> Try:
    """Return a trial done until it shows, priced as if every further go were made, which takes `go_s` [s] each."""
    further = (GOES - 1) * go_s
    return replace(once, goes=GOES, seconds=once.seconds + further, cost_s=once.cost_s + further)


def _words(experiment: Experiment) -> tuple[str, ...]:
    return tuple(outcome.words for outcome in experiment.outcomes)


def _without_orange(setup: Setup, situation: Situation) -> Callable[[Experiment], Experiment]:
    """Return what drops an optional lamp from what trials can show, where nobody has said that the apparatus has it."""
    lamp = next((lamp for lamp in setup.kind.lamps if lamp.optional), None)
    if lamp is None or ORANGE_LAMPS in situation.facts:
        return lambda experiment: experiment
    word = lamp.word
    return lambda experiment: _merged(experiment, lambda words: _left_out(words, word))


def _left_out(words: str, lamp: str) -> str:
    return ", ".join(said for said in words.split(", ") if f" {lamp}" not in said) or NOTHING_LIT


def _merged(experiment: Experiment, by: Callable[[str], str]) -> Experiment:
    """Return an experiment whose outcomes are named anew, and are one where they are named alike."""
    if experiment.looks is None:
        return experiment
    rows: dict[str, list[int]] = {}
    for number, outcome in enumerate(experiment.outcomes):
        rows.setdefault(by(outcome.words), []).append(number)
    chance, *looks = (
        np.stack([table[numbers].sum(axis=0) for numbers in rows.values()]) for table in (experiment.chance, *experiment.looks)
    )
    outcomes = tuple(replace(experiment.outcomes[numbers[0]], words=words) for words, numbers in rows.items())
    return replace(experiment, outcomes=outcomes, chance=chance, looks=(looks[0], looks[1], looks[2]))
