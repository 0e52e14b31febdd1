"""A trial in; out, what it can show and how likely that is under each hypothesis: the tables that advice works with.

Outcomes are coarse: each lamp steady or changing, a meter's reading in steps, a finding among those that the part can show.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations, pairwise, product
from typing import TYPE_CHECKING

import numpy as np

from foible.apparatus import Gap
from foible.circuit import Port
from foible.diagnosis.belief.lamp_reports import MISREAD, coarse_outcomes, lamp_states, steady_or_changing
from foible.diagnosis.belief.likelihood import UNREMARKED
from foible.diagnosis.belief.reading_likelihood import METER_MISREAD
from foible.diagnosis.shown.presence import NOTHING_LEARNT, STRANGE, UNKNOWN_AT
from foible.diagnosis.shown.readings import BOX_GAP
from foible.kit import SIDES
from foible.trials import NOTHING, Group, Reading, Seen, groups_of, looks_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    from foible.diagnosis.belief.likelihood import TrialLikelihood
    from foible.diagnosis.shown.hypotheses import Hypotheses
    from foible.diagnosis.shown.lamps import Dictionary
    from foible.diagnosis.shown.presence import Learnt
    from foible.kit import Setup
    from foible.trials import Idea, Look, Trial

    Floats = NDArray[np.float64]
    Looks = tuple[Floats, Floats, Floats]
    Outcomes = Callable[[int], "Outcome"]
    """The outcome of each number; made when asked for, as most are too rare to be listed."""

__all__ = ["LEAST", "READING_STEPS", "Experiment", "Outcome", "OutcomeTables", "Tables"]

Tables = tuple["NDArray[np.float32]", "NDArray[np.float32]", "NDArray[np.float32]"]
"""The chances of outcomes, shape (outcomes, hypotheses), where a failure is there in both looks, in one, in none."""

LEAST = 2e-3
"""Outcomes less probable than this under every hypothesis are taken together as “something else”."""
READING_STEPS = (0.0, 0.5, 1.0, 2.0, 3.5, 6.0, 12.0, 30.0, 80.0, 200.0, 500.0, 2e3, 2e4, 1e6, np.inf)
"""Steps of a meter's reading that are told apart in choosing trials [Ω]."""
CHANGING = "changing"
REMARK = "a plug was not home"
PISTE = "piste"
"""The metal piste among the items; a place does without one until somebody speaks of it."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing that a trial can show."""

    words: str
    trial: Trial | None
    """The trial with this outcome as its report; None where no report says exactly that, as with “something else”."""


@dataclass(frozen=True)
class Experiment:
    """A trial with its outcomes and their probability under some hypotheses, shape (outcomes, hypotheses)."""

    idea: Idea
    outcomes: tuple[Outcome, ...]
    chance: NDArray[np.float32]
    """Before anything is known of the readiness of failures to show."""
    looks: Tables | None = None
    """The chance where a failure is there in both looks, in one, in none; None where that makes no difference."""

    def taken(self, places: NDArray[np.intp]) -> Experiment:
        """Return the experiment under some of its hypotheses."""
        chance = np.ascontiguousarray(self.chance[:, places])
        if self.looks is None:
            return replace(self, chance=chance)
        both, one, none = (np.ascontiguousarray(table[:, places]) for table in self.looks)
        return replace(self, chance=chance, looks=(both, one, none))


