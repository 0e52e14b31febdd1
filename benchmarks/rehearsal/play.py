"""Scenarios played against the program's own advice."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from zlib import crc32

import numpy as np

from benchmarks.rehearsal.judge import Ended, Judged, Made, ending_worth, judged
from benchmarks.rehearsal.oracle import Oracle
from benchmarks.rehearsal.patterns import Step, named
from foible.kit import load_setup
from foible.situation import Mode, Situation, tools_named
from foible.trials import CaseTable, TrialTable, complaint_named, load_complaints, made_case, put_right, read_trial

if TYPE_CHECKING:
    from benchmarks.rehearsal.scenario import Scenario
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis
    from foible.trials import Case, Idea, Trial

__all__ = ["Run", "play"]

MOST_TRIALS = 20
"""A run ends here at the latest."""
SUSPECTS = 3
EVEN = 0.5


@dataclass(frozen=True)
class Run:
    """One seed of a scenario: what was done, what came of it, how it ended, and what a master says."""

    answers: tuple[str, ...]
    ended: Ended | None
    judged: Judged
    shares: tuple[tuple[str, float], ...]
    """What could be named at the end, the most probable first."""
    in_the_end: float
    """What the ending is worth that the case comes to where each act is proved, and a proof that fails leads on."""


@dataclass
class _Played:
    """A case that is being played: its file, the steps made, and what they showed."""

    case: Case
    run: list[Made] = field(default_factory=list)
    answers: list[str] = field(default_factory=list)


def play(scenario: Scenario, seed: int, reasoning: Reasoning) -> Run:
    """Play a scenario once: up to the first ending, which is judged, and on from there where its proof fails."""
    rng = np.random.default_rng([seed, crc32(scenario.id.encode())])
    situation = Situation(Mode(scenario.place), scenario.item, tools_named(scenario.tools))
    case = made_case(CaseTable.model_validate(_opening(scenario)), name=scenario.id)
    oracle = Oracle(scenario, case.setup, rng)
    placed = reasoning.at(situation)
    played = _Played(case)
    diagnosis, ended = _until_ended(scenario, placed, played, oracle)
    told = judged(scenario, played.run, ended)
    answers = tuple(played.answers)
    shares = tuple((aim.name, share) for aim, share in diagnosis.decision.aims[:SUSPECTS])
    first = last = ended
    while ended is not None and _fails(scenario, placed, diagnosis, played, oracle):
        diagnosis, ended = _until_ended(scenario, placed, played, oracle)
        last = ended or last
    return Run(answers, first, told, shares, ending_worth(scenario, last))


def _until_ended(scenario: Scenario, placed: Reasoning, played: _Played, oracle: Oracle) -> tuple[Diagnosis, Ended | None]:
    """Follow the advice until it names an ending, or has nothing more to offer."""
    while True:
        diagnosis = placed.diagnose(played.case)
        ended = ending(placed, diagnosis)
        if ended is not None or not diagnosis.advice or len(played.run) >= MOST_TRIALS:
            return diagnosis, ended
        _make(scenario, played, diagnosis.advice[0].idea, oracle)


def _fails(scenario: Scenario, placed: Reasoning, diagnosis: Diagnosis, played: _Played, oracle: Oracle) -> bool:
    """Carry an ending out and return whether its proof fails."""
    acts = diagnosis.ending.acts
    items = played.case.setup.items
    exchanged = [act.item for act in acts if act.item and not act.repair and items[act.item].exchange_s is not None]
    mended = [part for act in acts if act.repair for part in sorted(act.parts)]
    if not exchanged and not mended:
        return False
    before = played.case.tables[-1] if played.case.tables else None
    played.case = made_case(_with(played.case, put_right(before, exchanged, mended)), name=scenario.id)
    told = placed.diagnose(played.case)
    last = len(played.run) + MOST_TRIALS
    while told.advice and told.advice[0].proves and len(played.run) < last:
        _make(scenario, played, told.advice[0].idea, oracle)
        told = placed.diagnose(played.case)
    return not told.decision.proved


def _opening(scenario: Scenario) -> dict[str, object]:
    """Return the case that a scenario begins with; a complaint of the program's own begins as the program would begin it."""
    trials: list[Any] = [TrialTable.model_validate(trial) for trial in scenario.start]
    if scenario.complaint_is_foibles and trials:
        known = load_complaints(load_setup(scenario.weapon), scenario.side)
        told = complaint_named(known, scenario.complaint).table
        if told.model_copy(update={"hearsay": 0.0, "sure": False, "times": 1}) == trials[0]:
            trials[0] = told
    return {"weapon": scenario.weapon, "complaint": scenario.complaint, "trial": trials}


def _make(scenario: Scenario, played: _Played, idea: Idea, oracle: Oracle) -> None:
    """Make an offered trial: what was exchanged or mended before stays so."""
    case, table = played.case, idea.table
    last = case.trials[-1] if case.trials else None
    if last is not None:
        table = table.model_copy(
            update={
                "swapped": tuple(dict.fromkeys((*last.swapped, *table.swapped))),
                "mended": tuple(dict.fromkeys((*last.mended, *table.mended))),
            }
        )
    asked, _ = read_trial(case.setup, table, answered=False)
    answer = oracle.answer(Step(asked, last))
    told = TrialTable.model_validate({**table.model_dump(), **answer})
    played.case = made_case(_with(case, told), name=scenario.id)
    made = played.case.trials[-1]
    guilty = bool(set(made.found) - {"fine", "passes"}) and _of_guilty(scenario, asked)
    played.run.append(Made(Step(made, last), oracle.shown, guilty, idea.seconds, idea.say))
    played.answers.append(", ".join(str(value) for value in answer.values()))


def _of_guilty(scenario: Scenario, trial: Trial) -> bool:
    parts = [truth.part or truth.stand_in_part or "" for truth in scenario.truth]
    looked = trial.examine or ((trial.gauge[0],) if trial.gauge else ())
    return any(named(name, part) for name in looked for part in parts)


def _with(case: Case, trial: TrialTable) -> CaseTable:
    return CaseTable(weapon=case.setup.weapon, complaint=case.complaint, trial=(*case.tables, trial))


def ending(placed: Reasoning, diagnosis: Diagnosis) -> Ended | None:
    """Return the ending that the program names, or None while it would rather make another trial."""
    act = placed.verdict(diagnosis, SUSPECTS).act
    if act is None or (diagnosis.advice and not act.now):
        return None
    likely = tuple(suspect.part for suspect in diagnosis.finding.suspects if suspect.probability > EVEN)
    return Ended(tuple((deed.kind.value, deed.repair or deed.item, deed.parts) for deed in act.ending.acts), likely)
