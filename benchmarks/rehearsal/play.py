"""Scenarios played against the program's own advice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from zlib import crc32

import numpy as np

from benchmarks.rehearsal.judge import Ended, Judged, Made, judged
from benchmarks.rehearsal.oracle import Oracle
from benchmarks.rehearsal.patterns import Step, named
from foible.kit import load_setup
from foible.situation import Mode, Situation, tools_named
from foible.trials import CaseTable, TrialTable, complaint_named, load_complaints, made_case, read_trial

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


def play(scenario: Scenario, seed: int, reasoning: Reasoning) -> Run:
    """Play a scenario once."""
    rng = np.random.default_rng([seed, crc32(scenario.id.encode())])
    mode = Mode(scenario.place)
    situation = Situation(mode, scenario.item, tools_named(scenario.tools))
    table = CaseTable.model_validate(_opening(scenario))
    case = made_case(table, name=scenario.id)
    oracle = Oracle(scenario, case.setup, rng)
    placed = reasoning.at(situation)
    run: list[Made] = []
    answers = []
    ended = None
    while True:
        diagnosis = placed.diagnose(case)
        ended = ending(placed, diagnosis)
        if ended is not None or not diagnosis.advice or len(run) == MOST_TRIALS:
            break
        idea = diagnosis.advice[0].idea
        case, made, answer = _make(scenario, case, idea, oracle, case.trials[-1] if case.trials else None)
        run.append(made)
        answers.append(answer)
    shares = tuple((aim.name, share) for aim, share in diagnosis.decision.aims[:SUSPECTS])
    return Run(tuple(answers), ended, judged(scenario, run, ended), shares)


def _opening(scenario: Scenario) -> dict[str, object]:
    """Return the case that a scenario begins with; a complaint of the program's own begins as the program would begin it."""
    trials: list[Any] = [TrialTable.model_validate(trial) for trial in scenario.start]
    if scenario.complaint_is_foibles and trials:
        known = load_complaints(load_setup(scenario.weapon), scenario.side)
        told = complaint_named(known, scenario.complaint).table
        if told.model_copy(update={"hearsay": 0.0, "sure": False}) == trials[0]:
            trials[0] = told
    return {"weapon": scenario.weapon, "complaint": scenario.complaint, "trial": trials}


def _make(scenario: Scenario, case: Case, idea: Idea, oracle: Oracle, last: Trial | None) -> tuple[Case, Made, str]:
    """Make an offered trial: what was exchanged or mended before stays so."""
    table = idea.table
    if last is not None:
        table = table.model_copy(
            update={
                "swapped": tuple(dict.fromkeys((*last.swapped, *table.swapped))),
                "mended": tuple(dict.fromkeys((*last.mended, *table.mended))),
            }
        )
    asked, _ = read_trial(case.setup, table, answered=False)
    step = Step(asked, last)
    answer = oracle.answer(step)
    told = TrialTable.model_validate({**table.model_dump(), **answer})
    after = made_case(_with(case, told), name=scenario.id)
    found = set(after.trials[-1].found) - {"fine", "passes"}
    guilty = bool(found) and _of_guilty(scenario, asked)
    made = Made(Step(after.trials[-1], last), oracle.shown, guilty, idea.seconds, idea.say)
    return after, made, ", ".join(str(value) for value in answer.values())


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