class OutcomeTables:
    """Works out tables of outcomes."""

    def __init__(self, setup: Setup, hypotheses: Hypotheses, dictionary: Dictionary, trial_likelihood: TrialLikelihood) -> None:
        self.setup = setup
        self.hypotheses = hypotheses
        self.dictionary = dictionary
        self._trial_likelihood = trial_likelihood

    def experiment(self, idea: Idea, chosen: NDArray[np.intp], prior: Floats) -> Experiment:
        """Return what an idea can show under the hypotheses at positions `chosen`.

        `prior`: the probability that each of them stands for, shape (len(chosen),); the unknown cause follows them.
        """
        trial = idea.trial
        looks: tuple[Floats, Floats, Floats] | None = None
        if trial.gauge or trial.examine:
            outcome, chance = self._of_findings(trial, chosen)
        else:
            if trial.meter:
                outcome, looks = self._of_meter(trial, trial.meter, chosen)
            elif trial.box:
                outcome, looks = self._of_box(trial, trial.box, chosen)
            else:
                outcome, looks = self._of_lamps(trial, chosen)
            chance = sum((r * look for r, look in zip(self.regimes(trial, chosen), looks, strict=True)), np.zeros((1, 1)))
        known = prior * (chosen != UNKNOWN_AT)
        some = chance @ known / max(float(known.sum()), 1e-300)
        unknown = ((1 - STRANGE) * some + STRANGE / len(chance))[:, None]
        chance[:, chosen == UNKNOWN_AT] = unknown
        if looks is not None:
            looks = (looks[0].copy(), looks[1].copy(), looks[2].copy())
            for look in looks:
                look[:, chosen == UNKNOWN_AT] = unknown
        loose = (self.drawn_seats(trial) & ~self.gone(trial))[chosen]
        if loose.any() and self._of_strip(trial):
            outcome = _or_remarked(outcome, len(chance))
            chance = _with_remark(chance, loose)
            if looks is not None:
                looks = (_with_remark(looks[0], loose), _with_remark(looks[1], loose), _with_remark(looks[2], loose))
        return _gathered(idea, outcome, chance.astype(np.float32), looks)

    def showing(self, made: Sequence[Trial]) -> Trial | None:
        """Return the latest trial whose lamps sound kit would hardly show, one that was watched before one that was told."""
        ranked = sorted(enumerate(made), key=lambda entry: (not entry[1].hearsay, entry[0]), reverse=True)
        return next((trial for _, trial in ranked if self._trial_likelihood.strange(trial)), None)

    def gone(self, trial: Trial) -> NDArray[np.bool_]:
        """Return which hypotheses a trial is made without, their part put right or their item exchanged, shape (N,)."""
        return self._trial_likelihood.presence.gone(trial)

    @staticmethod
    def _of_strip(trial: Trial) -> bool:
        """Return whether a trial watches the lamps of the apparatus."""
        return not (trial.examine or trial.gauge or trial.meter or trial.box)

    def drawn_seats(self, trial: Trial) -> NDArray[np.bool_]:
        """Return which hypotheses are about how a plug sits that a trial draws, shape (N,)."""
        return self._trial_likelihood.presence.drawn_seats(trial)

    def about_piste(self, trial: Trial) -> bool:
        """Return whether a trial needs a metal piste."""
        on = trial.arrangement
        named = (on.on, *(place for pair in on.touching for place in pair), *trial.examine, *(trial.meter or ()))
        return any(name is not None and f" {PISTE} " in f" {name} " for name in named)

    def about(self, made: Sequence[Trial]) -> str | None:
        """Return the side whose hits or lamps a case is about, by its latest trial that sound kit hardly shows, else as told."""
        shown = self.showing(made) or next((trial for trial in made if trial.hearsay), None)
        if shown is None or shown.seen is None:
            return None
        lit = {side for (side, _), looks in shown.seen.looks.items() if (NOTHING, NOTHING) not in looks}
        return shown.arrangement.press or (lit.pop() if len(lit) == 1 else None)

    def looks(self, trial: Trial, chosen: NDArray[np.intp]) -> Tables:
        """Return the chances of what a trial's lamps can show where a failure is there in both looks, in one, in none."""
        both, one, none = (np.ascontiguousarray(look, dtype=np.float32) for look in self._of_lamps(trial, chosen)[1])
        return both, one, none

    def regimes(self, trial: Trial, chosen: NDArray[np.intp], learnt: Learnt = NOTHING_LEARNT) -> list[Floats]:
        """Return the chance that the failures at positions `chosen` are there in both looks, in one, in none."""
        return [regime[chosen] for regime in self._trial_likelihood.presence.regimes(trial, learnt)]

    # --- lamps ----------------------------------------------------------------------------------------------------

    def _of_lamps(self, trial: Trial, chosen: NDArray[np.intp]) -> tuple[Outcomes, Looks]:
        columns = self.hypotheses.column[chosen]
        lamps = self.dictionary.lamps(trial.arrangement)
        before = self.dictionary.lamps(trial.arrangement.before_press())
        ways = lamp_states(lamps, before, self._trial_likelihood.counting(trial), self.setup.kind)
        looks = []
        for number in range(3):
            (share, shown), *others = ways
            joint = share * self._joint(shown, columns, number)
            for share, shown in others:
                joint = joint + share * self._joint(shown, columns, number)
            looks.append(np.broadcast_to(joint, (len(joint), len(chosen))))
        reports = _all_seen(groups_of(self.setup.kind), self.setup.kind.lamp_word("yellow"))
        return lambda number: _of_report(trial, reports[number]), (looks[0], looks[1], looks[2])

    def _joint(self, shown: Mapping[tuple[str, Group], Floats], columns: NDArray[np.intp], number: int) -> Floats:
        """Return the chance of every coarse report of both sides' lamps, in one of the three ways of `looks`."""
        joint = None
        for side in SIDES:
            tables = []
            for group in groups_of(self.setup.kind):
                there, absent = shown[side, group][:, columns], shown[side, group][:, :1]
                first, second = ((there, there), (there, absent), (absent, absent))[number]
                tables.append(steady_or_changing(first, second))
            seen = (tables[0][:, None] * tables[1][None]).reshape(-1, tables[0].shape[1])
            seen = (1 - MISREAD) * seen + MISREAD / len(seen)
            joint = seen if joint is None else (joint[:, None] * seen[None]).reshape(-1, max(joint.shape[1], seen.shape[1]))
        assert joint is not None  # noqa: S101 — there are sides
        return joint

    # --- tools ----------------------------------------------------------------------------------------------------

    def _of_box(self, trial: Trial, box: str, chosen: NDArray[np.intp]) -> tuple[Outcomes, Looks]:
        nodes = self.setup.items[box].box
        pairs = list(combinations(nodes, 2))
        ohms = self.dictionary.ohms(trial.arrangement, [Port.between(nodes[a], nodes[b]) for a, b in pairs])
        lit = 1.0 - Gap(*BOX_GAP).chance_open(ohms)
        looks = []
        for number in range(3):
            joint = np.ones((1, 1))
            for row in lit:
                there, absent = np.stack([1 - row, row])[:, self.hypotheses.column[chosen]], np.array([[1 - row[0]], [row[0]]])
                first, second = ((there, there), (there, absent), (absent, absent))[number]
                seen = steady_or_changing(first, second)
                joint = (joint[:, None] * seen[None]).reshape(-1, max(joint.shape[1], seen.shape[1]))
            joint = (1 - MISREAD) * joint + MISREAD / len(joint)
            looks.append(np.broadcast_to(joint, (len(joint), len(chosen))))
        manners: tuple[frozenset[Look], ...] = (frozenset({(0, 0)}), frozenset({(1, 1)}), frozenset({(0, 1)}))
        outcomes = []
        for states in product(range(3), repeat=len(pairs)):
            names = ["-".join(pair) for pair in pairs]
            words = [f"{name} {('', 'lit', 'flickers')[state]}" for name, state in zip(names, states, strict=True) if state]
            lights = tuple((name, manners[state]) for name, state in zip(names, states, strict=True))
            outcomes.append(Outcome(", ".join(words) or "no lamp", replace(trial, lights=lights)))
        return outcomes.__getitem__, (looks[0], looks[1], looks[2])

    def _of_meter(self, trial: Trial, places: tuple[str, str], chosen: NDArray[np.intp]) -> tuple[Outcomes, Looks]:
        steps = pairwise(READING_STEPS)
        readings = [Reading(low, high, wobbles=False, text=_reading_words(low, high)) for low, high in steps]
        there, absent = self._trial_likelihood.meter.in_steps(trial, places, readings)
        there = there[:, chosen]
        there, absent = there / there.sum(axis=0), (absent / absent.sum())[:, None]
        cases = ((there, there), (there, absent), (absent, absent))
        looks = []
        for number in range(3):
            # two looks that differ only by the meter's spread fall into neighbouring steps: they count as steady
            first, second = cases[number]
            if number == 1:
                same = np.minimum(first, second).sum(axis=0)
                joint = np.concatenate([(first + second) / 2 * same, 1 - same[None]])
            else:
                joint = np.concatenate([first, np.zeros((1, first.shape[1]))])
            joint = (1 - METER_MISREAD) * joint + METER_MISREAD / len(joint)
            looks.append(np.broadcast_to(joint, (len(joint), len(chosen))))
        words = [*(reading.text for reading in readings), "the reading wobbles"]
        trials = [*(replace(trial, reads=reading) for reading in readings), None]
        outcomes = [Outcome(said, made) for said, made in zip(words, trials, strict=True)]
        return outcomes.__getitem__, (looks[0], looks[1], looks[2])

    def _of_findings(self, trial: Trial, chosen: NDArray[np.intp]) -> tuple[Outcomes, Floats]:
        if trial.gauge:
            found = [("passes",), ("fails",)]
        else:
            looked = set(trial.examine)
            signs = [
                sign for failure in self.hypotheses.failures if {failure.part, failure.item} & looked for sign in failure.signs
            ]
            found = [("fine",), *((sign,) for sign in dict.fromkeys(signs))]
        trials = [replace(trial, found=entry) for entry in found]
        rows = []
        for made in trials:
            total = np.ones(len(self.hypotheses))
            for chance, _, _ in self._trial_likelihood.findings(made):
                total = total * chance
            rows.append(total[chosen])
        chance = np.stack(rows)
        outcomes = [Outcome(entry[0], made) for entry, made in zip(found, trials, strict=True)]
        if trial.examine:  # what is found may be nothing that these parts show
            chance = np.concatenate([chance, np.maximum(1 - chance.sum(axis=0, keepdims=True), 0.0)])
            outcomes.append(Outcome("something else", None))
        return outcomes.__getitem__, chance / chance.sum(axis=0)


def _of_report(trial: Trial, seen: Seen) -> Outcome:
    return Outcome(", ".join(seen.text), replace(trial, seen=seen))


def _or_remarked(outcome: Outcomes, count: int) -> Outcomes:
    """Return `count` outcomes and, as the last, that a plug was found not to sit home as it was drawn."""
    return lambda number: Outcome(REMARK, None) if number == count else outcome(number)


def _with_remark(table: Floats, loose: NDArray[np.bool_]) -> Floats:
    """Return the chances of lamps with that of the remark as the last, shape (outcomes + 1, hypotheses)."""
    shown = np.where(loose, UNREMARKED * table, table)
    return np.concatenate([shown, np.where(loose, 1 - UNREMARKED, 0.0)[None]])


def _gathered(idea: Idea, outcome: Outcomes, chance: NDArray[np.float32], looks: Looks | None) -> Experiment:
    """Return an experiment with its rarest outcomes merged."""
    tables = [chance] if looks is None else [chance, *(look.astype(np.float32) for look in looks)]
    top = chance.max(axis=1)
    likely = np.flatnonzero(top >= LEAST + 1.01 * MISREAD / len(top) * (len(top) > len(READING_STEPS) + 1))
    rest = np.setdiff1d(np.arange(len(top)), likely)
    if len(rest) < 2:  # noqa: PLR2004 — nothing to take together
        outcomes = tuple(map(outcome, range(len(top))))
    else:
        tables = [np.concatenate([table[likely], table[rest].sum(axis=0, keepdims=True)]) for table in tables]
        outcomes = (*map(outcome, likely.tolist()), Outcome("something else", None))
    return Experiment(idea, outcomes, tables[0], None if looks is None else (tables[1], tables[2], tables[3]))


@cache
def _all_seen(groups: tuple[Group, Group], earth: str) -> tuple[Seen, ...]:
    """Return every coarse report of the lamps of both sides, in the order of `OutcomeTables._of_lamps`.

    `groups`: those of a side; `earth`: the word for the lamp of an earthed line.
    """
    reports = []
    for states in product(*(range(len(coarse_outcomes(group))) for group in groups), repeat=len(SIDES)):
        looks: dict[tuple[str, Group], frozenset[Look]] = {}
        words = []
        for side, pair in zip(SIDES, (states[:2], states[2:]), strict=True):
            for group, state in zip(groups, pair, strict=True):
                name = coarse_outcomes(group)[state]
                looks[side, group] = (
                    frozenset(look for look in looks_of(group) if look[0] != look[1])
                    if name == CHANGING
                    else frozenset({(state, state)})
                )
                if state:
                    words += [f"{side} {_lamp_word(group, lamp, earth)}" for lamp in name.split(" and ")]
        reports.append(Seen(looks, tuple(words) or ("nothing",)))
    return tuple(reports)


def _lamp_word(group: Group, state: str, earth: str) -> str:
    if group is Group.YELLOW:
        return f"{earth} flickers" if state == CHANGING else earth
    return {"lit before": "white all along", CHANGING: "lamp changing"}.get(state, state)


def _reading_words(low: float, high: float) -> str:
    if np.isinf(high):
        return "open"
    return f"under {high:g} Ω" if low == 0 else f"{low:g} to {high:g} Ω"
